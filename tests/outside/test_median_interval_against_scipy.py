"""The interval of a median from order statistics beside SciPy's.

Source: `scipy.stats.quantile_test(...).confidence_interval`, which counts order statistics by the
binomial distribution; at the median and two-sided it takes the same pair. And the depths of the
table for the sign interval: n = 6 gives the outermost values, n = 10 the second from each end,
n = 20 the sixth (W. J. Conover, Practical Nonparametric Statistics, from memory).
"""

import numpy as np
import pytest
from scipy.stats import quantile_test

from kb.faults.ages import median_interval


@pytest.mark.parametrize("size", [6, 7, 8, 9, 10, 15, 20, 33, 50])
@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_it_takes_the_same_pair_of_values(size: int, level: float) -> None:
    values = np.random.default_rng(size).normal(size=size)
    theirs = quantile_test(values, q=0, p=0.5).confidence_interval(level)
    ours = median_interval(values.tolist(), level)
    if ours is None:
        assert np.isnan(theirs.low) or np.isnan(theirs.high)
    else:
        assert ours == pytest.approx((theirs.low, theirs.high))


@pytest.mark.parametrize(("size", "depth"), [(6, 1), (10, 2), (20, 6)])
def test_the_depth_is_that_of_the_table(size: int, depth: int) -> None:
    assert median_interval([float(i) for i in range(1, size + 1)]) == (depth, size + 1 - depth)
