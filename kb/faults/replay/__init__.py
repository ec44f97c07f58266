"""How well the ranking would have done on the book's own past; needs NumPy, and `run` SciPy."""
