"""Two writers and four readers on one book for a minute; print what they met.

    python tests/benchmarks/crowd.py [--seconds 60]

A writer changes a note, brings the index up to date, and only then tells the number it wrote. A
reader that has been told a number must find it, or a later one; a reader that never closes the book
does so too, and one that opens it afresh each time. Ends with status 1 after any error or any stale
answer.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from multiprocessing.sharedctypes import Synchronized
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from small_book import SmallBook, closed

from kb.book import Book

NOTES = ("W0", "W1")


def said(number: int) -> str:
    """A complaint that carries a number."""
    return f"It crackles at mark{number}"


def marks(book: Book, note: str) -> list[int]:
    """The numbers that a search finds in a writer's note, and those of the note itself."""
    found = [h for h in book.search("crackles mark", limit=100).hits if h.case == note]
    words = " ".join(h.snippet for h in found).replace("*", "").split()
    return [int(w.removeprefix("mark")) for w in words if w.startswith("mark")]


def write(small: SmallBook, which: int, told: Synchronized[int], until: float) -> int:
    """Change a note and bring the index up to date, again and again."""
    done = 0
    while time.monotonic() < until:
        note = NOTES[which]
        text = closed(note, "fuse/blown", complaint=said(told.value + 1))
        new = small.folder / f"{note}.new"  # as a good editor does: no reader meets half a note
        new.write_text(text, encoding="utf-8")
        new.replace(small.path(note))
        with small.open() as book:
            book.index(rebuild=done % 20 == 19)
        told.value += 1
        done += 1
    return done


def read(small: SmallBook, told: list[Synchronized[int]], stays_open: bool, until: float) -> int:
    """Ask again and again; raises AssertionError for a stale answer."""
    done = 0
    kept = small.open() if stays_open else None
    while time.monotonic() < until:
        before = [one.value for one in told]
        book = kept or small.open()
        for note, number in zip(NOTES, before, strict=True):
            found = marks(book, note)
            assert found, f"{note} was not found"
            assert max(found) >= number, f"{note}: told {number}, found {found}"
        book.diagnose("crackles", family="drover-22")
        if kept is None:
            book.close()
        done += 1
    if kept is not None:
        kept.close()
    return done


def one(work: Callable[..., int], arguments: tuple[Any, ...], results: Any, name: str) -> None:
    """Do the work of one process and say how it went."""
    try:
        results.put((name, work(*arguments), ""))
    except BaseException:
        results.put((name, 0, traceback.format_exc()))


def main() -> int:
    """Print the table."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--seconds", type=float, default=60.0)
    chosen = reader.parse_args()
    spawn = multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory() as top:
        small = SmallBook(Path(top) / "book", Path(top) / "cache")
        for i in range(40):
            small.write(f"C{i}", closed(f"C{i}", "carbon-resistor/noisy", complaint="It hums"))
        for note in NOTES:
            small.write(note, closed(note, "fuse/blown", complaint=said(0)))
        with small.open() as book:
            book.index()
        told = [spawn.Value("q", 0) for _ in NOTES]
        results = spawn.Queue()
        until = time.monotonic() + chosen.seconds
        jobs = [(f"writer {i}", write, (small, i, told[i], until)) for i in range(len(NOTES))]
        jobs += [(f"reader {i}", read, (small, told, i < 2, until)) for i in range(4)]
        processes = [
            spawn.Process(target=one, args=(work, arguments, results, name))
            for name, work, arguments in jobs
        ]
        for process in processes:
            process.start()
        found = sorted(results.get(timeout=chosen.seconds + 120) for _ in processes)
        for process in processes:
            process.join()
    for name, done, fault in found:
        print(f"{name:10}{done:8} rounds  {'error' if fault else 'no error'}")
        if fault:
            print(fault)
    return 1 if any(fault for *_, fault in found) else 0


if __name__ == "__main__":
    sys.exit(main())
