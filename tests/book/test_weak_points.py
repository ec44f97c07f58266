"""Weak points of a book: what a name means, the place, and what is new since a date."""

from __future__ import annotations

import datetime as dt
import errno
from pathlib import Path
from types import SimpleNamespace

import pytest
from small_book import SmallBook, closed

from kb import stash
from kb.book import Book
from kb.errors import QuestionError
from kb.values_weak import Place, WeakPoints

FAMILIES = """
drover: {label: Drover line, maker: Ottermoor, kind: valve-guitar-amplifier}
drover-22: {label: Drover 22, parent: drover}
drover-50: {label: Drover 50, parent: drover}
heron: {label: Heron, maker: Heronry, kind: valve-guitar-amplifier}
lantern: {label: Lantern echo, maker: ottermoor, kind: tape-echo}
herons: {label: Other herons, maker: Heron, kind: tape-echo}
"""


def fill(book: SmallBook) -> SmallBook:
    """Drover 22: noisy resistors in 6 of 12, four of them since 2024; the Heron has none."""
    (book.folder / "vocabulary" / "families.yaml").write_text(FAMILIES, encoding="utf-8")
    number = 0
    for family, causes in {
        "drover-22": [("carbon-resistor/noisy", 6), ("fuse/blown", 6)],
        "drover-50": [("fuse/blown", 2)],
        "heron": [("fuse/blown", 20), ("electrolytic-capacitor/high-esr", 10)],
        "herons": [("tape-head/worn", 5)],
    }.items():
        for cause, count in causes:
            for i in range(count):
                number += 1
                late = cause == "carbon-resistor/noisy" and i >= 2
                day = f"{2024 if late else 2023}-03-{1 + i % 28:02d}"
                keys = {"at": "V2 anode" if i % 2 else "anode of V2"} if "resistor" in cause else {}
                text = closed(
                    f"B{number:03d}", cause, family=family, received=day, finished=day, **keys
                )
                book.write(f"B{number:03d}", text)
    return book


@pytest.fixture
def filled(small: SmallBook) -> Book:
    for old in ("A1", "A2", "A3", "A4", "A5"):
        small.path(old).unlink()
    with fill(small).open() as book:
        yield book


def names(answer: WeakPoints) -> tuple[list[str], list[tuple[str, str]]]:
    return (
        [f.family for f in answer.families],
        [(g.sort, g.family) for g in answer.groups],
    )


def test_a_family_is_answered_alone(filled: Book) -> None:
    assert names(filled.weak_points("drover-22")) == (["drover-22"], [])


def test_a_line_is_answered_together_and_family_by_family(filled: Book) -> None:
    answer = filled.weak_points("drover")
    assert names(answer) == (["drover-22", "drover-50"], [("line", "drover")])
    assert answer.groups[0].cases == 14


def test_makers_and_kinds_are_known_by_name_letter_case_and_hyphens_aside(filled: Book) -> None:
    assert names(filled.weak_points("Valve guitar amplifier"))[1] == [
        ("kind", "valve-guitar-amplifier")
    ]
    assert filled.weak_points("OTTERMOOR").groups[0].cases == 14


def test_a_name_that_means_two_things_is_answered_as_both(filled: Book) -> None:
    assert names(filled.weak_points("heron")) == (["heron", "herons"], [("maker", "Heron")])


def test_a_family_of_which_too_few_visits_are_known_brings_its_line_along(filled: Book) -> None:
    answer = filled.weak_points("drover-50")
    assert names(answer) == (["drover-50"], [("line", "drover")])
    assert answer.families[0].too_few
    assert not answer.groups[0].too_few


def test_without_a_name_every_group_with_two_families_on_the_bench_is_answered(
    filled: Book,
) -> None:
    families, groups = names(filled.weak_points())
    assert families == ["drover-22", "drover-50", "heron", "herons"]
    assert groups == [
        ("line", "drover"),
        ("maker", "Ottermoor"),
        ("kind", "valve-guitar-amplifier"),
    ]


def test_a_name_of_nothing_is_refused_with_the_nearest_one(filled: Book) -> None:
    with pytest.raises(QuestionError, match="unknown family, line, maker or kind") as fault:
        filled.weak_points("Otermoor")
    assert fault.value.hint == "did you mean Ottermoor?"


def test_the_place_comes_from_the_notes(filled: Book) -> None:
    noisy = filled.weak_points("drover-22").families[0].causes[0]
    assert noisy.place == Place("V2", 6, 6)


def test_what_became_a_weak_point_since_a_date_is_new(filled: Book) -> None:
    (new, *_) = filled.weak_points(since=dt.date(2024, 1, 1)).new
    assert (new.family, new.point.cause) == ("drover-22", "carbon-resistor/noisy")
    assert (new.then_count, new.then_cases) == (2, 8)


def test_what_stood_out_at_that_date_is_not_new(filled: Book) -> None:
    answer = filled.weak_points(since=dt.date(2024, 3, 20))
    assert any(c.flag for f in answer.families for c in f.causes)
    assert answer.new == ()
    assert answer.since == dt.date(2024, 3, 20)


def test_a_visit_finished_on_the_date_itself_is_new_to_the_book(filled: Book) -> None:
    (new,) = filled.weak_points("drover-22", since=dt.date(2024, 3, 3)).new
    assert (new.then_count, new.then_cases) == (2, 8)
    (case,) = [c for c in filled.cases() if c.finished == dt.date(2024, 3, 3)]
    assert case.root_causes == ("carbon-resistor/noisy",)


def test_before_the_first_visit_everything_that_is_flagged_is_new(filled: Book) -> None:
    answer = filled.weak_points(since=dt.date(2000, 1, 1))
    flagged = [c for f in (*answer.families, *answer.groups) for c in f.causes if c.flag]
    assert len(answer.new) == len(flagged) > 0
    assert all(n.then_low is None for n in answer.new)


def test_what_comes_more_often_since_a_date_is_told_beside_what_stands_out(filled: Book) -> None:
    answer = filled.weak_points(since=dt.date(2024, 1, 1))
    assert [(r.sort, r.family, r.point.cause, r.then_count) for r in answer.rising] == [
        ("family", "drover-22", "carbon-resistor/noisy", 2)
    ]
    assert filled.weak_points(since=dt.date(2024, 4, 1)).rising == ()


def test_a_kept_answer_is_the_one_that_was_reckoned(filled: Book, monkeypatch) -> None:
    since = dt.date(2024, 1, 1)
    first = filled.weak_points(), filled.weak_points(since=since)
    monkeypatch.setattr("kb.faults.weak_points.weak_points", None)
    assert (filled.weak_points(), filled.weak_points(since=since)) == first


def test_a_kept_answer_gives_way_when_a_case_or_the_vocabulary_changes(small: SmallBook) -> None:
    fill(small)
    with small.open() as book:
        before = book.weak_points()
    small.write("C1", closed("C1", "fuse/blown", family="heron", finished="2024-05-05"))
    with small.open() as book:
        after = book.weak_points()
    assert sum(f.cases for f in after.families) == sum(f.cases for f in before.families) + 1
    words = small.folder / "vocabulary" / "families.yaml"
    words.write_text(words.read_text().replace("label: Heron,", "label: Grey heron,"))
    with small.open() as book:
        assert "Grey heron" in [f.label for f in book.weak_points().families]


def test_a_kept_answer_that_was_damaged_is_reckoned_anew(filled: Book, small: SmallBook) -> None:
    first = filled.weak_points()
    (file,) = small.cache.glob("*/weak-points")
    file.write_bytes(file.read_bytes()[:-9] + b"nonsense!")
    assert filled.weak_points() == first
    file.write_bytes(b"")
    assert filled.weak_points() == first


def test_on_a_full_disk_the_answer_is_given_and_not_kept(
    filled: Book, small: SmallBook, monkeypatch
) -> None:
    def full(file: Path, data: bytes) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("kb.weak.stash", SimpleNamespace(keep=full, take=stash.take))
    assert filled.weak_points().families
    assert not list(small.cache.glob("*/weak-points"))
