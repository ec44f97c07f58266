"""The lowest point of a convex function whose coordinates have a least value each.

Newton's method with projection: coordinates that lie at their least and would go further down are
held, the others take Newton's step, cut off at their least (D. P. Bertsekas, *SIAM J. Control and
Optimization* 20 (1982) 221-246). A dozen findings or some hundreds: the equations are small.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec import Struct

from kb.faults.fitting.leave_out import Array

MOST_STEPS = 60
FLAT = 1e-5
"""the slope in a free coordinate at which it is the lowest point"""
LEAST_SIZE = 1e-6
"""of a step, as a share of Newton's"""
SLOW = 0.2
"""the second derivatives are worked out anew where a step left more of the slope than this"""
ENOUGH = 1e-4
"""the share of what the slope promises that a step has to bring"""


class Lowest(Struct, frozen=True):
    """The point, what it costs, and the second derivatives there."""

    x: Array
    cost: float
    curvature: Array


def lowest(
    cost: Callable[[Array], tuple[float, Array]],
    curvature: Callable[[Array], Array],
    start: Array,
    least: Array,
) -> Lowest:
    """Find it from `start`. `cost` gives the value and its slope, `curvature` the second
    derivatives, which are positive definite.
    """
    x = np.maximum(start, least)
    now, slope = cost(x)
    curved = curvature(x)
    steepest = np.inf
    for _ in range(MOST_STEPS):
        free = (x > least) | (slope < 0)
        steep = float(np.abs(slope[free]).max(initial=0.0))
        if steep <= FLAT:
            break
        if steep > SLOW * steepest:
            curved = curvature(x)
        steepest = steep
        step = np.zeros_like(x)
        step[free] = -np.linalg.solve(curved[np.ix_(free, free)], slope[free])
        size = 1.0
        while True:
            new = np.maximum(x + size * step, least)
            after, its_slope = cost(new)
            if after <= now + ENOUGH * float(slope @ (new - x)) or size < LEAST_SIZE:
                break
            size /= 2
        if after >= now:
            break  # no lower point can be told from this one
        x, now, slope = new, after, its_slope
    return Lowest(x, now, curvature(x))
