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
from itertools import pairwise

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.sparse import csr_array

from kb.faults.fitting.leave_out import Array
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
    return max((_fitted(questions, spread) for spread in spreads), key=lambda w: w.evidence)


def _fitted(questions: Questions, spread: float) -> Weights:
    number = len(questions.findings)

    def cost(x: Array) -> tuple[float, Array]:
        loss, slope = loss_and_slope(questions, x[1:])
        apart = (x[1:] - x[0]) / spread**2
        off = (x[0] - COMMON) / COMMON_SPREAD**2
        pull = float((apart * (x[1:] - x[0])).sum() + off * (x[0] - COMMON)) / 2
        return loss + pull, np.concatenate([[off - apart.sum()], slope + apart])

    found = minimize(
        cost,
        np.full(number + 1, COMMON),
        jac=True,
        method="L-BFGS-B",
        bounds=[(LEAST_COMMON, None)] + [(0.0, None)] * number,
        options={"maxiter": 300, "ftol": 1e-9, "gtol": 1e-4},
    )
    curved = curvature(questions, found.x[1:])
    evidence = -float(found.fun) - float(np.log1p(curved * spread**2).sum()) / 2
    known = 1.0 / np.sqrt(curved + 1.0 / spread**2)
    return Weights(float(found.x[0]), found.x[1:], spread, known, evidence)


def loss_and_slope(questions: Questions, weights: Array) -> tuple[float, Array]:
    """The sum over the faults of their mean log loss, and how it changes with each weight."""
    scores = questions.start.copy()
    row_weight = weights[questions.finding]
    ends = np.searchsorted(questions.step, np.arange(questions.last.max(initial=0) + 2))
    loss, beliefs = 0.0, []
    for step, (first, end) in enumerate(pairwise(ends)):
        new = slice(first, end)
        scores += _weighed(row_weight[new], questions.fault[new], questions.logs[new], len(scores))
        asked = np.flatnonzero(questions.last >= step)
        now = scores[asked]
        top = now.max(axis=1, keepdims=True)
        raised = np.exp(now - top)
        total = raised.sum(axis=1, keepdims=True)
        hit = now[np.arange(len(asked)), questions.target[asked]]
        share = questions.share[asked]
        loss -= float((share * (hit - top[:, 0] - np.log(total[:, 0]))).sum())
        beliefs.append((asked, share[:, None] * raised / total, share))
    slope = np.zeros(len(weights))
    later, mass = np.zeros_like(scores), np.zeros(len(scores))
    for step in range(len(beliefs) - 1, -1, -1):
        asked, belief, share = beliefs[step]
        later[asked] += belief
        mass[asked] += share
        first, end = ends[step], ends[step + 1]
        fault = questions.fault[first:end]
        logs = questions.logs[first:end]
        expected = np.einsum("ij,ij->i", logs, later[fault])
        hit = logs[np.arange(end - first), questions.target[fault]] * mass[fault]
        slope += np.bincount(
            questions.finding[first:end], weights=expected - hit, minlength=len(weights)
        )
    return loss, slope


def curvature(questions: Questions, weights: Array) -> Array:
    """The second derivative of the loss in each weight (the variance of the log likelihood)."""
    found = np.zeros(len(weights))
    row_weight = weights[questions.finding]
    scores = questions.start.copy()
    for step in range(int(questions.last.max(initial=0)) + 1):
        new = questions.step == step
        scores += _weighed(row_weight[new], questions.fault[new], questions.logs[new], len(scores))
        raised = np.exp(scores - scores.max(axis=1, keepdims=True))
        belief = raised / raised.sum(axis=1, keepdims=True)
        rows = np.flatnonzero((questions.step <= step) & (questions.last[questions.fault] >= step))
        fault, logs = questions.fault[rows], questions.logs[rows]
        mean = np.einsum("ij,ij->i", logs, belief[fault])
        square = np.einsum("ij,ij,ij->i", logs, logs, belief[fault])
        found += np.bincount(
            questions.finding[rows],
            weights=questions.share[fault] * (square - mean**2),
            minlength=len(weights),
        )
    return np.maximum(found, 0.0)


def _weighed(weights: Array, fault: NDArray[np.int64], logs: Array, faults: int) -> Array:
    """The rows times their weights, added up by fault."""
    rows = np.arange(len(weights))
    found: Array = csr_array((weights, (fault, rows)), shape=(faults, len(weights))) @ logs
    return found
