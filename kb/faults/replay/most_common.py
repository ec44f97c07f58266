"""The first baseline: what has been most common in this family."""

from __future__ import annotations

from kb.faults.replay.past import Array, Past

NAME = "most-common-in-family"
BACKING = 1.0
"""how many faults of the whole book stand beside the family's own"""


def shares(past: Past, family: str) -> Array:
    """The share of each cause among the faults of the family so far; they sum to 1.

    (n_fc + n_c/N) / (n_f + 1), n_fc and n_f the faults of the family, n_c and N those of the book:
    one fault is spread as the causes are in the whole book, so that none that is known gets 0.
    """
    book: Array = past.totals / past.totals.sum()
    own = past.of_family(family)
    if own is None:
        return book
    found: Array = (own + BACKING * book) / (own.sum() + BACKING)
    return found
