"""Quantities are read strictly and converted safely."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.case import Quantity
from kb.notes.units import UNITS, UnitError, in_base, in_minutes, read_quantity


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("312 V", Quantity(312, "V")),
        ("312V", Quantity(312, "V")),
        ("-38.5 V", Quantity(-38.5, "V")),
        ("0.08 ohm", Quantity(0.08, "Ω")),
        ("4.7 kohm", Quantity(4.7, "kΩ")),
        ("22 uF", Quantity(22, "µF")),
        ("22 \u03bcF", Quantity(22, "µF")),
        ("47 \u2126", Quantity(47, "Ω")),
        ("1e-3 A", Quantity(0.001, "A")),
    ],
)
def test_a_quantity_is_read_in_its_usual_spellings(text, expected):
    assert read_quantity(text) == expected


@pytest.mark.parametrize("text", ["312", "V", "1,200 V", "3,3 kΩ", "1.2.3 V", "5 volts", "1e999 V"])
def test_what_is_no_quantity_is_refused(text):
    with pytest.raises(UnitError):
        read_quantity(text)


def test_a_decimal_comma_gets_the_point_suggested():
    with pytest.raises(UnitError) as caught:
        read_quantity("3,3 kΩ")
    assert caught.value.suggestion == "3.3 kΩ"


@given(st.floats(0.001, 1e6), st.sampled_from(sorted(UNITS)))
def test_what_is_written_is_read_back(value, unit):
    quantity = Quantity(value, unit)
    again = read_quantity(f"{value!r} {unit}")
    assert again == quantity
    assert in_base(again)[1] == UNITS[unit][0]


def test_times_convert_to_minutes():
    assert in_minutes(Quantity(2, "h")) == 120
    with pytest.raises(UnitError):
        in_minutes(Quantity(2, "V"))
