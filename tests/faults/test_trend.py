"""Laws of the trend of a cause given the intake."""

from itertools import product
from math import comb, prod

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.faults.dealing import Visits, counted_tails, exact_tails, normal_tails
from kb.faults.trend import MOST_COUNTED, History, change, joint_trend, trend
from kb.values_weak import Trend

Years = dict[int, int]


@st.composite
def histories(draw: st.DrawFn, most: int = 8, years: int = 6) -> tuple[Years, Years]:
    intake = draw(st.lists(st.integers(0, most), min_size=1, max_size=years))
    visits = {2019 + y: n for y, n in enumerate(intake)}
    return visits, {y: draw(st.integers(0, n)) for y, n in visits.items()}


def test_cases_that_pile_up_in_the_last_years_are_rising() -> None:
    visits = dict.fromkeys(range(2019, 2025), 3)
    found = trend(visits, {2023: 2, 2024: 3})
    assert found.direction == "rising"
    assert found.p < 0.01


def test_cases_that_were_cured_long_ago_are_falling() -> None:
    visits = dict.fromkeys(range(2019, 2025), 3)
    assert trend(visits, {2019: 3, 2020: 2}).direction == "falling"


def test_a_cause_that_grows_only_with_the_intake_is_steady() -> None:
    visits = {2019: 2, 2020: 4, 2021: 8, 2022: 16, 2023: 32}
    found = trend(visits, {year: n // 2 for year, n in visits.items()})
    assert found.direction == "steady"
    assert found.p > 0.5


@pytest.mark.parametrize(
    ("visits", "found"),
    [
        ({2023: 5, 2024: 5}, {2024: 2}),
        ({2024: 9}, {2024: 5}),
        ({2023: 0, 2024: 9}, {2024: 5}),
        ({2023: 3, 2024: 3}, {2023: 3, 2024: 3}),
        ({}, {}),
    ],
    ids=["two cases", "one year", "one year with visits", "every visit", "no visit"],
)
def test_where_nothing_can_be_said_it_is_steady_with_p_1(visits: Years, found: Years) -> None:
    assert trend(visits, found) == Trend(direction="steady", p=1.0)


def test_more_cases_than_visits_in_a_year_are_refused() -> None:
    with pytest.raises(ValueError, match="2 cases among 1 visits in 2023"):
        trend({2023: 1, 2024: 5}, {2023: 2, 2024: 2})


@given(histories())
def test_it_is_called_a_trend_exactly_below_the_limit(history: tuple[Years, Years]) -> None:
    found = trend(*history)
    assert 0.0 < found.p <= 1.0
    assert (found.direction == "steady") == (found.p >= 0.05)


@given(histories())
def test_time_run_backwards_turns_rising_into_falling(history: tuple[Years, Years]) -> None:
    turned = {"rising": "falling", "falling": "rising", "steady": "steady"}
    forwards = trend(*history)
    backwards = trend(*({-year: n for year, n in part.items()} for part in history))
    assert backwards.p == pytest.approx(forwards.p, rel=1e-12)
    assert backwards.direction == turned[forwards.direction]


@given(histories(), st.integers(-50, 50))
def test_only_the_distance_between_years_counts(history: tuple[Years, Years], shift: int) -> None:
    found = trend(*history)
    moved = trend(*({year + shift: n for year, n in part.items()} for part in history))
    if found.change is not None:
        since = found.change.since + shift
        found = replace(found, change=replace(found.change, since=since))
    assert moved == found


@given(histories(), st.randoms())
def test_the_order_in_which_years_are_given_does_not_matter(history, random) -> None:
    visits, found = history
    shuffled = list(visits.items())
    random.shuffle(shuffled)
    assert trend(dict(shuffled), found) == trend(visits, found)


@settings(max_examples=40)
@given(st.lists(st.integers(0, 5), min_size=2, max_size=4), st.integers(3, 8))
def test_without_a_trend_it_cries_wolf_upwards_in_fewer_than_1_of_20(
    intake: list[int], cases: int
) -> None:
    visits = dict(enumerate(intake))
    arrangements = comb(sum(intake), cases)
    rising = falling = 0
    for counts in product(*(range(n + 1) for n in intake)):
        if sum(counts) == cases:
            ways = prod(comb(n, k) for n, k in zip(intake, counts, strict=True))
            direction = trend(visits, dict(enumerate(counts))).direction
            rising += ways * (direction == "rising")
            falling += ways * (direction == "falling")
    assert rising <= 0.05 * arrangements
    assert falling <= 0.05 * arrangements


def test_where_counting_gives_way_to_its_limit_the_two_agree() -> None:
    dealt = [(Visits({0: 30, 1: 50, 2: 40, 3: 70, 5: 60}), MOST_COUNTED)]
    for observed in (100, 130, 145, 160, 190):
        counted = counted_tails(dealt, observed)
        assert normal_tails(dealt, observed) == pytest.approx(counted, abs=2e-3)


@given(st.lists(histories(), min_size=1, max_size=3))
def test_floating_point_counts_as_whole_numbers_do(families) -> None:
    dealt = [
        (Visits(visits), sum(found.values())) for visits, found in families if sum(visits.values())
    ]
    years = [(v.start, found) for (v, _), (_, found) in zip(dealt, families, strict=False)]
    observed = sum((year - start) * n for start, found in years for year, n in found.items())
    if dealt and observed >= 0:
        assert counted_tails(dealt, observed) == pytest.approx(
            exact_tails(dealt, observed), rel=1e-13
        )


def test_many_cases_are_answered_too() -> None:
    visits = {2019: 300, 2020: 300, 2021: 300}
    assert trend(visits, {2019: 60, 2020: 80, 2021: 110}).direction == "rising"
    assert trend(visits, {2019: 80, 2020: 80, 2021: 80}).p == pytest.approx(1.0)
    assert trend(visits, visits) == Trend(direction="steady", p=1.0)


def test_the_change_halves_the_visits_and_not_the_years() -> None:
    visits = {2019: 2, 2020: 2, 2021: 4, 2022: 20, 2023: 12}
    found = change([History(visits, {2021: 1, 2023: 6})])
    assert (found.since, found.before, found.after) == (2023, (1, 28), (6, 12))
    assert found.times == pytest.approx(6 / 12 * 28)


def test_where_one_half_has_no_case_no_ratio_is_given() -> None:
    found = change([History({2021: 9, 2022: 9}, {2022: 5})])
    assert (found.before, found.after, found.times, found.interval) == ((0, 9), (5, 9), None, None)


@given(histories())
def test_only_a_trend_comes_with_a_change_and_its_halves_are_all_visits(
    history: tuple[Years, Years],
) -> None:
    visits, found = history
    answer = trend(visits, found)
    assert (answer.change is None) == (answer.direction == "steady")
    if answer.change:
        halves = (answer.change.before, answer.change.after)
        assert sum(n for _, n in halves) == sum(visits.values())
        assert sum(k for k, _ in halves) == sum(found.values())
        if answer.change.interval:
            low, high = answer.change.interval
            assert low <= answer.change.times <= high


@given(st.lists(histories(years=4), min_size=1, max_size=3), st.randoms())
def test_the_order_of_families_taken_together_does_not_matter(families, random) -> None:
    given_in_order = [History(*f) for f in families]
    shuffled = list(given_in_order)
    random.shuffle(shuffled)
    one, other = joint_trend(given_in_order), joint_trend(shuffled)
    assert (one.direction, one.p) == (other.direction, pytest.approx(other.p, rel=1e-12))


@given(histories(years=4))
def test_a_family_without_a_case_adds_nothing_to_the_test(history: tuple[Years, Years]) -> None:
    alone = trend(*history)
    beside = joint_trend([History(*history), History({2015: 3, 2023: 9}, {})])
    assert (beside.direction, beside.p) == (alone.direction, alone.p)


@pytest.mark.parametrize(
    ("visits", "found"),
    [
        ({2022: 3, 2023: 3}, {2023: 3}),
        ({2021: 1, 2022: 2, 2023: 3}, {2023: 3}),
        ({2021: 2, 2022: 1, 2023: 3}, {2021: 2, 2022: 1}),
    ],
)
def test_exactly_at_the_limit_it_is_no_trend(visits: Years, found: Years) -> None:
    assert trend(visits, found) == Trend(direction="steady", p=0.05)
