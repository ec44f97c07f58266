"""Bytes that change in the cache, clocks that go wrong, folders that can't be written."""

from __future__ import annotations

import os
import random
import shutil
import time
from pathlib import Path

import pytest
from small_book import SmallBook

from kb import seal
from kb.book import Book


def answers(small: SmallBook) -> tuple[object, ...]:
    with small.open() as book:
        return (
            book.cases(),
            book.search("crackles hum repeats whistles", limit=100),
            book.search("no such wrods", limit=5),
            book.diagnose("crackles", family="drover-22"),
            book.weak_points(),
            book.refused(),
        )


@pytest.fixture
def wanted(small: SmallBook) -> tuple[object, ...]:
    with small.open() as book:
        book.index()
    return answers(small)


def cache_files(small: SmallBook) -> list[Path]:
    return sorted(p for p in small.cache.rglob("*") if p.is_file() and p.stat().st_size)


def flip(file: Path, at: int) -> None:
    data = bytearray(file.read_bytes())
    data[at] ^= 0x20
    file.write_bytes(data)


def test_a_flipped_byte_anywhere_in_the_cache_changes_no_answer(
    small: SmallBook, wanted: tuple[object, ...]
) -> None:
    chance = random.Random(5)
    for name in [p.relative_to(small.cache) for p in cache_files(small)]:
        files = {p.relative_to(small.cache): p for p in cache_files(small)}
        file = files.get(name) or chance.choice(
            [*files.values()]
        )  # an earlier blow had it made anew
        for at in {0, file.stat().st_size - 1, chance.randrange(file.stat().st_size)}:
            if file.exists() and at < file.stat().st_size:
                flip(file, at)
                assert answers(small) == wanted, f"byte {at} of {file.name}"


def test_a_flipped_byte_is_noticed_and_the_index_made_anew(
    small: SmallBook, wanted: tuple[object, ...]
) -> None:
    (database,) = small.cache.rglob("book.db")
    flip(database, database.stat().st_size // 2)
    flipped = database.read_bytes()
    with small.open() as book:
        assert book.index().added == 5
    assert database.read_bytes() != flipped
    assert answers(small) == wanted


def test_rot_that_no_date_tells_of_is_noticed_within_a_day(
    small: SmallBook, wanted: tuple[object, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    (database,) = small.cache.rglob("book.db")
    sealed = {p.name: seal._state(p) for p in cache_files(small)}
    flip(database, database.stat().st_size // 2)
    monkeypatch.setattr(seal, "_state", lambda p: sealed[p.name])
    cache = database.parent
    assert seal.looks_intact(cache)
    now = time.time_ns()
    monkeypatch.setattr(seal.time, "time_ns", lambda: now + seal.DAY_NS)
    assert not seal.looks_intact(cache)
    assert not seal.is_intact(cache)


@pytest.mark.parametrize("length", [0, 3, 4 << 20, (6 << 20) + 5])
def test_a_byte_is_missed_in_no_part_of_a_file(tmp_path: Path, length: int) -> None:
    file = tmp_path / "file"
    draw = random.Random(length)
    file.write_bytes(draw.randbytes(length))
    whole = seal._checksum(file)
    assert seal._checksum(file) == whole
    for at in range(0, length, 1 << 20):
        flip(file, min(at + draw.randrange(1 << 20), length - 1))
        assert seal._checksum(file) != whole
        whole = seal._checksum(file)


def test_files_that_were_only_copied_are_compared_and_kept(
    small: SmallBook, wanted: tuple[object, ...], tmp_path: Path
) -> None:
    shutil.copytree(small.cache, tmp_path / "copy")
    shutil.rmtree(small.cache)
    shutil.copytree(tmp_path / "copy", small.cache)
    (database,) = small.cache.rglob("book.db")
    before = database.stat().st_ino
    assert answers(small) == wanted
    assert database.stat().st_ino == before


def test_a_clock_that_was_put_back_does_no_harm(
    small: SmallBook, wanted: tuple[object, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    real = time.time_ns
    monkeypatch.setattr(time, "time_ns", lambda: real() - 40 * seal.DAY_NS)
    assert answers(small) == wanted
    small.write("A2", complaint="Something else altogether")
    with small.open() as book:
        assert [hit.case for hit in book.search("altogether").hits] == ["A2"]


def test_notes_dated_in_the_future_are_read_until_then(small: SmallBook) -> None:
    later = time.time() + 10**6
    os.utime(small.path("A2"), (later, later))
    with small.open() as book:
        book.index()
    text = small.path("A2").read_text(encoding="utf-8")
    changed = text.replace("complaint: ", "complaint: altogether ", 1)
    assert changed != text
    small.path("A2").write_text(changed, encoding="utf-8")
    os.utime(small.path("A2"), (later, later))
    with small.open() as book:
        assert [hit.case for hit in book.search("altogether").hits] == ["A2"]


def test_where_no_cache_can_be_written_the_book_still_answers_and_says_so(
    small: SmallBook, wanted: tuple[object, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    before = {p: p.stat().st_mtime_ns for p in cache_files(small)}
    small.write("A2", complaint="Something else altogether")
    real = os.access
    shut = str(small.cache)
    monkeypatch.setattr(
        os, "access", lambda path, mode: not str(path).startswith(shut) and real(path, mode)
    )
    with small.open() as book:
        assert [hit.case for hit in book.search("altogether").hits] == ["A2"]
        assert "for this once" in book.remarks[0]
        for_once = Path(book._for_once.name)  # type: ignore[union-attr]
        assert for_once.exists()
    assert not for_once.exists()
    assert {p: p.stat().st_mtime_ns for p in cache_files(small)} == before


def test_a_cache_of_another_version_is_made_anew(
    small: SmallBook, wanted: tuple[object, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as other:
        other.setattr("kb.indexing.__version__", "0.0.0-other")
        assert answers(small)[0] == wanted[0]
    assert answers(small) == wanted


def test_two_open_books_see_what_the_other_wrote(small: SmallBook) -> None:
    with small.open() as one, small.open() as other:
        one.index()
        other.index()
        for number in range(6):
            small.write("A2", complaint=f"word{number} altogether")
            (one, other)[number % 2].index()
            for book in (one, other):
                assert [h.case for h in book.search(f"word{number}").hits] == ["A2"]


def test_a_book_open_while_another_throws_the_index_away_goes_on(small: SmallBook) -> None:
    with small.open() as one:
        before = one.search("crackles")
        with Book.open(small.folder, small.cache) as other:
            other.index(rebuild=True)
        assert one.search("crackles") == before
        shutil.rmtree(next(small.cache.iterdir()) / "text")
        assert one.search("crackles") == before
