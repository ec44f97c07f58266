"""The ways to deal cases out to visits, and how late those cases lie that were seen.

Every way of dealing the cases of a family out to its visits is equally likely; a way is known by
the sum of the years of its cases. The chances of all sums are had by adding one year of visits
after the other, and those of several families together by convolution. All terms are positive, so
nothing is lost by cancelling and plain floating point is right to about 13 digits. Whole numbers,
which are exact and many times slower, stand by for what floating point cannot hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from math import comb, erfc, prod, sqrt

import numpy as np
from numpy.typing import NDArray

_LARGEST = 10**280
"""So many arrangements of a family a floating point number holds with room to spare."""

Years = Mapping[int, int]
Intake = tuple[tuple[int, int], ...]
"""Years since a family's first visits, and its visits in them."""
Tails = tuple[float, float]
"""The share of arrangements below and above what was seen, those equal to it by halves."""
Array = NDArray[np.float64]


class Visits:
    """The visits of a family, to which the cases of one cause after the other are dealt out.

    `years` is year -> visits; `most` says up to how many cases of a cause there are, so that all of
    them are counted in one go.
    """

    def __init__(self, years: Years, most: int = 1) -> None:
        found = [(year, n) for year, n in sorted(years.items()) if n]
        self.start = found[0][0] if found else 0
        self.intake: Intake = tuple((year - self.start, n) for year, n in found)
        self.total = sum(n for _, n in found)
        self._most = most
        self._shares: list[Array] = []

    def shares(self, cases: int) -> Array:
        """The share of the arrangements of so many cases that give each sum of years."""
        if cases >= len(self._shares):
            self._shares = _shares(self.intake, min(max(cases, self._most), self.total))
        return self._shares[cases]

    @cached_property
    def moments(self) -> tuple[float, float]:
        """Mean and variance of the years of the visits."""
        mean = sum(offset * n for offset, n in self.intake) / self.total
        return mean, sum(n * (offset - mean) ** 2 for offset, n in self.intake) / self.total


Dealt = Sequence[tuple[Visits, int]]
"""Of each family its visits, and how many cases are dealt out to them."""


def counted_tails(families: Dealt, observed: int) -> Tails:
    """Count all arrangements, in floating point."""
    if any(comb(v.total, min(cases, v.total // 2)) > _LARGEST for v, cases in families):
        return exact_tails(families, observed)
    together, *others = (visits.shares(cases) for visits, cases in families)
    for each in others:
        together = np.convolve(together, each)
    half = float(together[observed]) / 2
    below, above = together[:observed], together[observed + 1 :]
    return float(below.sum()) + half, float(above.sum()) + half


def _shares(intake: Intake, most: int) -> list[Array]:
    """The shares for each number of cases up to `most`.

    A row of `ways` holds, for one number of cases dealt so far, how many arrangements give each
    sum.
    """
    last = intake[-1][0]
    ways = np.zeros((most + 1, most * last + 1))
    ways[0, 0] = 1.0
    dealt = farthest = 0  # cases so far, and the year up to which they lie
    for offset, visits in intake:
        before = ways[: dealt + 1, : dealt * farthest + 1].copy()
        for here in range(1, min(visits, most) + 1):
            rest = before[: most - here + 1, : (most - here) * farthest + 1]
            into = ways[here : here + len(rest), here * offset :]
            into[:, : rest.shape[1]] += comb(visits, here) * rest
        dealt, farthest = min(dealt + visits, most), offset
    return [row[: cases * last + 1] / row.sum() for cases, row in enumerate(ways)]


def exact_tails(families: Dealt, observed: int) -> Tails:
    """Count all arrangements in whole numbers, whatever their size."""
    sums = {0: 1}
    for visits, cases in families:
        after: dict[int, int] = {}
        for more, ways in _arrangements(visits.intake, cases).items():
            for so_far, known in sums.items():
                after[so_far + more] = after.get(so_far + more, 0) + known * ways
        sums = after
    everything = prod(comb(visits.total, cases) for visits, cases in families)
    twice_below = sums.get(observed, 0) + 2 * sum(n for at, n in sums.items() if at < observed)
    return twice_below / (2 * everything), (2 * everything - twice_below) / (2 * everything)


def _arrangements(intake: Intake, cases: int) -> dict[int, int]:
    """The ways to deal the cases out to the visits, by the sum of their years."""
    ways = {(0, 0): 1}
    for offset, visits in intake:
        after: dict[tuple[int, int], int] = {}
        for (dealt, at), known in ways.items():
            for here in range(min(visits, cases - dealt) + 1):
                to = (dealt + here, at + here * offset)
                after[to] = after.get(to, 0) + known * comb(visits, here)
        ways = after
    return {at: known for (dealt, at), known in ways.items() if dealt == cases}


def normal_tails(families: Dealt, observed: int) -> Tails:
    """The same tails from the mean and variance of a sum of draws without replacement."""
    middle = spread = 0.0
    for visits, cases in families:
        mean, variance = visits.moments
        middle += cases * mean
        spread += cases * variance * (visits.total - cases) / (visits.total - 1)
    if spread == 0.0:
        return 0.5, 0.5
    z = (observed - middle) / sqrt(spread)
    return erfc(-z / sqrt(2)) / 2, erfc(z / sqrt(2)) / 2
