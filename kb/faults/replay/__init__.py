"""How well the ranking would have done on the book's own past; needs NumPy and SciPy."""

from kb.faults.replay.run import replay

__all__ = ["replay"]
