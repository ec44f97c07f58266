"""Laws of the shrunk ratios and of the fit behind them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.faults.shrinkage import Gamma, Pair, Prior, fit, ratios

PRIORS = st.builds(
    Prior,
    usual=st.builds(Gamma, shape=st.floats(1, 60), rate=st.floats(1, 60)),
    apart=st.builds(Gamma, shape=st.floats(0.5, 10), rate=st.floats(0.2, 5)),
    share_apart=st.floats(0.001, 0.5),
)
PAIRS = st.builds(
    Pair,
    seen=st.integers(0, 40).map(float),
    expected=st.floats(0.01, 30),
    backing=st.floats(0.05, 100),
)
ORDINARY = [Pair(n, e, b) for n, e, b in [(1, 0.8, 3), (0, 0.7, 2), (2, 1.9, 8), (1, 1.2, 4)] * 5]


@given(PRIORS, PAIRS)
def test_one_more_case_never_lowers_the_ratio_or_its_bound(prior: Prior, pair: Pair) -> None:
    before, after = ratios(prior, [pair, pair._replace(seen=pair.seen + 1)])
    assert after.typical >= before.typical - 1e-9
    assert after.low >= before.low - 1e-9


@given(PRIORS, PAIRS, st.floats(1.01, 5))
def test_the_more_was_expected_the_smaller_the_ratio(
    prior: Prior, pair: Pair, times: float
) -> None:
    before, after = ratios(prior, [pair, pair._replace(expected=pair.expected * times)])
    assert after.typical <= before.typical + 1e-9
    assert after.low <= before.low + 1e-9


@given(PRIORS, PAIRS)
def test_the_lower_bound_is_below_the_ratio(prior: Prior, pair: Pair) -> None:
    (ratio,) = ratios(prior, [pair])
    assert 0.0 < ratio.low < ratio.typical


def test_a_larger_count_in_the_same_proportion_is_believed_more() -> None:
    prior = fit(ORDINARY)
    small, large = ratios(prior, [Pair(2, 0.5, 5), Pair(20, 5, 50)])
    assert small.low < large.low
    assert small.typical < large.typical < 4.0


def test_what_is_expected_on_little_ground_moves_the_ratio_less() -> None:
    prior = fit(ORDINARY)
    little, much = ratios(prior, [Pair(4, 0.5, 0.5), Pair(4, 0.5, 50)])
    assert little.low < much.low


def test_without_pairs_the_fit_is_its_documented_starting_point() -> None:
    prior = fit([])
    assert prior.usual == pytest.approx((8.0, 8.0))
    assert prior.apart == pytest.approx((3.0, 0.75))
    assert prior.share_apart == pytest.approx(0.05)


def test_a_handful_of_pairs_hardly_moves_the_starting_point() -> None:
    prior = fit([Pair(1, 0.5, 1.2), Pair(0, 0.4, 1.1), Pair(2, 0.6, 1.5)])
    assert prior.usual.shape / prior.usual.rate == pytest.approx(1.0, abs=0.2)
    assert prior.apart.shape / prior.apart.rate == pytest.approx(4.0, abs=0.5)
    assert 0.02 < prior.share_apart < 0.1


def test_a_book_in_which_many_pairs_stand_out_expects_more_of_them() -> None:
    many = fit(ORDINARY + [Pair(9, 1.5, 6)] * 5)
    assert many.share_apart > 2 * fit(ORDINARY).share_apart


@settings(max_examples=20, deadline=None)
@given(st.permutations([*ORDINARY, Pair(9, 1.5, 6), Pair(3, 0.1, 0.3)]))
def test_the_order_of_the_pairs_does_not_matter(pairs: list[Pair]) -> None:
    assert fit(pairs) == fit([*ORDINARY, Pair(9, 1.5, 6), Pair(3, 0.1, 0.3)])


def test_no_pair_gives_no_ratio() -> None:
    assert ratios(fit([]), []) == []
