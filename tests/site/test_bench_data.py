"""The tables of the bench page: those of the ranking, and nothing that the book hides."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from invented_source import CASES, InventedSource

from kb.bench_tables import bench_tables
from kb.book import Book
from kb.faults.strengths import FIXED
from kb.indexing import Index
from kb.learning import experience_in
from kb.site import write_site
from kb.site.bench_data import FILE, LATER, inside, tables_of, topics
from kb.site.bench_packing import first_and_later
from kb.site.material import Material
from kb.site.redaction import without
from kb.values import Tallies

Tables = dict[str, Any]


def hiding(*keys: str) -> Tables:
    """The tables as they are before they are packed; a test in the browser unpacks them again."""
    material = Material(InventedSource(hide=keys))
    return tables_of(material, InventedSource().bench_tables(material.ledger.cases))


def figures(rows: Sequence[Any], place: int) -> list[Any]:
    return [row[place] for row in rows if row[place]]


def test_the_tables_of_the_sample_book_are_those_that_its_answers_come_from(sample: Book) -> None:
    def both(index: Index) -> tuple[Any, Tallies, Any]:
        with index.store.reading() as connection:
            experience, tallies = experience_in(connection, sample.vocabulary)
        published = [without(case, sample.settings.hide) for case in sample.cases()]
        return experience, tallies, bench_tables(published, sample.vocabulary, experience.strengths)

    experience, tallies, tables = sample._answer(both)

    def filled(rows: Mapping[str, Any]) -> dict[str, Any]:
        return {key: row for key, row in rows.items() if row}

    assert tables.counts.faults == tallies.counts.faults
    assert filled(tables.counts.symptoms) == filled(tallies.counts.symptoms)
    assert tables.counts.checks == tallies.counts.checks
    assert tables.counts.cases == tallies.counts.cases
    assert {f: set(made) for f, made in tables.made.items()} == {
        f: set(made) for f, made in tallies.made.items()
    }
    assert tables.figures["faults"] == sum(tallies.visits.values())
    assert tables.weights["symptom:hum"] == experience.strengths.weight_of("symptom:hum")
    assert tables.spreads["check:tap-valves"] == experience.strengths.spread_of("check:tap-valves")


def test_the_data_files_are_classic_scripts_and_light(tame: Path) -> None:
    for file, name in ((FILE, "benchTables"), (LATER, "benchLater")):
        text = (tame / file).read_text("ascii")
        assert json.loads(text.removeprefix(f"var {name} = ").removesuffix(";\n"))
        assert len(text) < 10_000
    assert [family[0] for family in hiding()["families"]] == sorted(
        InventedSource().vocabulary.families
    )


def test_a_count_that_is_neither_whole_nor_half_is_refused() -> None:
    tables = hiding()
    tables["symptoms"][0][6] = [0, 0.25]
    with pytest.raises(ValueError, match="neither a whole nor a half"):
        first_and_later(tables)


def test_figures_that_no_short_digits_hold_are_written_as_they_are() -> None:
    tables = hiding()
    tables["checks"][0][14] = 1 / 3
    first, _ = first_and_later(tables)
    assert first["checks"][13] == tuple(check[14] for check in tables["checks"])


def test_every_page_that_the_tables_lead_to_is_there(tame: Path) -> None:
    tables = hiding()
    leading = [
        row[2] for kind in ("families", "symptoms", "causes", "checks") for row in tables[kind]
    ]
    cases = [page for cause in tables["causes"] for page in cause[4][1::2]]
    assert cases
    assert [page for page in (*leading, *cases) if not (tame / page).is_file()] == []


def test_what_is_not_hidden_is_counted() -> None:
    tables = hiding()
    assert figures(tables["symptoms"], 6)
    assert any(figures(check[7], 2) for check in tables["checks"])
    assert figures(tables["causes"], 3)


def test_hidden_checks_are_counted_nowhere() -> None:
    tables = hiding("checks")
    assert not any(figures(check[7], 2) for check in tables["checks"])
    assert all(kind[1] == [] for kind in tables["kinds"])
    assert figures(tables["symptoms"], 6)


def test_hidden_outcomes_are_counted_nowhere_and_name_nothing() -> None:
    tables = hiding("outcome")
    assert not any(figures(check[7], 2) for check in tables["checks"])
    assert all(outcome[0] for check in tables["checks"] for outcome in check[7])


def test_hidden_symptoms_are_counted_nowhere() -> None:
    tables = hiding("symptom", "seen")
    assert not figures(tables["symptoms"], 6)
    assert not figures(tables["symptoms"], 12)


@pytest.mark.parametrize("key", ["root_cause", "finished"])
def test_without_causes_or_finished_cases_nothing_is_ranked(key: str) -> None:
    tables = hiding(key)
    assert tables["causes"] == []
    assert "nothing to go by" in tables["basis"]


def test_hidden_minutes_leave_what_the_vocabulary_says() -> None:
    usual = {check[0]: check[5] for check in hiding("minutes")["checks"]}
    assert usual["tap-board"] == InventedSource().vocabulary.checks["tap-board"].minutes


def test_only_the_cases_handed_over_are_counted() -> None:
    words = InventedSource().vocabulary
    every, fewer = (bench_tables(cases, words, FIXED) for cases in (CASES, CASES[1:]))
    assert every.figures["faults"] > fewer.figures["faults"]
    assert not any(CASES[0].case in numbers for numbers in fewer.counts.cases.values())


def test_the_topics_of_a_family_are_those_of_its_items_and_of_an_unknown_one_all() -> None:
    words = InventedSource().vocabulary
    assert topics(words, "heron-20", "outside") == []
    assert "valves" in topics(words, "heron-20", "open")
    assert "valves" in topics(words, None, "open")
    assert set(inside(words, None)) >= {"mains", "high-voltage", "stored-charge"}


def test_the_same_book_gives_the_same_bytes(tmp_path: Path, templates: Path) -> None:
    for name in ("one", "other"):
        write_site(InventedSource(), tmp_path / name, templates)
    for file in (FILE, LATER):
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "other" / file).read_bytes()
