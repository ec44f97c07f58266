"""Killed at any step of writing, or on a full disk: the next command repairs it and is right."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest
from kill_steps import DIED, FORKS, run
from small_book import SmallBook, closed

from kb import indexing
from kb.book import Book
from kb.errors import CacheError

pytestmark = FORKS


def answers(book: Book) -> tuple[object, ...]:
    return (
        book.cases(),
        book.search("crackles hum repeats whistles", limit=100),
        book.diagnose("crackles", family="drover-22"),
        book.weak_points(),
        book.refused(),
    )


def change(small: SmallBook) -> None:
    """What a morning at the bench does: a note changed, one new, one gone, one broken."""
    small.write("A2", closed("A2", "fuse/blown", complaint="It whistles"))
    small.write("A9", closed("A9", "carbon-resistor/noisy", complaint="Crackles again"))
    small.path("A4").unlink(missing_ok=True)
    small.write("A5", "---\nnot a note\n")


def index(small: SmallBook) -> None:
    with small.open() as book:
        book.index()


def points(steps: int, most: int) -> list[int]:
    """`most` of the steps, the first and the last among them, the same each time.

    `tests/benchmarks/unbreakable.py` takes all of them.
    """
    between = random.Random(7).sample(range(2, steps), most - 2)
    return sorted([1, *between, steps])


@pytest.fixture
def wanted(small: SmallBook, tmp_path: Path) -> tuple[object, ...]:
    """The answers of an index that was never disturbed."""
    index(small)
    change(small)
    with Book.open(small.folder, tmp_path / "undisturbed") as book:
        return answers(book)


@pytest.mark.parametrize("die", [True, False], ids=["killed", "disk full"])
@pytest.mark.parametrize("start", ["fresh", "changed"])
def test_stopped_at_any_step_of_indexing_the_next_command_is_right(
    small: SmallBook, wanted: tuple[object, ...], tmp_path: Path, start: str, die: bool
) -> None:
    before = tmp_path / "before"
    shutil.rmtree(small.cache)
    if start == "changed":
        for name, text in {"A2": None, "A5": None}.items():
            small.write(name, text)
        index(small)
        change(small)
    else:
        small.cache.mkdir()
    notes = {p: p.read_bytes() for p in small.folder.rglob("*") if p.is_file()}
    shutil.copytree(small.cache, before)
    status, steps = run(lambda: index(small))
    assert status == 0
    assert steps > 20
    for at in points(steps, 8):
        shutil.rmtree(small.cache)
        shutil.copytree(before, small.cache)
        status, _ = run(lambda: index(small), at, die)
        assert status in ((DIED,) if die else (0, 1))
        with small.open() as book:
            assert answers(book) == wanted, f"stopped at step {at} of {steps}"
    assert {p: p.read_bytes() for p in small.folder.rglob("*") if p.is_file()} == notes


@pytest.mark.parametrize("die", [True, False], ids=["killed", "disk full"])
def test_stopped_at_any_step_of_writing_the_site_the_next_run_completes_it(
    small: SmallBook, tmp_path: Path, die: bool
) -> None:
    index(small)

    def write(folder: Path) -> None:
        with small.open() as book:
            book.write_site(folder)

    def content(folder: Path) -> dict[str, bytes]:
        return {
            str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()
        }

    write(tmp_path / "clean")
    wanted = content(tmp_path / "clean")
    status, steps = run(lambda: write(tmp_path / "counted"))
    assert status == 0
    for at in points(steps, 4):
        folder = tmp_path / f"site-{at}"
        status, _ = run(lambda folder=folder: write(folder), at, die)
        assert status in (0, DIED if die else 1)
        write(folder)
        assert content(folder) == wanted, f"stopped at step {at} of {steps}"
        shutil.rmtree(folder)


def test_a_second_site_of_a_book_waits_for_the_first_and_says_so(
    small: SmallBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    index(small)
    (cache,) = small.cache.iterdir()
    monkeypatch.setattr(indexing, "LOCK_SECONDS", 0.1)
    with small.open() as book:
        with indexing.locked(cache / "site.lock", "testing"):
            with pytest.raises(CacheError, match="writing a site of this book"):
                book.write_site(tmp_path / "site")
            assert not (tmp_path / "site").exists()
        assert book.write_site(tmp_path / "site").written > 0
