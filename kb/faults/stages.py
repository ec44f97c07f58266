"""When the strengths are fitted anew: a rule on what the book holds and on nothing else.

The strengths of a book are fitted to its first faults, in the order they were finished: as many
as the last stage below its size. A note that was just closed comes after those, so it costs no
fit until the book has reached the next stage; and whoever makes the index from nothing, today or
next year, fits to the same faults.
"""

from __future__ import annotations

FIRST_STAGE = 20
"""a book with fewer faults of known cause keeps the fixed strengths"""
GROWTH = 1.25
"""each stage is so many times the one before"""


LARGE = 1000
"""pages of a book with more faults go by those of its last stage, so that they hold for a while"""


def stage(faults: int) -> int:
    """How many of the first faults the strengths are fitted to; 0 means the fixed ones."""
    if faults < FIRST_STAGE:
        return 0
    reached, following = FIRST_STAGE, FIRST_STAGE
    while following <= faults:
        reached = following
        following = int(reached * GROWTH)
    return reached
