"""The score of a reading beside the NIST/SEMATECH e-Handbook, and its parts beside SciPy's.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17 (after Iglewicz and Hoaglin 1993):
M = 0.6745 (x - median) / MAD, potential outliers above 3.5 in absolute value. The uranium data of
1.3.5.17.1 (Tietjen and Moore 1972), of which the handbook's Grubbs test names 245.57, are from
memory. `scipy.stats.median_abs_deviation` and `scipy.stats.theilslopes` (Sen 1968, equation 2.6).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import median_abs_deviation, norm, theilslopes

from kb.faults.robust import FACTOR, FEWEST, LIMIT, deviation, limit, median, modified_z, slope

URANIUM = (199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57)


def test_the_score_is_the_handbooks_formula_and_names_the_same_value():
    scores = [modified_z(x, median(URANIUM), deviation(URANIUM)) for x in URANIUM]
    by_hand = 0.6745 * (245.57 - 201.37) / 0.995  # median 201.37, MAD 0.995
    assert scores[-1] == pytest.approx(by_hand)
    assert [x for x, m in zip(URANIUM, scores, strict=True) if abs(m) > 3.5] == [245.57]


def test_the_factor_is_the_deviation_of_a_normal_distribution():
    assert pytest.approx(norm.ppf(0.75), abs=5e-5) == FACTOR


@pytest.mark.parametrize("size", [1, 2, 5, 6, 31, 100])
def test_the_deviation_is_scipys(size: int):
    values = np.random.default_rng(size).normal(300, 5, size).tolist()
    assert deviation(values) == pytest.approx(median_abs_deviation(values))
    assert median(values) == pytest.approx(np.median(values))


@pytest.mark.parametrize("size", [5, 8, 20, 150])
@pytest.mark.parametrize("decimals", [0, 3])
def test_the_slope_and_its_interval_are_scipys(size: int, decimals: int):
    """With values rounded to whole volts there are ties on both axes."""
    rng = np.random.default_rng(size)
    x = rng.uniform(221, 243, size).round(decimals)
    y = (1.4 * x + rng.normal(0, 3, size)).round(decimals)
    theirs = theilslopes(y, x, 0.95)
    ours = slope(x.tolist(), y.tolist())
    assert ours == pytest.approx((theirs.slope, theirs.low_slope, theirs.high_slope))


@pytest.mark.parametrize("count", [5, 6, 7, 8, 10, 13, 16, 19, 20, 40])
def test_one_new_healthy_reading_in_a_hundred_passes_the_limit(count: int):
    """Drawn afresh, normally spread; from twenty readings on the limit is the source's."""
    rng = np.random.default_rng(count)
    draws = 120_000
    old, new = rng.standard_normal((draws, count)), rng.standard_normal(draws)
    centres = np.median(old, axis=1)
    spreads = np.median(np.abs(old - centres[:, None]), axis=1)
    passed = float(np.mean(0.6745 * np.abs(new - centres) / spreads > limit(count)))
    assert passed < 0.0115
    if count < 20:
        assert passed > 0.0085
    else:
        assert limit(count) == LIMIT


def test_fewer_than_five_have_no_limit():
    with pytest.raises(ValueError, match="too few"):
        limit(FEWEST - 1)
