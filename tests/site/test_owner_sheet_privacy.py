"""What never is on an owner's sheet: what is hidden, private, or only the bench's business."""

from __future__ import annotations

import datetime as dt
import re

import msgspec
import pytest
from invented_source import CASES
from msgspec.structs import replace
from owner_sheets_made import document, sheet, text

from kb.book import Book
from kb.notes.case import Case, CheckMade, Fault, Offer, Part, Proof, Quantity, Reading, SafetyCheck
from kb.owner_checks import habits
from kb.owner_sheets import OwnerSheets
from kb.site.redaction import without
from kb.values_owner import OwnerSheet

REPAIRED, _, _, _, DECLINED = CASES
SECRET = Case(
    case="2031-0001", family="heron-20", received=dt.date(2031, 1, 2),
    complaint="secret-complaint", path="cases/2031/secret-path.md", unit="secret-unit",
    built="secret-built", modified=("secret-modified",), finished=dt.date(2031, 1, 9),
    closed_as="repaired", comeback_of="secret-comeback_of", body="# secret-body",
    proved=Proof(Quantity(1234, "min"), ("secret-with",), "secret-result"),
    readings=(Reading("secret-readings", Quantity(1, "V")),),
    safety=SafetyCheck((("secret-measured", Quantity(5678, "MΩ")),), "pass"),
    offered=(Offer("secret-do", 4321, "asked", "soon"),), found_too=("socket/loose-contacts",),
    faults=(
        Fault(
            symptom=("hum",), seen=("noise",), at="secret-at", root_cause="carbon-resistor/noisy",
            took_with_it=("fuse/blown",), brought_on_by="liquid", confirmed_by="inspection",
            fix=("overhaul",), parts=(Part("secret-part", "secret-batch"),),
            checks=(CheckMade("swap-lead", "cured", note="secret-note"),),
        ),
    ),
)  # fmt: skip
# key -> what of `SECRET` stands on its sheet because of that key
SHOWN = {
    "complaint": "secret-complaint", "unit": "secret-unit", "built": "secret-built",
    "proved": "secret-with", "with": "secret-with", "result": "secret-result", "run": "1234",
    "offered": "secret-do", "do": "secret-do", "price": "4321", "urgency": "Should be done soon",
    "owner": "have no answer yet", "at": "secret-at", "parts": "secret-part", "part": "secret-part",
    "safety": "5678", "measured": "5678", "secret-measured": "5678", "seen": "Unwanted noise",
    "symptom": "Hum", "root_cause": "Carbon resistor", "took_with_it": "Fuse blown",
    "found_too": "Valve socket", "brought_on_by": "spilt", "confirmed_by": "could be seen",
    "fix": "overhauled", "closed_as": "Repaired", "checks": "Try another mains lead",
}  # fmt: skip


@pytest.mark.parametrize("key", SHOWN)
def test_a_hidden_key_is_not_on_it_and_one_that_is_not_hidden_is(key: str) -> None:
    shown, with_it_hidden = (
        document(made).partition("<body>")[2].lower()
        for made in (sheet(SECRET), sheet(SECRET, key))
    )
    assert SHOWN[key].lower() in shown
    assert SHOWN[key].lower() not in with_it_hidden


def test_the_bench_keeps_its_remarks_its_readings_and_other_cases_to_itself() -> None:
    shown = document(sheet(SECRET))
    told = set(re.findall(r"secret-\w+", shown.lower()))
    assert told == {
        "secret-complaint", "secret-unit", "secret-built", "secret-with", "secret-result",
        "secret-do", "secret-at", "secret-part",
    }  # fmt: skip


def test_nothing_says_that_a_hidden_measurement_is_missing() -> None:
    assert "safety measurement was noted" in text(replace(REPAIRED, safety=None))
    shown = text(REPAIRED, "safety")
    assert "Electrical safety" not in shown
    assert "measure" not in shown
    reasons = sheet(replace(DECLINED, faults=()), "safety").keep_off
    assert reasons == ("The fault has not been put right.",)


@pytest.fixture(scope="module")
def sample_sheets(sample: Book) -> dict[str, OwnerSheet]:
    """The sheets of the sample book as its site makes them."""
    published = [without(case, sample.settings.hide) for case in sample.cases()]
    known = habits(published, sample.vocabulary)
    sheets = OwnerSheets(sample.settings, sample.vocabulary, known)
    return {case.case: sheets.of(case) for case in published}


def test_no_sheet_of_the_sample_book_names_another_case_a_unit_or_anything_private(
    sample: Book, sample_sheets: dict[str, OwnerSheet]
) -> None:
    units = {case.unit for case in sample.cases() if case.unit}
    assert "unit" in sample.settings.hide
    for number, made in sample_sheets.items():
        said = msgspec.json.encode(made).decode()
        assert "01632" not in said
        assert "Penmarrick" not in said
        assert not [unit for unit in units if unit in said]
        assert set(re.findall(r"20\d\d-0\d{3}", said)) == {number}


def test_the_book_gives_the_same_sheet_as_its_site(
    sample: Book, sample_sheets: dict[str, OwnerSheet]
) -> None:
    for number in list(sample_sheets)[::23]:
        assert sample.owner_sheet(number) == sample_sheets[number]
