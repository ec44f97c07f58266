"""The version of the program: indexes made by another one are made again."""

__version__ = "0.1.0"
