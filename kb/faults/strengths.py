"""How much the ranking leans on few counts: every number that is a choice, in one place."""

from __future__ import annotations

from collections.abc import Mapping

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
    """The strengths of the ranking; `docs/methods.md` gives the reason for each default.

    `symptom`, `check` and `word` count like that many faults at the base rate. `weights` holds
    the exponent on the likelihood of each finding: of a symptom (`symptom:<key>`), of its absence
    (`absent:<key>`), of a check whatever its outcome (`check:<key>`), and of the words (`text`).
    `weight` is that of every finding that is not in there. Findings of one fault go together, so
    each counts less than one independent finding would. `spreads` and `spread` say in the same
    way how well each weight is known, as a standard deviation.

    It can be kept as JSON: `msgspec.json.encode(strengths)` and
    `msgspec.json.decode(kept, type=Strengths)` give back the same numbers.
    """

    family: BackOff = BackOff(theta=6.0, discount=0.7)
    line: BackOff = BackOff(theta=4.0, discount=0.8)
    kind: BackOff = BackOff(theta=8.0, discount=0.8)
    book: BackOff = BackOff(theta=20.0, discount=0.5)
    symptom: float = 1.0
    check: float = 2.0
    word: float = 32.0
    weight: float = 0.6
    spread: float = 0.4
    weights: Mapping[str, float] = {}
    spreads: Mapping[str, float] = {}

    def __post_init__(self) -> None:
        """Raise ValueError where a rate could become 0 or evidence turn round."""
        if min(self.symptom, self.check, self.word, self.weight) <= 0:
            raise ValueError(f"shrinkage and weight must be above 0: {self}")
        if min([self.spread, *self.weights.values(), *self.spreads.values()]) < 0:
            raise ValueError(f"no weight and no spread may be below 0: {self}")

    def weight_of(self, finding: str) -> float:
        """The weight of a finding by its key; of a check the outcome does not matter."""
        return self.weights.get(finding.partition("=")[0], self.weight)

    def spread_of(self, finding: str) -> float:
        """How well that weight is known, as a standard deviation."""
        return self.spreads.get(finding.partition("=")[0], self.spread)


FIXED = Strengths()
"""the strengths of a book that is too small to have any fitted to it"""
