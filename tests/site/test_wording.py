"""How values are put into words."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_source import WEAK_POINTS
from msgspec.structs import replace

from kb.notes.case import Quantity
from kb.site import wording
from kb.site.charts import Scale, scale_for
from kb.values_weak import Trend, WeakPoint


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0, "0 %"),
        (0.004, "< 1 %"),
        (0.006, "1 %"),
        (0.412, "41 %"),
        (0.999, "> 99 %"),
        (1, "100 %"),
    ],
)
def test_a_share_that_is_not_nought_never_reads_as_nought(share: float, said: str) -> None:
    assert wording.percent(share).replace(wording.THIN, " ") == said


@pytest.mark.parametrize(
    ("value", "said"), [(2.5, "2.5 min"), (55, "55 min"), (60, "1 h"), (80, "1 h 20 min")]
)
def test_times_are_said_in_minutes_and_hours(value: float, said: str) -> None:
    assert wording.minutes(value).replace(wording.THIN, " ") == said


def test_a_negative_voltage_has_a_true_minus_and_stays_on_one_line() -> None:
    assert wording.quantity(Quantity(-34, "V")) == "−34\u00a0V"


def test_a_day_is_said_with_the_name_of_its_month() -> None:
    assert wording.day(dt.date(2024, 2, 29)) == "29 Feb 2024"


def test_a_price_without_a_currency_is_a_plain_figure() -> None:
    assert wording.price(12.5, "") == "12.50"
    assert wording.price(90, "GBP") == "GBP\u00a090"


def test_a_family_without_comparable_units_says_so() -> None:
    weak = replace(WEAK_POINTS.families[0].causes[0], comparable_cases=0)
    assert wording.against_comparable(weak, 19) == "7 of 19 here, no comparable units in the book"


def test_the_scale_holds_every_interval_and_no_more_than_it_needs() -> None:
    causes = list(WEAK_POINTS.families[0].causes)
    assert scale_for(causes) == Scale(0.6)
    assert scale_for(causes[1:]) == Scale(0.4)
    assert scale_for([]) == Scale(0.2)


def weak(**changes: object) -> WeakPoint:
    base: dict[str, object] = {
        "cause": "fuse/blown", "label": "Fuse", "count": 5, "share": 0.4,
        "share_interval": (0.2, 0.7), "expected": 0.3, "ratio": 8.4, "ratio_low": 3.2, "flag": True,
        "trend": Trend("steady", 1.0), "comebacks": 0, "comparable_count": 1,
        "comparable_cases": 37, "own": 5,
    }  # fmt: skip
    return WeakPoint(**{**base, **changes})  # type: ignore[arg-type]


def test_a_weak_point_is_put_in_words_with_figures_that_say_no_more_than_is_known() -> None:
    said = wording.compared(weak(), 12)
    assert said.startswith("Fewer than 1 of 12 visits expected from comparable units.")
    assert "some 8 times as often here as there, at least 3 times" in said


@pytest.mark.parametrize(
    ("expected", "said"),
    [(0.0097, "About 0 of"), (0.1, "Fewer than 1 of"), (0.8, "About 1 of"), (4.2, "About 4 of")],
)
def test_an_expected_count_is_said_without_false_decimals(expected: float, said: str) -> None:
    assert wording.compared(weak(expected=expected), 12).startswith(said)


@pytest.mark.parametrize(
    ("bound", "said"),
    [(1.04, "more often"), (1.29, "at least 1.2 times"), (2.99, "at least 2 times")],
)
def test_a_lower_bound_is_rounded_down_so_that_it_stays_true(bound: float, said: str) -> None:
    assert f"there, {said} with 95" in wording.compared(weak(ratio_low=bound), 12)


@pytest.mark.parametrize(
    ("ratio", "said"),
    [(0.01, "some 0.1 times"), (0.7, "some 0.7 times"), (1.2, "about as often"), (1.4, "some 1.4")],
)
def test_a_ratio_near_one_is_called_the_same_and_none_reads_as_nought(
    ratio: float, said: str
) -> None:
    assert f"it comes {said}" in wording.compared(weak(ratio=ratio, flag=False), 12)


def test_a_cause_that_stands_out_is_never_called_as_often_as_elsewhere() -> None:
    assert "some 1.2 times" in wording.compared(weak(ratio=1.2, ratio_low=1.1), 12)


@pytest.mark.parametrize(
    ("p", "said"), [(0.0004, "p < 0.001"), (0.0044, "p = 0.004"), (1, "p = 1.000")]
)
def test_a_p_value_never_reads_as_nought(p: float, said: str) -> None:
    assert wording.chance(p).replace(wording.KEPT, " ") == said


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("47 µF at 450 V", "47~µF at 450~V"),
        ("312 V ± 10 %", "312~V~±~10~%"),
        ("within ±10 %", "within~±10~%"),
        ("12\nmin", "12~min"),
        ("3 Vans, 2 mice, 4 Kelvin", "3 Vans, 2 mice, 4 Kelvin"),
        ("EL84 V4", "EL84 V4"),
    ],
)
def test_a_number_stays_with_its_unit_and_a_tolerance_with_its_value(
    written: str, shown: str
) -> None:
    assert wording.kept_together(written) == shown.replace("~", wording.KEPT)


@given(st.text(alphabet="0123456789 \n±VmAhµF%dB.,x"))
def test_keeping_together_changes_nothing_but_spaces(text: str) -> None:
    kept = wording.kept_together(text)
    assert len(kept) == len(text)
    assert "".join(kept.split()) == "".join(text.split())
    assert wording.kept_together(kept) == kept


def test_without_comparable_units_there_is_nothing_to_say() -> None:
    assert "nothing comparable" in wording.compared(weak(comparable_cases=0, flag=False), 12)


def test_mishaps_alone_say_nothing_of_the_units() -> None:
    assert "mishaps" in wording.compared(weak(own=0, flag=False), 12)
