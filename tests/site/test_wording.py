"""How values are put into words."""

from __future__ import annotations

import datetime as dt

import pytest
from invented_source import WEAK_POINTS
from msgspec.structs import replace

from kb.notes.case import Quantity
from kb.site import wording
from kb.site.charts import Scale, scale_for


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
