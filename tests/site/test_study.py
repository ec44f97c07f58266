"""What can be studied, and that its data hold the past and nothing that is hidden."""

from __future__ import annotations

import json
import random
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_source import CASES, VOCABULARY
from msgspec.structs import replace
from page_reader import read
from study_books import source, visit

import kb.studying as studying
from kb.bench_tables import counted
from kb.faults.strengths import FIXED
from kb.notes.case import Case, CheckMade
from kb.site import Study, write_site
from kb.site.material import Material
from kb.site.pages import study as study_page
from kb.site.study_data import THEMES, scripts
from kb.studying import LEAST_PAST, MOST, study


def told(cases: Iterable[Case]) -> Study:
    cases = list(cases)
    return study(cases, counted(cases, VOCABULARY).records, VOCABULARY, FIXED)


def studied(cases: Iterable[Case]) -> dict[str, int]:
    return {one.case: one.known for one in told(cases).cases}


def data(cases: Iterable[Case], hide: Iterable[str] = ()) -> dict[str, str]:
    book = source(cases, hide)
    material = Material(book)
    return dict(scripts(material, book.bench_tables(material.ledger.cases)))


def value(script: str) -> Any:
    return json.loads(script.partition(" = ")[2].removesuffix(";\n"))


def test_a_case_is_told_from_faults_finished_before_it_came_in() -> None:
    cases = [visit(n) for n in range(30)]
    known = studied(cases)
    # A week apart and five days long: all the earlier ones, and none on the day itself.
    assert known == {f"N{n:04}": n for n in range(LEAST_PAST, 30)}
    same_day = replace(cases[25], finished=cases[26].received)
    assert studied([*cases[:25], same_day, *cases[26:]])["N0026"] == 25
    turned = replace(cases[25], finished=cases[2].received)  # a slip of the pen
    assert studied([*cases[:25], turned, *cases[26:]])["N0025"] == 25


@pytest.mark.parametrize(
    "changes",
    [
        {"finished": None, "closed_as": None},
        {"root_cause": None},
        {"symptom": ()},
        {"checks": (CheckMade("swap-lead", "no-change"),)},
        {"checks": (CheckMade("swap-lead", ""), CheckMade("look-inside", "clean"))},
    ],
)
def test_what_has_no_end_no_start_or_no_way_is_not_studied(changes: dict[str, Any]) -> None:
    cases = [visit(n) for n in range(29)]
    assert "N0029" in studied([*cases, visit(29)])
    assert "N0029" not in studied([*cases, visit(29, **changes)])


def test_the_collections_are_read_from_the_note_and_from_the_book_of_that_day() -> None:
    cases = [visit(n, root_cause="joint/cracked") for n in range(28)]
    shy = visit(28, reproduced="sometimes", brought_on_by="earlier-repair")
    new = visit(29, root_cause="fuse/blown")
    two = replace(visit(30), faults=(*visit(30).faults, replace(visit(31).faults[0])))
    themes = {(one.case, one.fault): one.themes for one in told([*cases, shy, new, two]).cases}
    assert themes["N0027", 0] == ()
    assert set(themes["N0028", 0]) >= {"comes-and-goes", "earlier-repair"}
    assert themes["N0029", 0] == ("likeliest-wrong",)
    assert "several-faults" in themes["N0030", 0]
    assert "several-faults" in themes["N0030", 1]
    assert set(studying.THEMES) == set(THEMES)


@given(st.randoms(use_true_random=False))
@settings(max_examples=5, deadline=None)
def test_the_order_of_the_notes_changes_nothing(draw: random.Random) -> None:
    cases = [visit(n) for n in range(30)]
    shuffled = draw.sample(cases, len(cases))
    assert told(shuffled) == told(cases)


def test_of_many_cases_some_hundred_stay_with_some_of_each_theme() -> None:
    rare = {3, 40, 41}
    cases = [
        visit(n, **({"brought_on_by": "earlier-repair"} if n in rare else {})) for n in range(400)
    ]
    made = told(cases)
    assert len(made.cases) == MOST
    assert len(made.past) == 400
    assert {one.case for one in made.cases} >= {"N0040", "N0041"}
    days = [one.known for one in made.cases]
    assert days == sorted(days, reverse=True)


def test_the_list_gives_no_end_away() -> None:
    files = data([visit(n) for n in range(30)])
    listed = files["data/study/list.js"]
    for secret in ("noisy", "cracked", "high-esr", "bulging", "as it was", "look-inside"):
        assert secret not in listed
    assert len(value(listed)["cases"]) == 10


def test_the_past_ends_with_what_the_last_studied_case_asks_for() -> None:
    cases = [*(visit(n) for n in range(30)), *(visit(n, symptom=()) for n in range(30, 60))]
    past = value(data(cases)["data/study/past/0.js"])
    assert len(past) == 29
    told = value(data(cases)["data/study/told/0.js"])
    assert len(told) == 10


@pytest.mark.parametrize("key", ["root_cause", "finished", "checks", "outcome", "symptom"])
def test_a_book_that_hides_the_way_or_the_end_has_no_case_to_study(key: str) -> None:
    files = data([visit(n) for n in range(30)], [key])
    assert value(files["data/study/list.js"])["cases"] == []
    assert list(files) == ["data/study/list.js"]


def test_hidden_values_reach_no_file_of_study() -> None:
    cases = [visit(n) for n in range(30)]
    shown = "".join(data(cases).values())
    assert "as it was" in shown
    assert '"C1"' in shown
    assert "SECRET" not in shown
    hidden = "".join(data(cases, ["note", "at", "complaint"]).values())
    for secret in ("as it was", '"C1"', "Complaint"):
        assert secret not in hidden


def test_an_assumed_cause_counts_half_and_a_fault_without_one_for_no_cause() -> None:
    cases = [visit(n) for n in range(30)]
    cases[0] = visit(0, confirmed_by="assumed", reproduced="sometimes")
    cases[1] = visit(1, root_cause=None, closed_as="no-fault-found", reproduced="yes")
    past = value(data(cases)["data/study/past/0.js"])
    assert past[0][2] == 1 | 2
    assert past[1][1:3] == [-1, 4]
    assert past[2][2] == 0


def test_the_page_says_what_is_missing_where_there_is_nothing_to_study(tame: Path) -> None:
    shown = read(tame / "study.html").text
    assert "No case to study yet" in shown


def test_a_case_leads_to_its_study(tmp_path: Path, templates: Path) -> None:
    cases = [*(visit(n) for n in range(25)), replace(CASES[0], finished=None)]
    two = replace(visit(26), faults=(replace(visit(26).faults[0], checks=()), visit(26).faults[0]))
    write_site(source([*cases, two]), tmp_path, templates)
    links = {
        number: [a["href"] for a in read(tmp_path / f"cases/{number}.html").named("a")]
        for number in ("n0003", "n0024", "n0026")
    }
    assert not [link for link in links["n0003"] if "study.html?" in link]
    assert "../study.html?case=N0024" in links["n0024"]
    assert "../study.html?case=N0026/2" in links["n0026"]
    home = read(tmp_path / "index.html")
    assert "study.html" in [a["href"] for a in home.named("a")]
    assert len((tmp_path / study_page.PATH).read_bytes()) < 100_000
