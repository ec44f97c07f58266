"""What a check can be expected to tell about the cause, and what each outcome would change.

The causes that never had a check made share one rate, so the sums run only over the others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import repeat
from math import log
from operator import mul

from msgspec import Struct

from kb.faults.experience import Experience
from kb.faults.likelihood import Rates, Tempered
from kb.faults.ranking import Ranking

LEADING = 3
"""how many causes are named after an outcome"""


class Beliefs(Struct, frozen=True):
    """The probabilities, likeliest first, with p log p of each and the entropy, in nats."""

    causes: Mapping[str, float]
    unseen: float
    plogp: Mapping[str, float]
    known_plogp: float
    entropy: float

    @classmethod
    def of(cls, ranking: Ranking) -> Beliefs:
        """The beliefs of a ranking."""
        causes = {c.cause: c.probability for c in ranking.causes}
        plogp = {cause: _xlogx(p) for cause, p in causes.items()}
        known_plogp = sum(plogp.values())
        return cls(
            causes=causes,
            unseen=ranking.unseen,
            plogp=plogp,
            known_plogp=known_plogp,
            entropy=-known_plogp - _xlogx(ranking.unseen),
        )


class After(Struct, frozen=True):
    """One outcome of a check: how likely it is, and how it would change the beliefs.

    `entropy` is that of the beliefs after it, in nats. A cause has `p * likelihood / total` then,
    the unseen `p * of_unseen / total`; likelihoods are taken with their weight.
    """

    chance: float
    entropy: float
    total: float
    rates: Tempered

    def rate(self, cause: str) -> float:
        """How often it comes out so under a known cause."""
        return self.rates.rates.get(cause, self.rates.usual)

    def likelihood(self, cause: str) -> float:
        """The likelihood under a known cause, with its weight."""
        return self.rates.likelihoods.get(cause, self.rates.typical)


class Expectation(Struct, frozen=True):
    """How a check may come out, and the expected bits.

    `known` is the share of the known causes, by their probability, in whose past faults the check
    was made: for the others nobody has seen yet how it comes out.
    """

    after: Mapping[str, After]
    bits: float
    known: float = 1.0

    @property
    def outcomes(self) -> dict[str, float]:
        """The probability of each outcome."""
        return {outcome: after.chance for outcome, after in self.after.items()}

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
    rows = experience.check_rates(check)
    if not rows:
        return Expectation(after={}, bits=0.0)
    weight = experience.strengths.weight_of(f"check:{check}")
    made = next(iter(rows.values())).made
    p = list(map(beliefs.causes.get, made, repeat(0.0)))
    plogp = list(map(beliefs.plogp.get, made, repeat(0.0)))
    after = {
        outcome: _after(beliefs, row, row.tempered(weight, experience.strengths.weight), p, plogp)
        for outcome, row in rows.items()
    }
    left = sum(a.chance * a.entropy for a in after.values())
    share = sum(p)
    known = min(share / (1.0 - beliefs.unseen), 1.0) if share > 0.0 else 0.0
    bits = max(beliefs.entropy - left, 0.0) / log(2.0)
    return Expectation(after=after, bits=bits, known=known)


def leading_after(beliefs: Beliefs, after: After) -> dict[str, float]:
    """The causes that would lead after an outcome, with their probabilities."""
    best: list[tuple[float, str]] = []
    for cause, p in beliefs.causes.items():
        # The likeliest come first: from here on none can lead any more.
        if len(best) == LEADING and -p * after.rates.most > best[-1][0]:
            break
        best = sorted([*best, (-p * after.likelihood(cause), cause)])[:LEADING]
    return {cause: -share / after.total for share, cause in best}


def unseen_after(beliefs: Beliefs, after: After) -> float:
    """The probability of the unseen after an outcome."""
    return beliefs.unseen * after.rates.of_unseen / after.total


def _after(
    beliefs: Beliefs,
    row: Rates,
    tempered: Tempered,
    made: Sequence[float],
    plogp: Sequence[float],
) -> After:
    """`made` are the probabilities of the causes that had the check made, `plogp` p log p."""
    likelihoods = tempered.likelihoods.values()
    chance = sum(map(mul, made, tempered.rates.values()))
    total = sum(map(mul, made, likelihoods))
    spread = sum(map(mul, plogp, likelihoods)) + sum(map(mul, made, tempered.logs))
    for p, part, r, likelihood in (
        (max(1.0 - beliefs.unseen - sum(made), 0.0), beliefs.known_plogp - sum(plogp),
         row.typical, tempered.typical),
        (beliefs.unseen, _xlogx(beliefs.unseen), tempered.pooled, tempered.of_unseen),
    ):  # fmt: skip
        chance += p * r
        total += p * likelihood
        spread += likelihood * part + p * _xlogx(likelihood)
    return After(chance=chance, entropy=log(total) - spread / total, total=total, rates=tempered)


def _xlogx(x: float) -> float:
    return x * log(x) if x > 0 else 0.0
