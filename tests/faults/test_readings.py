"""What a healthy unit measures, and what is unusual beside it."""

from __future__ import annotations

import math
import random

import pytest
from faults.readings_made import left, taken
from hypothesis import given
from hypothesis import strategies as st

from kb.faults.mains import DOES_NOT, FOLLOWS, NOT_KNOWN
from kb.faults.reading_checks import as_checks, pointers, told_by
from kb.faults.readings import family_readings
from kb.faults.standards import Standard, judge, standards
from kb.faults.test_points import folded, point, rated
from kb.notes.case import Quantity, Reading
from kb.notes.vocabulary import Nominal

HERE = point("first-filter", "idle", "V")
EIGHT = [318.0, 316.0, 320.0, 319.0, 317.0, 318.0, 321.0, 315.0]


def standard(readings, nominal=(), where=HERE) -> Standard:
    terms = {"drover": rated(nominal)} if nominal else {}
    return standards(readings, terms, 230.0)["drover"][where]


def nominal(value="320 V", tolerance="10 %", at="first-filter", state="idle") -> Nominal:
    def read(text):
        number, unit = text.split()
        return Quantity(float(number), unit)

    return Nominal(at, read(value), read(tolerance) if tolerance else None, state)


def answer(readings, causes=None, nominal_values=()):
    terms = {"drover": rated(nominal_values)} if nominal_values else {}
    of_families = standards(readings, terms, 230.0)
    told = as_checks(readings, of_families, causes or {}, 230.0)
    return family_readings(of_families["drover"], readings, causes or {}, told, {}, 230.0)


# ---------------------------------------------------------------- healthy ranges


def test_a_planted_wrong_reading_is_marked_with_the_cause_found_with_it():
    planted = taken(291.0, case="X", when="as-found")
    usual = taken(317.5, case="Y", when="as-found")
    (only,) = answer([*left(EIGHT), planted, usual], {"X": {"rectifier-valve/worn": 1.0}})
    (marked,) = only.unusual
    assert (marked.case, marked.side, marked.causes) == ("X", "low", ("rectifier-valve/worn",))
    assert marked.score == pytest.approx(0.6745 * (291 - 318) / 1.5)
    assert (only.count, only.median, only.spread) == (8, 318.0, 1.5)


def test_beyond_the_range_is_unusual_and_within_it_is_not():
    whole = standard(left(EIGHT))
    low, high = whole.scale.range
    for value, outcome in ((low - 0.01, "low"), (low + 0.01, "usual"), (high + 0.01, "high")):
        assert judge(whole, value, 230.0, 230.0).outcome == outcome


@pytest.mark.parametrize(
    ("keys", "why"),
    [
        ({"modified": ("solid-state-rectifier",)}, "modified unit"),
        ({"well": False}, "not repaired"),
        ({"finished": False}, "still on the bench"),
        ({"mains": 115.0}, "mains far off"),
    ],
)
def test_what_is_no_healthy_reading_is_left_out_and_said(keys, why):
    mains = keys.pop("mains", 230.0)
    odd = [taken(400.0, mains, case=f"odd{i}", **keys) for i in range(20)]
    whole = standard([*left(EIGHT), *odd])
    assert (whole.count, whole.centre, whole.left_out) == (8, 318.0, {why: 20})


def test_a_unit_that_came_often_speaks_once_and_with_its_newest_visit():
    often = [
        taken(300.0 + i, case=f"D{i}", serial="DR22-1", received=f"2024-02-{i + 1:02}")
        for i in range(9)
    ]
    whole = standard([*left(EIGHT), *often])
    assert (whole.count, whole.units) == (9, 9)
    assert whole.left_out == {"older visit of the same unit": 8}
    assert whole.seen == (308.0, 321.0)


def test_fewer_than_five_readings_have_no_range_and_the_nominal_value_stands_in():
    few = left(EIGHT[:4])
    assert standard(few).scale is None
    assert judge(standard(few), 100.0, 230.0, 230.0) is None
    rated_one = standard(few, [nominal()])
    assert rated_one.by == "nominal"
    assert rated_one.scale.range == pytest.approx((288.0, 352.0))
    assert judge(rated_one, 287.0, None, 230.0).outcome == "low"
    assert judge(rated_one, 289.0, None, 230.0).outcome == "usual"


def test_a_range_from_few_readings_is_no_wider_than_the_tolerance_around_the_nominal_value():
    scattered = left([318.0, 330.0, 305.0, 322.0, 310.0])
    assert standard(scattered, [nominal()]).by == "nominal"
    assert standard(scattered, [nominal("400 V")]).by == "readings"  # no such nominal value is true
    assert standard(left(EIGHT), [nominal()]).by == "readings"


def test_readings_that_are_all_alike_leave_room_for_another_meter():
    whole = standard(left([12.0] * 9))
    assert whole.spread == 0.0
    assert whole.scale.range == pytest.approx((11.88, 12.12))
    assert math.isfinite(judge(whole, 3.0, 230.0, 230.0).score)


def test_no_range_is_narrower_than_one_step_of_the_readings():
    coarse = standard(left([22.0] * 7 + [23.0]))
    assert judge(coarse, 23.0, 230.0, 230.0).outcome == "usual"
    assert judge(coarse, 24.0, 230.0, 230.0).outcome == "high"


def test_low_and_high_go_by_size_except_where_zero_is_no_nothing():
    bias = standard(left([-35.2, -34.7, -35.0, -35.4, -34.9, -35.1]))
    assert judge(bias, -31.0, 230.0, 230.0).outcome == "low"
    assert judge(bias, -40.0, 230.0, 230.0).outcome == "high"
    hum = point("hum", "idle", "dB")
    loud = standard(
        left([-80.0, -79.0, -81.0, -80.5, -79.5, -80.0], at="hum", unit="dB"), where=hum
    )
    assert judge(loud, -60.0, 230.0, 230.0).outcome == "high"


def test_an_unusual_reading_says_whether_it_is_within_the_nominal_tolerance():
    odd = [taken(v, case=f"X{v}", when="as-found") for v in (300.0, 200.0)]
    (only,) = answer([*left(EIGHT), *odd], nominal_values=[nominal()])
    assert {u.value: u.within_nominal for u in only.unusual} == {300.0: True, 200.0: False}
    assert (only.nominal, only.nominal_range) == (320.0, (288.0, 352.0))


# ---------------------------------------------------------------- names and units


def test_names_are_alike_whatever_their_case_spaces_and_hyphens():
    assert folded("V2  Anode") == folded("v2-anode") == folded(" V2_anode ") == "v2-anode"
    assert folded("V2 anode") != folded("V3 anode")


def test_a_point_goes_by_the_vocabularys_spelling_and_unit():
    mixed = [
        taken(v * f, number=i, at=at, unit=u)
        for i, (v, f, at, u) in enumerate(
            [(9.0, 1.0, "Output Offset", "mV"), (8.0, 1e-3, "output-offset", "V")] * 3
        )
    ]
    (only,) = answer(mixed, nominal_values=[nominal("10 mV", "300 %", "output offset", "Idle")])
    assert (only.at, only.state, only.unit, only.count) == ("output offset", "Idle", "mV", 6)
    assert only.median == 8.5


def test_volts_never_meet_milliamperes_nor_decibels():
    found = answer(
        [taken(1.0, case=u, unit=u, at="output") for u in ("V", "mV", "mA", "dB", "dBu", "W", "%")]
    )
    assert sorted(p.count for p in found) == [1, 1, 1, 1, 1, 2]


def test_a_familys_own_nominal_value_comes_before_its_lines():
    own, lines = nominal("320 V"), nominal("400 V", "3 V")
    assert rated([own, lines])[HERE].value == 320.0
    assert rated([lines])[HERE].tolerance == 3.0
    assert rated([nominal("320 V", "5 mA")])[HERE].tolerance is None


# ---------------------------------------------------------------- mains


def book_at_many_mains(exponent: float, seed: int = 1, count: int = 12) -> list:
    """A point whose units differ by 1 %, read at 221 to 243 V."""
    rng = random.Random(seed)
    mains = [float(rng.randint(221, 243)) for _ in range(count)]
    values = [round(318 * (m / 230) ** exponent * rng.gauss(1, 0.01), 1) for m in mains]
    return left(values, mains)


def width(scale) -> float:
    return scale.range[1] - scale.range[0]


def test_ranges_are_narrower_once_brought_to_one_voltage_where_the_point_follows_the_mains():
    narrower = 0
    for seed in range(20):
        whole = standard(book_at_many_mains(1.0, seed))
        assert whole.follows.verdict == FOLLOWS
        narrower += width(whole.scale) < width(whole.raw)
        assert whole.centre == pytest.approx(318, rel=0.02)
    assert narrower >= 19


def test_a_regulated_point_is_left_as_it_was_read():
    followed = 0
    for seed in range(40):
        whole = standard(book_at_many_mains(0.0, seed))
        followed += whole.follows.verdict == FOLLOWS
        if whole.follows.verdict != FOLLOWS:
            assert whole.scale == whole.raw
    assert followed <= 3


def test_a_wrong_reading_does_not_turn_the_slope():
    in_proportion = 0
    for seed in range(20):
        readings = book_at_many_mains(1.0, seed, 15)
        readings.append(taken(40.0, 221.0, case="wrong"))
        whole = standard(readings)
        assert 0.7 < whole.follows.exponent < 1.4
        assert whole.centre == pytest.approx(318, rel=0.02)
        in_proportion += whole.follows.exponent == 1.0
    assert in_proportion >= 16


@pytest.mark.parametrize(
    ("values", "mains", "unit"),
    [
        ([300.0, 310.0, 320.0, 330.0], [221.0, 228.0, 235.0, 243.0], "V"),
        (EIGHT, [230.0] * 8, "V"),
        ([-2.0, 1.0, 3.0, -1.0, 2.0], [221.0, 225.0, 230.0, 235.0, 243.0], "mV"),
        ([48.0, 49.0, 50.0, 51.0, 52.0], [221.0, 226.0, 231.0, 236.0, 241.0], "Hz"),
    ],
    ids=["too few", "mains alike", "both signs", "not electrical"],
)
def test_where_nothing_can_be_known_nothing_is_normalised(values, mains, unit):
    found = standard(left(values, mains, unit=unit), where=point("first-filter", "idle", unit))
    assert (found.follows.verdict, found.follows.exponent) == (NOT_KNOWN, 0.0)


def test_a_point_that_stays_is_said_not_to_follow():
    steady = left([15.0, 15.1, 14.9, 15.0, 15.1, 15.0, 14.9, 15.0], list(range(222, 246, 3)))
    assert standard(steady).follows.verdict == DOES_NOT


def test_a_reading_at_low_mains_is_judged_at_nominal_mains():
    whole = standard(book_at_many_mains(1.0))
    healthy_at_222 = 318 * 222 / 230
    assert judge(whole, healthy_at_222, 222.0, 230.0).outcome == "usual"
    assert judge(whole, healthy_at_222, 240.0, 230.0).outcome == "low"
    assert judge(whole, healthy_at_222, None, 230.0).outcome == "usual"  # as read: wider
    assert judge(whole, healthy_at_222, None, 230.0).brought_to is None


def test_mains_on_a_lamp_or_from_another_country_are_not_compared():
    assert judge(standard(left(EIGHT)), 160.0, 115.0, 230.0) is None


# ---------------------------------------------------------------- readings as checks


def told_book():
    """Low at the first filter with a worn rectifier, high with a worn valve, usual with a jack."""
    found = {
        "rectifier-valve/worn": [290.0, 288.0, 292.0, 318.0],
        "power-valve/worn": [340.0, 318.0],
        "jack/broken": [318.0, 319.0, 317.0],
    }
    readings, causes = left(EIGHT), {}
    for cause, values in found.items():
        for i, value in enumerate(values):
            case = f"{cause}-{i}"
            readings.append(taken(value, case=case, when="as-found"))
            causes[case] = {cause: 1.0}
    return readings, causes


def test_readings_as_found_are_counted_as_a_check_is():
    readings, causes = told_book()
    of_families = standards(readings, {}, 230.0)
    assert as_checks(readings, of_families, causes, 230.0) == {
        "reading:first-filter:idle": {
            "low": {"rectifier-valve/worn": 3.0},
            "high": {"power-valve/worn": 1.0},
            "usual": {"jack/broken": 3.0, "power-valve/worn": 1.0, "rectifier-valve/worn": 1.0},
        }
    }


def test_modified_open_and_causeless_visits_are_no_evidence():
    odd = [
        taken(200.0, case="a", when="as-found", modified=("x",)),
        taken(200.0, case="b", when="as-found", finished=False),
        taken(200.0, case="c", when="as-found"),
    ]
    readings = [*left(EIGHT), *odd]
    causes = {"a": {"x/y": 1.0}, "b": {"x/y": 1.0}}
    assert as_checks(readings, standards(readings, {}, 230.0), causes, 230.0) == {}


def test_of_several_readings_of_a_point_in_a_visit_the_one_furthest_off_counts():
    pair = [taken(v, case="X", when="as-found") for v in (318.0, 250.0)]
    readings = [*left(EIGHT), *pair]
    counts = as_checks(readings, standards(readings, {}, 230.0), {"X": {"x/y": 0.5}}, 230.0)
    assert counts == {"reading:first-filter:idle": {"low": {"x/y": 0.5}}}


def test_a_low_reading_speaks_for_the_cause_that_it_came_with():
    readings, causes = told_book()
    told = as_checks(readings, standards(readings, {}, 230.0), causes, 230.0)
    by_cause = {(p.side, p.cause): p for p in pointers(HERE, told, {})}
    low = by_cause["low", "rectifier-valve/worn"]
    assert (low.count, low.read, low.others, low.others_read) == (3.0, 4.0, 0.0, 5.0)
    assert low.ratio > 3
    assert by_cause["high", "power-valve/worn"].ratio > 1


def test_a_reading_on_the_bench_finds_its_point_whatever_its_spelling():
    of_family = standards(left(EIGHT), {}, 230.0)["drover"]
    asked = Reading("First Filter", Quantity(0.291, "kV"), "as-found", "IDLE", None)
    where, found, judged = told_by(asked, of_family, 230.0)
    assert (where, judged.outcome) == (HERE, "low")
    assert found.at == "first-filter"
    elsewhere = Reading("first filter", Quantity(291.0, "mA"), "as-found", "idle", None)
    assert told_by(elsewhere, of_family, 230.0)[1:] == (None, None)


# ---------------------------------------------------------------- laws


some_values = st.lists(st.floats(0.01, 1e4), min_size=5, max_size=25)


@given(some_values, st.randoms(use_true_random=False))
def test_the_order_of_the_notes_does_not_matter(values, rng):
    readings = left(values)
    shuffled = rng.sample(readings, len(readings))
    assert standard(readings) == standard(shuffled)


@given(some_values, st.sampled_from([("mV", 1e3), ("kV", 1e-3), ("µV", 1e6)]))
def test_the_unit_of_the_notes_does_not_matter(values, other):
    unit, factor = other
    volts = standard(left(values))
    others = standard(left([v * factor for v in values], unit=unit))
    assert others.scale.range == pytest.approx(volts.scale.range, rel=1e-6)


@given(some_values, st.floats(-1e5, 1e5))
def test_a_value_is_usual_exactly_within_the_range(values, value):
    whole = standard(left(values))
    low, high = whole.scale.range
    edge = 1e-9 * max(abs(low), abs(high))
    judged = judge(whole, value, 230.0, 230.0)
    if low + edge < value < high - edge:
        assert judged.outcome == "usual"
    elif value < low - edge or value > high + edge:
        assert judged.outcome != "usual"


@given(some_values)
def test_most_healthy_readings_are_within_their_own_range(values):
    whole = standard(left(values))
    low, high = whole.scale.range
    assert sum(low <= v <= high for v in values) >= len(values) / 2
