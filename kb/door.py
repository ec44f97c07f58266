"""`from benchbook import Book`: the distribution's name as an import.

Packaging places this file beside the package under the name `benchbook`.
"""

from kb import Book

__all__ = ["Book"]
