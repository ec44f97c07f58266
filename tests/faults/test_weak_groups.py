"""Weak points of lines, makers and kinds, and what became one."""

from __future__ import annotations

import datetime as dt

import pytest
from faults.weak_points_books import YEARS, books, family, of, point, shop
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.faults.news import became_flagged, became_rising, with_news
from kb.faults.weak_points import weak_points
from kb.values_weak import (
    FamilyGroup,
    FamilyVisits,
    FamilyWeakPoints,
    Place,
    Trend,
    WeakPoint,
)

patiently = settings(max_examples=25, deadline=None)


def group(*families: str, sort: str = "line") -> FamilyGroup:
    return FamilyGroup("g", "Group", sort, frozenset(families))


def asked(book, *families: str, sort: str = "line") -> FamilyWeakPoints:
    return weak_points(book, {}, groups=[group(*families, sort=sort)]).groups[0]


def cause(answer: FamilyWeakPoints, key: str) -> WeakPoint:
    return next(c for c in answer.causes if c.cause == key)


def line_with_a_weak_point():
    """Two families of a line that share a fault, among the shop's other amplifiers."""
    return [
        family("drover", 12, {"filter-capacitor/high-esr": 4, "valve/weak": 8}),
        family("drover-ii", 12, {"filter-capacitor/high-esr": 4, "jack/broken": 8}),
        *shop()[1:],
    ]


def test_a_line_has_the_counts_of_its_families_together() -> None:
    line = asked(line_with_a_weak_point(), "drover", "drover-ii")
    assert (line.sort, line.family, line.label) == ("line", "g", "Group")
    assert (line.cases, line.members, line.visits) == (24, ("drover", "drover-ii"), {2024: 24})
    found = cause(line, "filter-capacitor/high-esr")
    assert (found.count, found.by_family) == (8, {"drover": 4, "drover-ii": 4})


def test_no_family_of_a_line_is_among_the_lines_comparable_units() -> None:
    found = cause(
        asked(line_with_a_weak_point(), "drover", "drover-ii"), "filter-capacitor/high-esr"
    )
    amplifiers = ("heron", "lapwing", "plover", "rook")
    assert found.comparable_cases == sum(f.total for f in shop() if f.family in amplifiers)
    assert found.comparable_count == 2


def test_a_fault_that_two_families_of_a_line_share_is_the_lines_weak_point() -> None:
    found = cause(
        asked(line_with_a_weak_point(), "drover", "drover-ii"), "filter-capacitor/high-esr"
    )
    assert found.flag
    assert found.ratio_low > 1


def test_a_fault_that_only_one_family_of_a_line_has_is_not_the_lines() -> None:
    book = shop()
    assert point(weak_points(book, {}), "drover", "filter-capacitor/high-esr").flag
    line = asked([*book, family("drover-ii", 12, {"valve/weak": 3})], "drover", "drover-ii")
    found = cause(line, "filter-capacitor/high-esr")
    assert (found.own, found.flag) == (6, False)


def test_a_makers_families_are_each_held_against_their_own_kind() -> None:
    book = [
        family("amp", 10, {"fuse/blown": 4}, kind="amplifier"),
        family("mixer", 20, {"fuse/blown": 2}, kind="mixer"),
        family("other-amp", 40, {"fuse/blown": 4}, kind="amplifier"),
        family("other-mixer", 20, {"fuse/blown": 8}, kind="mixer"),
    ]
    found = cause(asked(book, "amp", "mixer", sort="maker"), "fuse/blown")
    assert (found.comparable_count, found.comparable_cases) == (12, 60)
    # 10 amplifiers at about 4 of 40 and 20 mixers at about 8 of 20, not 30 units at 12 of 60.
    assert found.expected == pytest.approx(10 * 0.1 + 20 * 0.4, rel=0.1)


def test_a_family_without_comparable_units_is_left_out_on_both_sides() -> None:
    book = [
        family("amp", 10, {"fuse/blown": 4}, kind="amplifier"),
        family("lone", 20, {"fuse/blown": 9}, kind="theremin"),
        family("other-amp", 40, {"fuse/blown": 4}, kind="amplifier"),
    ]
    found = cause(asked(book, "amp", "lone", sort="maker"), "fuse/blown")
    assert (found.count, found.own, found.comparable_cases) == (13, 4, 40)
    assert found.expected < 2


def test_a_kind_can_only_be_compared_in_what_other_kinds_have_too() -> None:
    book = [
        family("a", 12, {"relay/stuck": 4, "belt/slack": 5}, kind="echo", has=["relay"]),
        family("b", 12, {"relay/stuck": 4}, kind="echo", has=["relay"]),
        family("c", 40, {"relay/stuck": 1}, kind="mixer", has=["relay"]),
    ]
    kind = asked(book, "a", "b", sort="kind")
    relay, belt = cause(kind, "relay/stuck"), cause(kind, "belt/slack")
    assert (relay.comparable_count, relay.comparable_cases) == (1, 40)
    assert (belt.comparable_cases, belt.flag) == (0, False)


@patiently
@given(books())
def test_a_group_of_one_family_says_what_the_family_says(book) -> None:
    for own in weak_points(book, {}).families:
        if own.cases:
            alike = asked(book, own.family)
            assert [replace(c, by_family={}, flag=False) for c in alike.causes if not c.flag] == [
                replace(c, flag=False) for c in sorted(own.causes, key=_order)
            ]


def _order(c: WeakPoint) -> tuple[float, int, str]:
    return (-c.ratio_low, -c.count, c.cause)


@patiently
@given(books(), st.randoms())
def test_groups_change_nothing_in_the_families_and_their_order_does_not_matter(
    book, random
) -> None:
    keys = [f.family for f in book]
    groups = [group(*keys[:2]), group(*keys, sort="maker")]
    whole = weak_points(book, {}, groups=groups)
    assert whole.families == weak_points(book, {}).families
    shuffled = list(book)
    random.shuffle(shuffled)
    assert weak_points(shuffled, {}, groups=groups) == whole
    for answer in whole.groups:
        for found in answer.causes:
            assert sum(found.by_family.values()) == found.count == sum(found.by_year.values())
            assert not (found.flag and sum(n > 0 for n in found.by_family.values()) < 2)
            assert found.own <= found.count


def test_a_family_that_comes_in_more_often_than_before_is_no_trend_of_its_line() -> None:
    """Half of one family's visits have the cause, few of the other's; only the mix changes."""
    more, less = (
        dict(zip(YEARS, (2, 10, 20), strict=True)),
        dict(zip(YEARS, (20, 10, 2), strict=True)),
    )
    book = [
        replace(
            family("a", 0, {}),
            visits=more,
            found={"fuse/blown": {y: n // 2 for y, n in more.items()}},
        ),
        replace(family("b", 0, {}), visits=less, found={"fuse/blown": {2022: 1}}),
    ]
    together = {y: more[y] + less[y] for y in YEARS}
    mixed = replace(
        family("mixed", 0, {}),
        visits=together,
        found={"fuse/blown": {y: more[y] // 2 + (y == 2022) for y in YEARS}},
    )
    assert point(weak_points([mixed], {}), "mixed", "fuse/blown").trend.direction == "rising"
    assert cause(asked(book, "a", "b"), "fuse/blown").trend.direction == "steady"


def test_the_place_is_given_for_a_family_and_a_line_but_not_across_circuits() -> None:
    book = [
        replace(family(key, 9, {"fuse/blown": 2}), places={"fuse/blown": [["F1"], ["f1"]]})
        for key in "ab"
    ]
    assert point(weak_points(book, {}), "a", "fuse/blown").place == Place("F1", 2, 2)
    assert cause(asked(book, "a", "b"), "fuse/blown").place == Place("F1", 4, 4)
    assert cause(asked(book, "a", "b", sort="maker"), "fuse/blown").place is None


@pytest.mark.parametrize(("visits", "few"), [(1, True), (4, True), (5, False)])
def test_fewer_than_five_visits_are_too_few_to_go_by(visits: int, few: bool) -> None:
    answer = weak_points([family("a", visits, {"fuse/blown": 1})], {})
    assert of(answer, "a").too_few is few


def test_a_pair_is_new_if_it_is_flagged_now_and_was_not_then() -> None:
    cause, now = "filter-capacitor/high-esr", shop()
    then = [family("drover", 8, {cause: 2, "switch/worn": 3}), *now[1:]]
    (new,) = became_flagged(weak_points(now, {}), weak_points(then, {}))
    assert (new.sort, new.family, new.point.cause, new.cases) == ("family", "drover", cause, 12)
    assert new.point.flag
    assert (new.then_count, new.then_cases) == (2, 8)
    assert new.then_low is not None
    assert new.then_low <= 1


def test_of_a_family_that_was_not_here_then_nothing_is_said_of_then() -> None:
    new = became_flagged(weak_points(shop(), {}), weak_points(shop()[1:], {}))
    drover = next(n for n in new if n.family == "drover")
    assert (drover.then_count, drover.then_cases, drover.then_low) == (0, 0, None)


@patiently
@given(books())
def test_nothing_is_new_since_now(book) -> None:
    answer = weak_points(book, {}, groups=[group(*(f.family for f in book))])
    assert became_flagged(answer, answer) == ()
    assert became_rising(answer, answer) == ()


def late(key: str, found: dict[int, int], until: int = 2024) -> FamilyVisits:
    """Four visits a year from 2020, so many with an open resistor."""
    visits = dict.fromkeys(range(2020, until + 1), 4)
    theirs = {year: n for year, n in found.items() if year <= until}
    return FamilyVisits(
        key, key, "amp", frozenset(), visits, {"resistor/open": theirs} if theirs else {}
    )


def test_a_cause_whose_trend_is_rising_now_and_was_not_then_is_new() -> None:
    found = {2022: 1, 2023: 2, 2024: 4}
    now, then = [late("a", found)], [late("a", found, until=2022)]
    (new,) = became_rising(weak_points(now, {}), weak_points(then, {}))
    assert (new.sort, new.family, new.point.cause) == ("family", "a", "resistor/open")
    assert (new.cases, new.then_count, new.then_cases) == (20, 1, 12)
    assert (new.point.trend.direction, new.then_trend) == ("rising", Trend("steady", 1.0))


def test_what_was_rising_then_already_is_not_new() -> None:
    found = {2022: 2, 2023: 4, 2024: 4}
    then = weak_points([late("a", found, until=2023)], {})
    assert then.families[0].causes[0].trend.direction == "rising"
    assert became_rising(weak_points([late("a", found)], {}), then) == ()


def test_a_cause_not_found_then_has_no_trend_of_then() -> None:
    found = {2024: 4}
    (new,) = became_rising(
        weak_points([late("a", found)], {}), weak_points([late("a", found, until=2023)], {})
    )
    assert (new.then_count, new.then_cases, new.then_trend) == (0, 16, None)


def test_a_trend_of_one_family_is_not_told_again_of_its_line() -> None:
    alone = [late("a", {2024: 4}), late("b", {})]
    both = [late("a", {2024: 4}), late("b", {2024: 1})]
    then = [late("a", {}, until=2023), late("b", {}, until=2023)]
    told = []
    for now in (alone, both):
        answer = with_news(
            weak_points(now, {}, groups=[group("a", "b")]),
            dt.date(2024, 1, 1),
            then,
            [group("a", "b")],
        )
        assert answer.groups[0].causes[0].trend.direction == "rising"
        told.append([(new.sort, new.family) for new in answer.rising])
    assert told == [[("family", "a")], [("family", "a"), ("line", "g")]]
