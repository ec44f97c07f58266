"""What is kept of the faults: tallies that follow the notes, and strengths fitted when it is time."""

from __future__ import annotations

import re
import shutil
from itertools import pairwise
from pathlib import Path

import pytest
from sqlalchemy import select

from kb.book import Book
from kb.faults import fitting
from kb.faults.counting import counts_of
from kb.faults.stages import FIRST_STAGE, stage
from kb.faults.strengths import FIXED
from kb.learning import strengths_in
from kb.resources import sample_book
from kb.store import database, reading
from kb.store import schema as t
from kb.store.tallies import read_tallies


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the sample book that may be changed."""
    folder = tmp_path / "copy"
    shutil.copytree(sample_book(), folder)
    return folder


def kept(book: Book) -> tuple[dict[tuple[str, str], bytes], str | None, str | None]:
    book.index()
    with book._opened.store.reading() as connection:
        rows = connection.execute(select(t.tally.c.kind, t.tally.c.key, t.tally.c.amounts))
        metas = database.metas(connection)
        return (
            {(kind, key): amounts for kind, key, amounts in rows},
            metas["learnt"],
            metas["strengths"],
        )


def test_tallies_and_strengths_of_a_book_kept_up_to_date_are_those_of_one_made_anew(copy, tmp_path):
    notes = sorted((copy / "cases").rglob("*.md"))
    aside = {path: path.read_bytes() for path in notes[::3]}
    for path in aside:
        path.unlink()
    with Book.open(copy, tmp_path / "cache") as book:
        before = kept(book)
        for path, data in aside.items():
            path.write_bytes(data)
        for path in notes[1::7]:
            path.unlink()
        changed = notes[2]
        changed.write_text(
            re.sub(
                r"(?m)^(root_cause: ).*", r"\1socket/loose-contacts", changed.read_text("utf-8")
            ),
            "utf-8",
        )
        followed = kept(book)
    assert followed != before
    with Book.open(copy, tmp_path / "other") as fresh:
        assert kept(fresh) == followed


def test_the_tallies_are_the_counts_of_the_kept_faults(sample):
    with sample._opened.store.reading() as connection:
        tallies = read_tallies(connection)
        records = [
            r for each in reading.fault_records(connection).values() for r in each if r.cause
        ]
    counted = counts_of(records)
    assert tallies.counts.faults == counted.faults
    assert tallies.counts.symptoms == counted.symptoms
    assert tallies.counts.words == counted.words
    assert tallies.counts.checks == counted.checks
    assert {c: set(n) for c, n in tallies.counts.cases.items()} == {
        c: set(n) for c, n in counted.cases.items()
    }


def test_words_that_a_question_does_not_hold_are_not_read(sample):
    with sample._opened.store.reading() as connection:
        every = read_tallies(connection).counts.words
        word = min(every)
        assert read_tallies(connection, [word, "nothing-like-it"]).counts.words == {
            word: every[word]
        }


def test_an_assumed_cause_counts_half(make_book):
    from small_book import closed

    book = make_book()
    book.write("A1", closed("A1", "tape-head/worn", family="lantern", confirmed_by="assumed"))
    with book.open() as opened:
        opened.index()
        with opened._opened.store.reading() as connection:
            faults = read_tallies(connection).counts.faults
    assert faults == {"lantern": {"tape-head/worn": 0.5}}


def test_a_small_book_keeps_the_fixed_strengths(small):
    with small.open() as book:
        book.index()
        with book._opened.store.reading() as connection:
            assert strengths_in(connection) == FIXED


def test_diagnose_asks_with_the_strengths_that_were_fitted(sample):
    with sample._opened.store.reading() as connection:
        strengths = strengths_in(connection)
    assert strengths != FIXED
    assert strengths.weights


def test_only_what_the_ranking_is_fitted_to_has_it_fitted_anew(copy, tmp_path, monkeypatch):
    fits = []
    original = fitting.fit
    monkeypatch.setattr(
        fitting, "fit", lambda *given: fits.append(len(given[0])) or original(*given)
    )
    first = min((copy / "cases").rglob("*.md"))
    with Book.open(copy, tmp_path / "cache") as book:
        book.index()
        assert len(fits) == 1
        first.write_text(first.read_text("utf-8") + "\nAnother sentence.\n", "utf-8")
        assert book.index().changed == 1
        assert len(fits) == 1
        text = first.read_text("utf-8")
        first.write_text(
            re.sub(r"(?m)^(root_cause: ).*", r"\1socket/loose-contacts", text), "utf-8"
        )
        assert book.index().changed == 1
    assert len(fits) == 2
    assert fits[0] == pytest.approx(stage(124), abs=3)


def test_stages_grow_by_a_quarter_and_start_at_twenty():
    assert [stage(n) for n in (0, FIRST_STAGE - 1, 20, 24, 25, 30, 31)] == [
        0,
        0,
        20,
        20,
        25,
        25,
        31,
    ]
    sizes = sorted({stage(n) for n in range(5000)} - {0})
    assert all(1.15 < b / a <= 1.25 for a, b in pairwise(sizes))
