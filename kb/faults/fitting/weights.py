"""Fit a weight for every finding, shrunk to a common one that is itself shrunk.

    sum over faults of leave-one-out log loss
        + sum over findings of (w_j - common)^2 / (2 * s^2) + (common - 0.5)^2 / (2 * 0.5^2)

with all weights at least 0. The loss is convex in the weights, so there is one answer. How far
apart the weights of a book are let, s, is that of a few values that makes its faults likeliest
when the weights are averaged over (Laplace's approximation; MacKay, Neural Computation 4 (1992)
415-447): a small book can't tell them apart and leans on the common one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from kb.faults.fitting.leave_out import Array
from kb.faults.fitting.loss import curvature, loss_and_slope
from kb.faults.fitting.lowest import lowest
from kb.faults.fitting.questions import Questions

SPREADS = (0.1, 0.2, 0.4)
"""how far a finding's weight may be let from the common one, as a standard deviation"""
COMMON, COMMON_SPREAD = 0.5, 0.5
"""where the common weight is looked for, and how far from there it is let"""
LEAST_COMMON = 0.01
"""a common weight of 0 would be no exponent at all"""


class Weights(Struct, frozen=True):
    """The common weight and that of each finding, findings in the order of the questions.

    `apart` is how far they were let from the common one, `spreads` how well each is known, both as
    standard deviations. `evidence` is the log of how likely the faults are (up to a constant).
    """

    common: float
    each: Array
    apart: float
    spreads: Array
    evidence: float


def fit_weights(questions: Questions, spreads: Sequence[float] = SPREADS) -> Weights:
    """The weights that fit these questions best, let apart as far as the evidence is for it."""
    best: Weights | None = None
    start = np.full(len(questions.findings) + 1, COMMON)
    for spread in spreads:
        found = _fitted(questions, spread, start)
        start = np.append(found.common, found.each)
        if best is None or found.evidence > best.evidence:
            best = found
    assert best is not None, "there is a spread"
    return best


def _fitted(questions: Questions, spread: float, start: Array) -> Weights:
    number = len(questions.findings)
    pulls = np.zeros((number + 1, number + 1))
    pulls[1:, 1:] = np.eye(number) / spread**2
    pulls[0, 1:] = pulls[1:, 0] = -1.0 / spread**2
    pulls[0, 0] = number / spread**2 + 1.0 / COMMON_SPREAD**2
    middle = np.full(number + 1, COMMON)

    def cost(x: Array) -> tuple[float, Array]:
        loss, slope = loss_and_slope(questions, x[1:])
        pull = pulls @ (x - middle)
        return loss + float(pull @ (x - middle)) / 2, pull + np.append(0.0, slope)

    def curved(x: Array) -> Array:
        found = pulls.copy()
        found[1:, 1:] += curvature(questions, x[1:])
        return found

    least = np.append(LEAST_COMMON, np.zeros(number))
    found = lowest(cost, curved, start, least)
    own = np.maximum(found.curvature.diagonal()[1:], 1.0 / spread**2)
    evidence = -found.cost - float(np.log(own * spread**2).sum()) / 2
    return Weights(float(found.x[0]), found.x[1:], spread, 1.0 / np.sqrt(own), evidence)
