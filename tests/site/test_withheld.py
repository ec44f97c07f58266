"""Answers counted over many cases give away nothing that the book hides."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from invented_answers import COMEBACKS, DRAWER, READINGS, REPLAY, WHILE_OPEN
from invented_source import WEAK_POINTS, InventedSource
from page_reader import read

from kb.site import withheld, write_site


def said(value: object) -> str:
    return msgspec.json.encode(value).decode()


def site(tmp_path: Path, templates: Path, *hide: str) -> Path:
    write_site(InventedSource(hide=hide), tmp_path, templates)
    return tmp_path


def test_the_number_of_a_unit_that_came_back_follows_hide(tmp_path: Path, templates: Path) -> None:
    shown = read(site(tmp_path / "shown", templates) / "families/heron-20.html").text
    hidden = read(site(tmp_path / "hidden", templates, "unit") / "families/heron-20.html").text
    assert "unit HR20-51187" in shown
    assert "HR20-51187" not in hidden
    assert "2024-0117 the later note says so" in hidden


@pytest.mark.parametrize(
    ("key", "answer", "secret"),
    [
        ("unit", withheld.comebacks(COMEBACKS, ["unit"]), "HR20-51187"),
        ("batch", withheld.comebacks(COMEBACKS, ["batch"]), "2351"),
        ("parts", withheld.comebacks(COMEBACKS, ["parts"]), "47 µF"),
        ("part", withheld.comebacks(COMEBACKS, ["part"]), "47 µF"),
        ("fix", withheld.comebacks(COMEBACKS, ["fix"]), "replace"),
        ("at", withheld.weak_points(WEAK_POINTS, ["at"]), "C1, first filter"),
        ("brought_on_by", withheld.weak_points(WEAK_POINTS, ["brought_on_by"]), "misuse"),
        ("root_cause", withheld.weak_points(WEAK_POINTS, ["root_cause"]), "electrolytic"),
        ("root_cause", withheld.readings(READINGS, ["root_cause"]), "electrolytic"),
        ("modified", withheld.readings(READINGS, ["modified"]), "solid-state-rectifier"),
        ("mains", withheld.readings(READINGS, ["mains"]), "229"),
        ("checks", withheld.replay(REPLAY, ["checks"]), "tap-board"),
        ("parts", withheld.drawer(DRAWER, ["parts"]), "fuse T 1 A"),
        ("root_cause", withheld.drawer(DRAWER, ["root_cause"]), "Rectifier, shorted"),
    ],
)
def test_what_rests_on_a_hidden_key_is_taken_out(key: str, answer: object, secret: str) -> None:
    whole = said([COMEBACKS, WEAK_POINTS, READINGS, REPLAY, DRAWER])
    assert secret in whole
    assert secret not in said(answer)


def test_an_answer_about_nothing_but_what_is_hidden_is_not_shown() -> None:
    assert withheld.comebacks(COMEBACKS, ["root_cause"]) is None
    assert withheld.comebacks(COMEBACKS, ["comeback_of"]) is None
    assert withheld.comebacks(COMEBACKS, ["returned"]) is None
    assert withheld.readings(READINGS, ["readings"]) is None
    assert withheld.while_open(WHILE_OPEN, ["minutes"]) is None
    assert withheld.while_open(WHILE_OPEN, ["root_cause"]) is None
    assert withheld.replay(REPLAY, ["root_cause"]) is None


def test_without_anything_to_hide_the_answers_are_as_they_were() -> None:
    assert withheld.comebacks(COMEBACKS, []) == COMEBACKS
    assert withheld.weak_points(WEAK_POINTS, []) == WEAK_POINTS
    assert withheld.readings(READINGS, []) == READINGS
    assert withheld.while_open(WHILE_OPEN, []) is WHILE_OPEN
    assert withheld.replay(REPLAY, []) == REPLAY
    assert withheld.drawer(DRAWER, []) is DRAWER


def test_a_book_that_hides_causes_has_no_page_of_how_good_it_was(
    tmp_path: Path, templates: Path
) -> None:
    folder = site(tmp_path, templates, "root_cause")
    assert not (folder / "how-good.html").exists()
    everything = "".join(page.read_text("utf-8") for page in folder.rglob("*.html"))
    assert "how-good.html" not in everything
    assert "7 of 19" not in read(folder / "families/heron-20.html").text


def test_hidden_readings_leave_the_nominal_values_that_the_vocabulary_gives(
    tmp_path: Path, templates: Path
) -> None:
    shown = read(site(tmp_path, templates, "readings") / "families/heron-20.html").text
    assert "first-filter idle 312 V ± 10 %" in shown
    assert "281 V" not in shown
