"""What a book hides reaches no page, no data file and no file name."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_source import CASES, InventedSource

from kb.notes.case import Case
from kb.site import HideError, write_site
from kb.site.redaction import without

OPTIONAL = [
    field.name
    for field in msgspec.structs.fields(Case)
    if field.name not in Case.__match_args__[:6]
]


def everything(folder: Path) -> str:
    files = [path for path in folder.rglob("*") if path.is_file()]
    names = " ".join(path.relative_to(folder).as_posix() for path in files)
    return names + " ".join(path.read_bytes().decode("utf-8", "replace") for path in files)


def test_a_hidden_unit_is_published_nowhere_not_even_as_a_search_word(
    tmp_path: Path, templates: Path
) -> None:
    source = InventedSource(hide=["unit"])
    known = source.search_words(source.cases()).words
    assert "51187" in known, "it would be searched if it were not hidden"
    write_site(source, tmp_path, templates)
    text = everything(tmp_path).lower()
    for secret in ("hr20-51187", "51187", "hr20", "ks5-777", "ks5"):
        assert secret not in text


def test_what_is_not_hidden_is_shown(tmp_path: Path, templates: Path) -> None:
    write_site(InventedSource(hide=[]), tmp_path, templates)
    text = everything(tmp_path)
    assert "HR20-51187" in text
    assert "hr20-51187" in (tmp_path / "data/words/0.js").read_text()


def test_hiding_the_unit_keeps_the_units_of_measured_values() -> None:
    case = without(CASES[0], ["unit"])
    assert case.unit is None
    assert [str(reading.value) for reading in case.readings] == ["281 V", "318 V", "-35.5 V"]


def test_keys_inside_a_check_an_offer_or_a_proof_can_be_hidden_too() -> None:
    case = without(CASES[0], ["note", "price", "with", "batch"])
    assert {made.note for fault in case.faults for made in fault.checks} == {None}
    assert {offer.price for offer in case.offered} == {None}
    assert case.proved is not None
    assert case.proved.under == ()
    assert {part.batch for fault in case.faults for part in fault.parts} == {None}


def test_hidden_notes_of_checks_vanish_from_the_steps_as_well(
    tmp_path: Path, templates: Path
) -> None:
    write_site(InventedSource(hide=["note"]), tmp_path, templates)
    assert "18 V at 100 Hz" not in everything(tmp_path)


def test_hiding_checks_hides_the_steps(tmp_path: Path, templates: Path) -> None:
    write_site(InventedSource(hide=["checks"]), tmp_path, templates)
    page = (tmp_path / "cases/2023-0871.html").read_text("utf-8")
    assert 'class="step' not in page


@pytest.mark.parametrize("key", ["case", "family", "received"])
def test_a_key_that_no_page_can_do_without_cannot_be_hidden(
    key: str, tmp_path: Path, templates: Path
) -> None:
    with pytest.raises(HideError, match=f"`{key}`") as refusal:
        write_site(InventedSource(hide=[key]), tmp_path / "out", templates)
    assert refusal.value.key == key


@given(st.sets(st.sampled_from(OPTIONAL)))
def test_hiding_empties_exactly_the_named_keys_of_a_case(hidden: set[str]) -> None:
    before, after = CASES[0], without(CASES[0], hidden)
    for field in msgspec.structs.fields(Case):
        value = getattr(after, field.name)
        if field.name in hidden:
            assert value == field.default
        elif field.name in ("finished", "body", "offered", "complaint"):
            assert value == getattr(before, field.name)
