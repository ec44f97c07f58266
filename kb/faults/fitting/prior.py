"""Fit how much each level of the prior leans on the level above it.

Every fault is asked as if it had not come in: the probability that the rest of the book gives its
cause before any evidence; for a cause that no other fault had, the probability of `unseen`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray
from scipy.optimize import minimize

from kb.faults.prior import Lineage, Node, Tree, way_down
from kb.faults.strengths import FIXED, BackOff, Strengths
from kb.values import FaultRecord

Array = NDArray[np.float64]

LEVELS = ("book", "kind", "line", "family")
LEAST_THETA, MOST_THETA, MOST_DISCOUNT = 0.05, 500.0, 0.95
SPREAD_THETA = 1.5
"""how far log theta is let from that of the fixed strengths, as a standard deviation"""
SPREAD_DISCOUNT = 0.5
"""how far a discount is let from 0, as a standard deviation"""


class _Left(Struct, frozen=True):
    """The tables that each distinct fault sees once it is left out.

    Rows are distinct faults, `times` how often they came; columns are the nodes on the way down,
    from the book; a row with a shorter way has `level` -1 at its end.
    """

    times: Array
    level: NDArray[np.int64]
    count: Array
    """faults (or children) of the cause that are left at the node"""
    size: Array
    """all that are left at the node"""
    whole: Array
    """causes left at the node that count at least 1"""
    halves: Array
    """what the causes left that count less than 1 amount to"""
    known: NDArray[np.bool_]
    """whether the rest of the book knows the cause"""


def fit_prior(records: Sequence[FaultRecord], tree: Tree, lineage: Lineage) -> Strengths:
    """The fixed strengths with theta and d of every level fitted to these faults.

    Minimises the sum over the faults of -log P(cause | family), each left out, plus
    (log theta - log theta_fixed)^2 / (2 * 1.5^2) and d^2 / (2 * 0.5^2) per level.
    """
    left = _leave_out(records, tree, lineage)
    used = [k for k in range(len(LEVELS)) if np.any(left.level == k)]
    fixed = [getattr(FIXED, LEVELS[k]) for k in used]
    start = np.array([x for b in fixed for x in (np.log(b.theta), 0.5)])
    centre = np.array([np.log(b.theta) for b in fixed])

    def cost(x: Array) -> float:
        theta, discount = np.ones(len(LEVELS)), np.zeros(len(LEVELS))
        theta[used], discount[used] = np.exp(x[0::2]), x[1::2]
        pull = ((x[0::2] - centre) / SPREAD_THETA) ** 2 + (x[1::2] / SPREAD_DISCOUNT) ** 2
        return _loss(left, theta, discount) + float(pull.sum()) / 2

    bounds = [(np.log(LEAST_THETA), np.log(MOST_THETA)), (0.0, MOST_DISCOUNT)] * len(used)
    found = minimize(cost, start, method="L-BFGS-B", bounds=bounds, options={"maxiter": 200}).x
    levels = {
        LEVELS[k]: BackOff(round(float(np.exp(x)), 4), round(float(d), 4))
        for k, x, d in zip(used, found[0::2], found[1::2], strict=True)
    }
    return replace(FIXED, **levels)


def _leave_out(records: Sequence[FaultRecord], tree: Tree, lineage: Lineage) -> _Left:
    kinds = Counter((r.family, r.cause, r.weight) for r in records)
    ways = {family: way_down(family, lineage) for family, _, _ in kinds}
    depth = max(len(way) for way in ways.values())
    shape = (len(kinds), depth)
    level = np.full(shape, -1, dtype=np.int64)
    count, size, whole, halves = (np.zeros(shape) for _ in range(4))
    sums = {node: _sums(tree, node) for node in tree}
    known = np.ones(len(kinds), dtype=bool)
    for row, (family, cause, weight) in enumerate(sorted(kinds)):
        less: float | None = weight
        way = ways[family]
        for at in range(len(way) - 1, -1, -1):
            node = way[at]
            level[row, at] = LEVELS.index(node[-1][0]) if node else 0
            n = tree[node][cause]
            total, ones, parts = sums[node]
            if less is not None:
                after = n - less
                total -= less
                ones += (after >= 1) - (n >= 1)
                parts += (after if after < 1 else 0.0) - (n if n < 1 else 0.0)
                less = None if after > 0 else 1.0
                n = after
            count[row, at], size[row, at] = n, total
            whole[row, at], halves[row, at] = ones, parts
        known[row] = less is None
    times = np.array([kinds[k] * k[2] for k in sorted(kinds)])
    return _Left(times, level, count, size, whole, halves, known)


def _sums(tree: Tree, node: Node) -> tuple[float, float, float]:
    counts = tree[node].values()
    return sum(counts), sum(1.0 for n in counts if n >= 1), sum(n for n in counts if n < 1)


def _loss(left: _Left, theta: Array, discount: Array) -> float:
    cause, unseen = np.zeros(len(left.times)), np.ones(len(left.times))
    for at in range(left.level.shape[1]):
        there = left.level[:, at] >= 0
        t, d = theta[left.level[:, at]], discount[left.level[:, at]]
        size = left.size[:, at] + t
        # A cause that counts half gives up no more than it has: exact for halves above d.
        given = d * left.whole[:, at] + np.minimum(d * 2.0, 1.0) * left.halves[:, at]
        passed_up = np.where(there, (t + given) / size, 1.0)
        own = np.where(there, np.maximum(left.count[:, at] - d, 0.0) / size, 0.0)
        cause, unseen = own + passed_up * cause, passed_up * unseen
    return float(-(left.times * np.log(np.where(left.known, cause, unseen))).sum())
