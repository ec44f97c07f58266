"""A site that is written again: what rests on nothing new is left alone, all else is made anew."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from page_reader import read
from small_book import SmallBook, closed

import kb.faults.stages
import kb.replaying
import kb.search_tables
import kb.site.write
import kb.trails
from kb.book import Book
from kb.notes.case import Case
from kb.site import SiteReport, hands
from kb.site.render import Page, Renderer
from kb.taken_out import Gone
from kb.text import Document

Change = Callable[[SmallBook], object]


def contents(folder: Path) -> dict[str, bytes]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def written(book: SmallBook, folder: Path) -> SiteReport:
    with book.open() as opened:
        return opened.write_site(folder)


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The pages that were made from their templates, in order."""
    paths: list[str] = []
    real = Renderer.html

    def noted(self: Renderer, page: Page) -> str:
        paths.append(page.path)
        return real(self, page)

    monkeypatch.setattr(Renderer, "html", noted)
    return paths


def vocabulary(book: SmallBook, name: str, more: str) -> None:
    file = book.folder / "vocabulary" / f"{name}.yaml"
    file.write_text(file.read_text("utf-8") + more, "utf-8")


def media(book: SmallBook) -> None:
    (book.folder / "media").mkdir(exist_ok=True)
    (book.folder / "media/burnt.png").write_bytes(b"\x89PNG")


CHANGES: dict[str, Change] = {
    "a note's text": lambda b: b.write("A2", closed("A2", "carbon-resistor/noisy",
        body="# Now told\n\nSee A3, and A9 when it is there.")),
    "a note's cause": lambda b: b.write("A3", closed("A3", "fuse/blown", symptom="hum")),
    "a new case that others name": lambda b: b.write("A9", closed("A9", "fuse/blown",
        symptom="hum", checks="[{check: tap-valves, outcome: no-change}]")),
    "a comeback": lambda b: b.write("B1", closed("B1", "fuse/blown", comeback_of="A1",
        received="2024-05-01", finished="2024-05-02")),
    "a case gone": lambda b: b.path("A9").unlink(),
    "a photo": lambda b: (media(b), b.write("A1", closed("A1", "carbon-resistor/noisy",
        body="# Shown\n\n![Burnt](media/burnt.png)"))),
    "another photo": lambda b: (b.folder / "media/burnt.png").write_bytes(b"\x89PNG two"),
    "a photo gone": lambda b: (b.folder / "media/burnt.png").unlink(),
    "a new word": lambda b: vocabulary(b, "causes", "plug/loose: {label: Plug loose}\n"),
    "a new check for owners": lambda b: b.write("A2", closed("A2", "fuse/blown", symptom="crackle",
        checks="[{check: tap-valves, outcome: crackle}]")),
    "a write-up": lambda b: ((b.folder / "families").mkdir(exist_ok=True),
        (b.folder / "families/drover-22.md").write_text("# Drover 22\n\nHeavy.", "utf-8")),
    "another title": lambda b: (b.folder / "book.yaml").write_text(
        "title: Another\ncurrency: EUR\n", "utf-8"),
    "something hidden": lambda b: (b.folder / "book.yaml").write_text(
        "title: Another\npublish: {hide: [checks]}\n", "utf-8"),
}  # fmt: skip


def test_after_any_change_it_is_the_site_that_would_be_written_afresh(
    small: SmallBook, tmp_path: Path
) -> None:
    """Each change upon those before it."""
    written(small, tmp_path / "kept")
    for number, (name, change) in enumerate(CHANGES.items()):
        change(small)
        report = written(small, tmp_path / "kept")
        afresh = tmp_path / str(number)
        written(small, afresh)
        kept, wanted = contents(tmp_path / "kept"), contents(afresh)
        differ = [
            file for file in kept.keys() | wanted.keys() if kept.get(file) != wanted.get(file)
        ]
        assert differ == [], name
        assert report.written > 0, name
        assert report.written + report.unchanged == len(kept) - 1, name


def test_an_unchanged_book_makes_no_page(small: SmallBook, tmp_path: Path, made: list[str]) -> None:
    first = written(small, tmp_path / "site")
    made.clear()
    second = written(small, tmp_path / "site")
    assert made == []
    assert (second.written, second.unchanged, second.removed) == (0, first.written, 0)


def test_a_corrected_word_makes_the_pages_of_its_case_and_of_no_other(
    small: SmallBook, tmp_path: Path, made: list[str]
) -> None:
    written(small, tmp_path / "site")
    made.clear()
    small.path("A3").write_text(small.path("A3").read_text("utf-8") + "\nA word more.\n", "utf-8")
    report = written(small, tmp_path / "site")
    assert [page for page in made if page.startswith(("cases/", "sheets/"))] == [
        "sheets/a3.html",
        "cases/a3.html",
    ]
    assert report.written < 10


@pytest.mark.parametrize("spoilt", ["index.html", "cases/a1.html", "assets/page.css", "gone"])
def test_a_file_that_somebody_changed_or_took_is_put_right(
    spoilt: str, small: SmallBook, tmp_path: Path
) -> None:
    written(small, tmp_path / "site")
    before = contents(tmp_path / "site")
    if spoilt == "gone":
        (tmp_path / "site/cases/a1.html").unlink()
    else:
        (tmp_path / "site" / spoilt).write_text("mine")
    report = written(small, tmp_path / "site")
    assert (report.written, report.removed) == (1, 0)
    assert contents(tmp_path / "site") == before


def test_a_memory_that_was_spoilt_costs_time_only(
    small: SmallBook, tmp_path: Path, made: list[str]
) -> None:
    written(small, tmp_path / "site")
    memories = list(small.cache.rglob("site-*"))
    assert len(memories) == 1
    memories[0].write_bytes(memories[0].read_bytes()[:-3] + b"xyz")
    made.clear()
    report = written(small, tmp_path / "site")
    assert "cases/a1.html" in made
    assert report.written == 0


def test_what_was_taken_out_is_found_again_where_its_memory_was_spoilt(
    small: SmallBook, tmp_path: Path
) -> None:
    (small.folder / "book.yaml").write_text("title: B\npublish: {hide: [checks]}\n", "utf-8")
    written(small, tmp_path / "site")
    before = contents(tmp_path / "site")
    (memory,) = small.cache.rglob("taken-out")
    kept = memory.read_bytes()
    for at in (0, 4, len(kept) // 2, len(kept) - 1):
        memory.write_bytes(kept[:at] + bytes([kept[at] ^ 0x20]) + kept[at + 1 :])
        small.path("A3").write_text(small.path("A3").read_text("utf-8") + "\n", "utf-8")
        written(small, tmp_path / "site")
        assert contents(tmp_path / "site") == before


def test_two_folders_are_remembered_apart(small: SmallBook, tmp_path: Path) -> None:
    one, other = written(small, tmp_path / "one"), written(small, tmp_path / "other")
    assert one.written == other.written > 0
    assert written(small, tmp_path / "one").written == 0


def test_what_was_taken_out_of_hidden_cases_is_remembered_only_while_it_holds(
    small: SmallBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = small.folder / "book.yaml"
    settings.write_text("title: B\npublish: {hide: [checks]}\n", "utf-8")
    looked: list[str] = []
    real = kb.search_tables._gone

    def noted(whole: Document, left: Document) -> Gone:
        looked.append(whole.case)
        return real(whole, left)

    monkeypatch.setattr(kb.search_tables, "_gone", noted)
    written(small, tmp_path / "kept")
    assert "A2" in looked
    everyone = set(looked)
    changes: list[tuple[Change, set[str]]] = [
        (lambda b: b.write("A1", closed("A1", "fuse/blown", symptom="hum")), set()),
        (lambda b: b.write("A2", closed("A2", "fuse/blown", symptom="hum",
            checks="[{check: tap-valves, outcome: no-change, note: Altogether unheard}]")), {"A2"}),
        (lambda b: vocabulary(b, "causes", "plug/loose: {label: Plug}\n"), everyone - {"A1"}),
        (lambda b: settings.write_text("title: B\npublish: {hide: [note]}\n", "utf-8"), {"A2"}),
    ]  # fmt: skip
    for number, (change, again) in enumerate(changes):
        change(small)
        looked.clear()
        written(small, tmp_path / "kept")
        assert set(looked) == again
        with Book.open(small.folder, tmp_path / f"cache-{number}") as fresh:
            fresh.write_site(tmp_path / str(number))
        assert contents(tmp_path / "kept") == contents(tmp_path / str(number))
    said = "".join(text.decode("utf-8", "replace") for text in contents(tmp_path / "kept").values())
    assert "unheard" not in said


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork a process")
def test_helpers_write_the_very_same_site(
    sample: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sample.write_site(tmp_path / "alone")
    monkeypatch.setattr(hands, "FEW", 10)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    report = sample.write_site(tmp_path / "together")
    assert contents(tmp_path / "alone") == contents(tmp_path / "together")
    assert report.written == len(contents(tmp_path / "together")) - 1


def test_a_large_book_is_asked_through_the_faults_of_its_last_stage(
    sample: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in (kb.trails, kb.replaying):
        monkeypatch.setattr(module, "LARGE", 40)
    monkeypatch.setattr(kb.replaying, "LATEST", 15)
    sample.write_site(tmp_path)
    with sample._opened.store.reading() as connection:  # type: ignore[union-attr]
        known = kb.trails.reading.known_faults(connection)
        trails = kb.trails.Trails(connection, sample.vocabulary, sample.recogniser)
    stage = kb.faults.stages.stage(known)
    assert stage <= (trails.asked or 0) <= stage + 1 < known
    text = read(tmp_path / "cases" / f"{_told(sample, trails).case.lower()}.html").text
    assert f"what the first {trails.asked} faults of the book would have said" in text
    said = read(tmp_path / "how-good.html").text
    assert "Every fault that came in since" in said


def _told(book: Book, trails: kb.trails.Trails) -> Case:
    """A case whose page tells what the book would have said."""
    return next(case for case in book.cases() if any(t.at_intake for t in trails.of(case)))
