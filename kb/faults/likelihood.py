"""How often each piece of evidence goes with each cause, shrunk where cases are few.

Every rate can be had as Beta counts, so that the interval can use how much it rests on.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import log
from operator import mul

from msgspec import Struct

Pair = tuple[float, float]
"""Beta counts for and against; the rate is for / (for + against)"""


class Tempered(Struct, frozen=True):
    """Rates taken with a weight: of each cause in whose faults the evidence could be seen.

    `rates` is without it; `likelihoods` is cause -> rate to the power of the weight, `logs` the
    same times its logarithm, in the same order. `usual` and `typical` are the rate and the
    likelihood of a cause that is not in there, `pooled` and `of_unseen` those of the unseen; `most`
    is the largest likelihood of any known cause.
    """

    rates: Mapping[str, float]
    likelihoods: Mapping[str, float]
    logs: Sequence[float]
    usual: float
    typical: float
    pooled: float
    of_unseen: float
    most: float


class Rates(Struct, frozen=True):
    """The rate of one piece of evidence per cause.

    `seen` is cause -> faults with it, `made` cause -> faults in which it could have been seen.
    Each rate is shrunk by `shrinkage` faults to what `expected` says for the cause, else to
    `typical`: the rate of a known cause that is not in `made`. `pooled` is the rate over all
    faults together. `worked_out` only remembers what `tempered` has found.
    """

    seen: Mapping[str, float]
    made: Mapping[str, float]
    shrinkage: float
    typical: float
    pooled: Pair
    expected: Mapping[str, float] = {}
    worked_out: dict[tuple[float, float], Tempered] = {}

    def of(self, cause: str) -> Pair:
        """The Beta counts for a known cause."""
        seen = self.seen.get(cause, 0.0)
        base = self.shrinkage * self.expected.get(cause, self.typical)
        return (seen + base, self.made.get(cause, 0.0) - seen + self.shrinkage - base)

    def means(self, causes: Iterable[str]) -> list[float]:
        """The rate of each of these known causes."""
        seen, made, shrinkage = self.seen, self.made, self.shrinkage
        if self.expected:
            return [rate(self.of(cause)) for cause in causes]
        base = shrinkage * self.typical
        return [(seen.get(c, 0.0) + base) / (made.get(c, 0.0) + shrinkage) for c in causes]

    def of_unseen(self, power: float) -> float:
        """The rate for a cause that is not in the book: the power mean over those that are.

        A cause counts like its faults. With power 1 this is the pooled rate, but for shrinkage.
        Likelihoods are taken with an exponent below 1, which favours middling rates over rates
        that are high for some causes and low for others; a power mean with that exponent keeps
        the unseen from gaining by it with every finding.
        """
        total = mean = 0.0
        for made, r in zip(self.made.values(), self.means(self.made), strict=True):
            total += made
            mean += made * r**power
        return float((mean / total) ** (1.0 / power))

    def tempered(self, weight: float, power: float) -> Tempered:
        """The rates with a weight, for a check; that of the unseen as `of_unseen(power)` says."""
        found = self.worked_out.get((weight, power))
        if found is None:
            rates, made = self.means(self.made), self.made.values()
            powers = [r**weight for r in rates]
            common = powers if weight == power else [r**power for r in rates]
            faults = sum(made)
            typical = self.typical**weight
            found = self.worked_out[weight, power] = Tempered(
                rates=dict(zip(self.made, rates, strict=True)),
                likelihoods=dict(zip(self.made, powers, strict=True)),
                logs=list(map(mul, powers, map(log, powers))),
                usual=self.typical,
                typical=typical,
                pooled=sum(map(mul, made, rates)) / faults,
                of_unseen=(sum(map(mul, made, common)) / faults) ** (weight / power),
                most=max(typical, *powers),
            )
        return found

    def turned(self) -> Rates:
        """The rates of the opposite: the symptom looked for and not there."""
        return Rates(
            seen={cause: n - self.seen.get(cause, 0.0) for cause, n in self.made.items()},
            made=self.made,
            shrinkage=self.shrinkage,
            typical=1.0 - self.typical,
            pooled=self.pooled[::-1],
            expected={cause: 1.0 - base for cause, base in self.expected.items()},
        )


CheckRates = Mapping[str, Rates]
"""outcome of a check -> its rates; over the outcomes the rates of each cause sum to 1"""


def rate(pair: Pair) -> float:
    """The mean of the Beta counts."""
    return pair[0] / (pair[0] + pair[1])


def noted_rates(
    chain: Sequence[Mapping[str, float]], totals: Mapping[str, float], shrinkage: float
) -> Rates:
    """The rates of a symptom, or of a word of the complaint, among all faults of a cause.

    `chain` holds cause -> faults noted with it, for the symptom and each of its ancestors,
    nearest first; `totals` cause -> faults. The outermost ancestor is shrunk to its rate over the
    whole book (with half a fault added on either side). From there inwards the rate of a cause is
    shrunk to what the ancestor's rate for that cause, and the symptom's share of all the
    ancestor's faults, lead one to expect.
    """
    faults = sum(totals.values())
    above = faults + 1.0
    rates: Rates | None = None
    for seen in reversed(chain):
        noted = sum(seen.values())
        share = (noted + 0.5) / above
        expected: dict[str, float] = {}
        if rates:
            means = rates.means(totals)
            expected = {cause: share * mean for cause, mean in zip(totals, means, strict=True)}
        rates = Rates(
            seen=seen,
            made=totals,
            shrinkage=shrinkage,
            typical=share,
            pooled=(noted + 0.5, faults - noted + 0.5),
            expected=expected,
        )
        above = noted + 0.5
    assert rates is not None, "a symptom is its own first link"
    return rates


def check_rates(outcomes: Mapping[str, Mapping[str, float]], shrinkage: float) -> CheckRates:
    """The rates of each outcome of a check among the faults in which the check was made.

    `outcomes` is outcome -> cause -> faults. Each cause is shrunk, by as many faults as
    `shrinkage` says, to the median over the causes in which the check was made, not to the
    pooled rate: a check is made because its culprit is suspected already, so the pool is full of
    hits. The pool joins the median as one cause more, which keeps every rate above 0.
    """
    rows = {outcome: row for outcome, row in sorted(outcomes.items()) if sum(row.values()) > 0}
    made: dict[str, float] = {}
    for row in rows.values():
        for cause, count in row.items():
            if count > 0:
                made[cause] = made.get(cause, 0.0) + count
    total = sum(made.values())
    base = {
        outcome: len(made) * _median_rate(row, made) + sum(row.values()) / total
        for outcome, row in rows.items()
    }
    whole = sum(base.values())
    return {
        outcome: Rates(
            seen=row,
            made=made,
            shrinkage=shrinkage,
            typical=base[outcome] / whole,
            pooled=(sum(row.values()), total - sum(row.values())),
        )
        for outcome, row in rows.items()
    }


def _median_rate(row: Mapping[str, float], made: Mapping[str, float]) -> float:
    # The statistics module would cost more to load than the whole question takes to answer.
    rates = sorted(row.get(cause, 0.0) / count for cause, count in made.items())
    middle = len(rates) // 2
    return rates[middle] if len(rates) % 2 else (rates[middle - 1] + rates[middle]) / 2
