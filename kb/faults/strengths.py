"""How much the ranking leans on few counts: every number that is a choice, in one place."""

from __future__ import annotations

from msgspec import Struct


class BackOff(Struct, frozen=True):
    """How one level of the prior leans on the level above it.

    `theta` counts like that many faults drawn from above; `discount` is taken off every cause
    known at this level and handed upwards as well, so that a long tail keeps room for new causes.
    """

    theta: float
    discount: float

    def __post_init__(self) -> None:
        """Raise ValueError where the prior would not be a distribution."""
        if self.theta <= 0 or not 0 <= self.discount < 1:
            raise ValueError(f"theta must be above 0 and discount in [0, 1): {self}")


class Strengths(Struct, frozen=True):
    """The fixed strengths of the ranking; `docs/methods.md` gives the reason for each default.

    `symptom`, `check` and `word` count like that many faults at the base rate. `weight` is the
    exponent on every likelihood: findings of one fault go together, so each counts less than one
    independent finding would.
    """

    family: BackOff = BackOff(theta=6.0, discount=0.7)
    line: BackOff = BackOff(theta=4.0, discount=0.8)
    kind: BackOff = BackOff(theta=8.0, discount=0.8)
    book: BackOff = BackOff(theta=20.0, discount=0.5)
    symptom: float = 1.0
    check: float = 2.0
    word: float = 32.0
    weight: float = 0.6

    def __post_init__(self) -> None:
        """Raise ValueError where a rate could become 0 or evidence turn round."""
        if min(self.symptom, self.check, self.word, self.weight) <= 0:
            raise ValueError(f"shrinkage and weight must be above 0: {self}")


FIXED = Strengths()
"""the strengths of every book, as long as none are fitted to it"""
