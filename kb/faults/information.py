"""What a check can be expected to tell about the cause, and what each outcome would change.

The causes that never had a check made share one rate, so the sums run only over the others.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import log

from msgspec import Struct

from kb.faults.experience import Experience
from kb.faults.likelihood import Rates
from kb.faults.ranking import Ranking

LEADING = 3
"""how many causes are named after an outcome"""


class Beliefs(Struct, frozen=True):
    """The probabilities as they stand, with p log p of each and the entropy of all, in nats."""

    causes: Mapping[str, float]
    unseen: float
    plogp: Mapping[str, float]
    known_plogp: float
    entropy: float

    @classmethod
    def of(cls, ranking: Ranking) -> Beliefs:
        """The beliefs of a ranking."""
        causes = {c.cause: c.probability for c in ranking.causes}
        plogp = {cause: p * log(p) if p > 0 else 0.0 for cause, p in causes.items()}
        known_plogp = sum(plogp.values())
        return cls(
            causes=causes,
            unseen=ranking.unseen,
            plogp=plogp,
            known_plogp=known_plogp,
            entropy=-known_plogp - _xlogx(ranking.unseen),
        )


class Expectation(Struct, frozen=True):
    """How a check may come out: the probability of each outcome, and the expected bits.

    `known` is the share of the known causes, by their probability, in whose past faults the check
    was made: for the others nobody has seen yet how it comes out.
    """

    outcomes: dict[str, float]
    bits: float
    known: float = 1.0

    @property
    def told(self) -> float:
        """The bits as far as the book knows how the check comes out."""
        return self.bits * self.known


def expect(experience: Experience, beliefs: Beliefs, check: str) -> Expectation:
    """What a check is expected to tell. A check nobody has made has no outcomes and 0 bits.

    An outcome has the probability that the ranking predicts. `bits` is the entropy over the
    causes and the unseen now, less the expected entropy after the check, never below 0. With
    weight 1 it is the mutual information of cause and outcome (Shannon 1948; Lindley 1956).
    """
    rates = experience.check_rates(check)
    weight = experience.strengths.weight_of(f"check:{check}")
    outcomes: dict[str, float] = {}
    left = 0.0
    for outcome, row in rates.items():
        chance, entropy = _after(beliefs, row, weight, experience.strengths.weight)
        outcomes[outcome] = chance
        left += chance * entropy
    bits = max(beliefs.entropy - left, 0.0) / log(2.0) if outcomes else 0.0
    made = next(iter(rates.values())).made if rates else {}
    share = sum(beliefs.causes.get(cause, 0.0) for cause in made)
    known = min(share / (1.0 - beliefs.unseen), 1.0) if share > 0.0 else 0.0
    return Expectation(outcomes=outcomes, bits=bits, known=known)


def leading_after(
    experience: Experience, beliefs: Beliefs, check: str
) -> dict[str, dict[str, float]]:
    """Outcome of the check -> the causes that would lead after it, with their probabilities."""
    weight = experience.strengths.weight_of(f"check:{check}")
    power = experience.strengths.weight
    after: dict[str, dict[str, float]] = {}
    for outcome, row in experience.check_rates(check).items():
        means = row.means(beliefs.causes)
        share = {
            cause: p * mean**weight
            for (cause, p), mean in zip(beliefs.causes.items(), means, strict=True)
        }
        total = sum(share.values()) + beliefs.unseen * row.of_unseen(power) ** weight
        leading = sorted(share, key=lambda cause: (-share[cause], cause))[:LEADING]
        after[outcome] = {cause: share[cause] / total for cause in leading}
    return after


def _after(beliefs: Beliefs, row: Rates, weight: float, power: float) -> tuple[float, float]:
    """The probability of an outcome, and the entropy in nats once it has come.

    `power` is the common weight: the ranking takes that power mean for the unseen.
    """
    chance = total = spread = 0.0
    known, known_plogp = 1.0 - beliefs.unseen, beliefs.known_plogp
    base, shrinkage, seen = row.shrinkage * row.typical, row.shrinkage, row.seen
    for cause, made in row.made.items():
        p = beliefs.causes.get(cause, 0.0)
        if p <= 0.0:
            continue
        known -= p
        known_plogp -= beliefs.plogp[cause]
        r = (seen.get(cause, 0.0) + base) / (made + shrinkage)
        q = p * r**weight
        chance += p * r
        total += q
        spread += q * log(q)
    for p, plogp, r, counted in (
        (max(known, 0.0), known_plogp, row.typical, row.typical),
        (beliefs.unseen, _xlogx(beliefs.unseen), row.of_unseen(1.0), row.of_unseen(power)),
    ):
        tempered = counted**weight
        chance += p * r
        total += p * tempered
        spread += tempered * (plogp + weight * log(counted) * p)
    return chance, log(total) - spread / total


def _xlogx(x: float) -> float:
    return x * log(x) if x > 0 else 0.0
