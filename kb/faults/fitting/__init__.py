"""Strengths and weights fitted to a book; the only place here that needs NumPy and SciPy.

Fitted when the book is indexed and kept; a question uses the kept numbers. They are a function of
the faults alone, whatever order those come in.
"""

from kb.faults.fitting.strengths import LEAST_FAULTS, MOST_ASKED, fit

__all__ = ["LEAST_FAULTS", "MOST_ASKED", "fit"]
