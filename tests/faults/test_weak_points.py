"""What is called a weak point, and against what it is held."""

import pytest
from faults.weak_points_books import STAND_OUT, family, of, point, shop

from kb.faults.weak_points import weak_points
from kb.values_weak import FamilyVisits, Trend, WeakPoints


def test_in_a_bench_sized_book_what_stands_out_is_flagged_and_nothing_else() -> None:
    answer = weak_points(shop(), {})
    flagged = {(f.family, w.cause) for f in answer.families for w in f.causes if w.flag}
    assert flagged == STAND_OUT


def test_three_of_twelve_is_no_weak_point_if_comparable_units_have_it_too() -> None:
    chance = point(weak_points(shop(), {}), "drover", "switch/worn")
    assert (chance.count, chance.comparable_count) == (3, 6)
    assert not chance.flag
    assert 0.5 < chance.ratio < 1.5


def test_counts_are_given_as_a_bench_hand_would_say_them() -> None:
    found = point(weak_points(shop(), {}), "heron", "screen-resistor/open")
    assert (found.count, of(weak_points(shop(), {}), "heron").cases) == (5, 13)
    assert (found.comparable_count, found.comparable_cases) == (1, 12 + 14 + 15 + 12)
    assert found.share == pytest.approx(5 / 13)
    assert found.expected < 1
    assert found.ratio > 3


def test_a_cause_that_is_as_frequent_everywhere_is_no_weak_point() -> None:
    book = [family(key, 20, {"valve/weak": 8, "fuse/blown": 3}) for key in ("a", "b", "c", "d")]
    for of_family in weak_points(book, {}).families:
        for found in of_family.causes:
            assert not found.flag
            assert found.ratio == pytest.approx(1.0, abs=0.15)


def test_two_cases_in_a_small_family_that_nobody_else_has_are_too_few() -> None:
    book = [*shop(), family("finch", 9, {"standby-switch/burnt": 2})]
    found = point(weak_points(book, {}), "finch", "standby-switch/burnt")
    assert found.comparable_count == 0
    assert not found.flag
    assert found.ratio < 10


def test_with_no_family_of_its_kind_a_cause_is_listed_and_never_flagged() -> None:
    book = [*shop(), family("piano", 15, {"tine/broken": 12}, kind="electric-piano")]
    found = point(weak_points(book, {}), "piano", "tine/broken")
    assert (found.count, found.comparable_cases, found.flag) == (12, 0, False)
    assert (found.expected, found.ratio, found.ratio_low) == (12.0, 1.0, 0.0)


def test_a_family_of_no_kind_is_comparable_to_none() -> None:
    book = [family("a", 9, {"fuse/blown": 5}, kind=None), family("b", 9, {}, kind=None)]
    assert point(weak_points(book, {}), "a", "fuse/blown").comparable_cases == 0


def test_a_cause_whose_item_the_family_has_is_held_against_all_that_have_it() -> None:
    book = [
        family("echo", 10, {"tape-head/worn": 3}, kind="echo", has=["tape-head"]),
        family("recorder", 20, {"tape-head/worn": 6}, kind="recorder", has=["tape-head"]),
        family("digital-echo", 40, {}, kind="echo"),
    ]
    found = point(weak_points(book, {}), "echo", "tape-head/worn")
    assert (found.comparable_count, found.comparable_cases) == (6, 20)


def test_an_item_that_only_one_family_has_is_comparable_to_none() -> None:
    book = [
        family("echo", 10, {"tape-head/worn": 6}, kind="echo", has=["tape-head"]),
        family("digital-echo", 40, {"switch/worn": 4}, kind="echo"),
    ]
    found = point(weak_points(book, {}), "echo", "tape-head/worn")
    assert (found.comparable_cases, found.flag) == (0, False)


def test_an_item_that_is_not_on_the_familys_list_is_held_against_its_kind() -> None:
    book = [
        family("a", 10, {"relay/stuck": 3}, kind="mixer"),
        family("b", 20, {"relay/stuck": 1}, kind="mixer"),
        family("c", 30, {"relay/stuck": 9}, kind="amplifier", has=["relay"]),
    ]
    found = point(weak_points(book, {}), "a", "relay/stuck")
    assert (found.comparable_count, found.comparable_cases) == (1, 20)


def test_what_mishaps_brought_on_is_listed_apart_and_makes_no_weak_point() -> None:
    wet = [
        family("drover", 12, {"switch/corroded": 6}, brought_on={"switch/corroded": {"liquid": 6}}),
        *shop()[1:],
    ]
    found = point(weak_points(wet, {}), "drover", "switch/corroded")
    assert (found.count, found.own, found.brought_on) == (6, 0, {"liquid": 6})
    assert not found.flag
    dry = [family("drover", 12, {"switch/corroded": 6}), *shop()[1:]]
    assert point(weak_points(dry, {}), "drover", "switch/corroded").flag


@pytest.mark.parametrize("what", ["ageing", "wear", "manufacture", "design"])
def test_what_age_or_the_maker_brought_on_counts_in_full(what: str) -> None:
    cause = "filter-capacitor/high-esr"
    drover = FamilyVisits(
        **{f: getattr(shop()[0], f) for f in ("family", "label", "kind", "has", "visits", "found")},
        brought_on={cause: {what: 6}},
    )
    found = point(weak_points([drover, *shop()[1:]], {}), "drover", cause)
    assert (found.own, found.flag, found.brought_on) == (6, True, {what: 6})


def test_mishaps_elsewhere_do_not_hide_a_weak_point_here() -> None:
    clean = shop()
    heron = clean[1]
    spilt = family(
        "heron",
        heron.total + 5,
        {c: sum(n.values()) for c, n in heron.found.items()} | {"filter-capacitor/high-esr": 6},
        brought_on={"filter-capacitor/high-esr": {"liquid": 5}},
    )
    found = point(
        weak_points([clean[0], spilt, *clean[2:]], {}), "drover", "filter-capacitor/high-esr"
    )
    assert found.comparable_count == 2
    assert found.flag


def test_flagged_causes_come_first_and_then_the_most_telling() -> None:
    for of_family in weak_points(shop(), {}).families:
        order = [(not w.flag, -w.ratio_low, -w.count, w.cause) for w in of_family.causes]
        assert order == sorted(order)


def test_asked_for_one_family_it_gives_the_numbers_of_the_whole_book() -> None:
    whole = weak_points(shop(), {})
    assert weak_points(shop(), {}, only={"heron"}).families == (of(whole, "heron"),)


def test_labels_are_used_and_a_cause_without_one_goes_by_its_key() -> None:
    answer = weak_points([family("a", 4, {"fuse/blown": 1, "valve/weak": 1})], {"fuse/blown": "F"})
    assert {w.label for w in of(answer, "a").causes} == {"F", "valve/weak"}


def test_comebacks_and_the_trend_are_carried_along() -> None:
    risen = FamilyVisits(
        family="a",
        label="A",
        kind="k",
        has=frozenset(),
        visits=dict.fromkeys(range(2019, 2025), 3),
        found={"fuse/blown": {2023: 2, 2024: 3}, "valve/weak": {2019: 1, 2024: 1}},
        comebacks={"fuse/blown": 2},
    )
    answer = weak_points([risen], {})
    assert point(answer, "a", "fuse/blown").comebacks == 2
    assert point(answer, "a", "fuse/blown").trend.direction == "rising"
    assert point(answer, "a", "valve/weak").comebacks == 0
    assert point(answer, "a", "valve/weak").trend == Trend(direction="steady", p=1.0)


def test_an_empty_book_and_a_family_without_visits_are_answered() -> None:
    assert weak_points([], {}) == WeakPoints(families=())
    empty = of(weak_points([family("a", 0, {}), family("b", 5, {"fuse/blown": 2})], {}), "a")
    assert (empty.cases, empty.causes) == (0, ())


def test_more_cases_than_visits_are_refused() -> None:
    with pytest.raises(ValueError, match="3 cases among 2 visits"):
        weak_points([family("a", 2, {"fuse/blown": 3})], {})
