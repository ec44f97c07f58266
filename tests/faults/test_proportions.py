"""Laws of the interval for a share."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.faults.proportions import wilson


@st.composite
def shares(draw: st.DrawFn) -> tuple[int, int]:
    total = draw(st.integers(1, 5000))
    return draw(st.integers(0, total)), total


@given(shares())
def test_the_interval_contains_the_share_and_stays_between_0_and_1(counts: tuple[int, int]) -> None:
    count, total = counts
    low, high = wilson(count, total)
    assert 0.0 <= low <= count / total <= high <= 1.0
    assert low < high


@given(shares())
def test_the_interval_of_what_did_not_happen_is_the_mirror_image(counts: tuple[int, int]) -> None:
    count, total = counts
    low, high = wilson(count, total)
    assert wilson(total - count, total) == pytest.approx((1 - high, 1 - low), abs=1e-12)


@given(shares(), st.integers(2, 50))
def test_more_of_the_same_narrows_the_interval(counts: tuple[int, int], times: int) -> None:
    count, total = counts
    low, high = wilson(count, total)
    more_low, more_high = wilson(count * times, total * times)
    assert more_high - more_low < high - low


@given(shares())
def test_a_surer_interval_contains_a_less_sure_one(counts: tuple[int, int]) -> None:
    low, high = wilson(*counts, level=0.8)
    surer_low, surer_high = wilson(*counts, level=0.99)
    assert surer_low <= low
    assert high <= surer_high


def test_never_and_always_reach_exactly_to_the_end() -> None:
    assert wilson(0, 7)[0] == 0.0
    assert wilson(7, 7)[1] == 1.0


def test_with_nothing_observed_the_share_can_be_anything() -> None:
    assert wilson(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize(("count", "total"), [(3, 2), (-1, 5), (1, 0)])
def test_a_count_outside_its_total_is_refused(count: int, total: int) -> None:
    with pytest.raises(ValueError, match="no share"):
        wilson(count, total)


@pytest.mark.parametrize("level", [0.0, 1.0, 95.0])
def test_a_level_that_is_no_probability_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="sure"):
        wilson(1, 2, level)
