"""Trying parts: the best order against every order there is, and what it costs on this bench."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.faults.costs import COVER_MINUTES, LEAST_TRYING, RUN_UNKNOWN, SEARCH_MINUTES, TRYING_MINUTES
from kb.faults.trying import (
    Trying,
    best_tries,
    durations_of,
    expected_trying_minutes,
    proving_run,
    trying_minutes,
)
from kb.values import FaultRecord

LAW = settings(max_examples=150)


def walked(
    order: Sequence[int],
    p: Sequence[float],
    minutes: Sequence[float],
    search: float,
    inside: Sequence[bool],
    cover: float,
) -> float:
    """The mean over every cause it may be of what is spent until it is reached, one by one."""
    mean = 0.0
    for cause in range(len(p)):
        spent, opened = 0.0, False
        for i in order:
            spent += minutes[i] + (cover if inside[i] and not opened else 0.0)
            opened = opened or inside[i]
            if i == cause:
                break
        else:
            spent += search
        mean += p[cause] * spent
    whole = sum(minutes[i] for i in order) + (cover if any(inside[i] for i in order) else 0.0)
    return mean + (1.0 - sum(p)) * (whole + search)


@st.composite
def benches(draw: st.DrawFn) -> tuple[list[float], list[float], list[bool]]:
    count = draw(st.integers(1, 5))
    parts = draw(st.lists(st.integers(0, 100), min_size=count + 1, max_size=count + 1))
    whole = sum(parts) or 1
    return (
        [part / whole for part in parts[:count]],
        draw(st.lists(st.floats(0.5, 90.0), min_size=count, max_size=count)),
        draw(st.lists(st.booleans(), min_size=count, max_size=count)),
    )


@LAW
@given(benches(), st.sampled_from([0.0, 4.0, 25.0]))
def test_no_order_of_trying_every_part_takes_less(
    bench: tuple[list[float], list[float], list[bool]], cover: float
) -> None:
    # J. B. Kadane & H. A. Simon, "Optimal strategies for a class of constrained sequential
    # problems", Annals of Statistics 5 (1977) 237-255.
    p, minutes, inside = bench
    least = min(
        walked(order, p, minutes, 0.0, inside, cover) for order in permutations(range(len(p)))
    )
    ours = best_tries(p, minutes, None, inside, cover)
    assert sorted(ours.order) == list(range(len(p)))
    assert walked(ours.order, p, minutes, 0.0, inside, cover) == pytest.approx(least, abs=1e-9)
    assert ours.minutes == pytest.approx(least, abs=1e-9)


@LAW
@given(benches(), st.sampled_from([0.0, 4.0, 25.0]), st.sampled_from([5.0, 40.0, 300.0]))
def test_no_choice_of_parts_before_the_search_begins_takes_less(
    bench: tuple[list[float], list[float], list[bool]], cover: float, search: float
) -> None:
    p, minutes, inside = bench
    least = min(
        walked(order[:tried], p, minutes, search, inside, cover)
        for order in permutations(range(len(p)))
        for tried in range(len(p) + 1)
    )
    ours = best_tries(p, minutes, search, inside, cover)
    assert walked(ours.order, p, minutes, search, inside, cover) == pytest.approx(least, abs=1e-9)
    assert ours.minutes == pytest.approx(least, abs=1e-9)


def test_two_boxes_with_a_prize_in_one_cost_what_a_public_answer_says() -> None:
    # Computer Science Stack Exchange, question 144646: p = 0.8, 0.2 and c = 3, 2 coins cost 3.4
    # in the order 1-2, and 4.4 in the order 2-1; the answer there sorts by p/c.
    assert expected_trying_minutes([0.8, 0.2], [3.0, 2.0]) == pytest.approx(3.4)
    assert walked([1, 0], [0.8, 0.2], [3.0, 2.0], 0.0, [False] * 2, 0.0) == pytest.approx(4.4)


def test_what_is_cheap_to_try_goes_before_what_is_likelier() -> None:
    assert best_tries([0.5, 0.3], [50.0, 5.0]).order == (1, 0)


def test_a_cover_that_is_off_already_costs_nothing() -> None:
    inside = [True, False]
    closed = best_tries([0.6, 0.3], [10.0, 10.0], 200.0, inside, 30.0)
    opened = best_tries([0.6, 0.3], [10.0, 10.0], 200.0, inside, 0.0)
    assert closed.order == (1, 0)
    assert opened.order == (0, 1)


def test_a_part_that_is_hardly_likely_is_not_tried_blind() -> None:
    assert best_tries([0.1, 0.05], [30.0, 30.0], 100.0).order == ()
    assert expected_trying_minutes([0.1, 0.05], [30.0, 30.0], 100.0) == 100.0


def fault(cause: str, minutes: float | None, *times: float) -> FaultRecord:
    return FaultRecord(
        "2021-001",
        "piper-8",
        cause,
        checks=tuple((f"check-{i}", "yes") for i in range(len(times))),
        minutes=minutes,
        times=tuple((f"check-{i}", t) for i, t in enumerate(times)),
    )


def test_the_minutes_of_a_cause_are_those_left_after_the_checks() -> None:
    faults = [fault("cap/leaky", 40.0, 5.0, 5.0) for _ in range(27)]
    faults += [fault("cap/leaky", None, 5.0), fault("", 500.0)]
    found = trying_minutes(durations_of(faults))
    book = (27 * 30.0 + 3 * TRYING_MINUTES) / 30
    assert found.usual == pytest.approx(book)
    assert found.of("cap/leaky") == pytest.approx((27 * 30.0 + 3 * book) / 30)
    assert found.of("never/seen") == found.usual
    assert found.search == pytest.approx((27 * 40.0 + 3 * SEARCH_MINUTES) / 30)


def test_a_check_without_noted_minutes_takes_what_it_usually_does() -> None:
    record = FaultRecord("1", "piper-8", "cap/leaky", checks=(("tap", "yes"),), minutes=40.0)
    assert durations_of([record]).left == {"cap/leaky": {40.0: 1.0}}
    assert durations_of([record], {"tap": 15.0}).left == {"cap/leaky": {25.0: 1.0}}


def test_the_cover_is_not_counted_twice() -> None:
    durations = durations_of([fault("cap/leaky", 40.0), fault("pot/dirty", 12.0)] * 300)
    found = trying_minutes(durations, behind={"cap/leaky", "pot/dirty"})
    assert found.of("cap/leaky") == pytest.approx(40.0 - COVER_MINUTES, abs=0.5)
    assert found.of("pot/dirty") == pytest.approx(LEAST_TRYING, abs=0.5)


def test_a_cause_with_one_fault_leans_on_the_book() -> None:
    found = trying_minutes(durations_of([*[fault("a", 20.0)] * 50, fault("b", 200.0)]))
    assert 20.0 < found.of("b") < 75.0


def test_a_book_without_minutes_falls_back_on_fixed_ones() -> None:
    found = trying_minutes(durations_of([]))
    assert found == Trying()
    assert found.of("cap/leaky") == TRYING_MINUTES


def test_an_intermittent_fault_must_stay_away_well_past_its_onset_and_its_gaps() -> None:
    assert proving_run(12.0, 20.0) == 72.0
    assert proving_run(12.0, None) == 48.0
    assert proving_run(None, 20.0) == 60.0
    assert proving_run(None, None) == RUN_UNKNOWN
