"""Print how long indexing, searching and asking take as a book grows, each beside a peer.

    python tests/benchmarks/foundation.py [--sizes 1000 10000 100000] [--only build search ask]

The books come from `generated_book`. Every figure is taken in a process of its own, one after the
other, so that peers see the same machine; on a busy one look at the ratios. Peers: Whoosh with its
ordinary writer and one stemmed TEXT field; SQLite's FTS5 with the same output (ten hits with
snippets, and how many there are in all); for a cold start a process that only imports click and
SQLAlchemy Core and opens the database.
"""

from __future__ import annotations

import argparse
import contextlib
import multiprocessing
import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from generated_book import complaints, name, write_book

from kb.book import Book
from kb.notes.folder import scan_notes
from kb.text import stems
from kb.text.lists import STOP_WORDS

IMPORTS = "import kb.cli.diagnose, kb.book, kb.diagnosing, kb.indexing, kb.learning"
COLD = """
import click, sqlalchemy, sys
engine = sqlalchemy.create_engine("sqlite:///" + sys.argv[1])
with engine.connect() as connection:
    connection.execute(sqlalchemy.text("SELECT count(*) FROM note"))
"""


class Place:
    """Where the files of one size lie."""

    def __init__(self, top: Path, notes: int) -> None:
        self.book = top / f"book-{notes}"
        self.cache = top / f"cache-{notes}"
        self.whoosh = top / f"whoosh-{notes}"
        self.fts = top / f"fts-{notes}.db"
        self.site = top / f"site-{notes}"

    def open(self) -> Book:
        """The book as a command would open it."""
        return Book.open(self.book, self.cache)

    def database(self) -> Path:
        """The database that the book's index made."""
        return next(self.cache.rglob("book.db"))

    def texts(self) -> list[tuple[str, str]]:
        """Case number and text of each note, as the peers get it."""
        found = []
        for file in scan_notes(self.book).files:
            front, _, body = (self.book / file.path).read_text("utf-8")[4:].partition("\n---\n")
            said = next(line for line in front.split("\n") if line.startswith("complaint:"))
            found.append((Path(file.path).stem, f"{said[10:]}\n{body}"))
        return found


def timed(work: Callable[[], object]) -> float:
    """Seconds that a piece of work takes."""
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


class Memory:
    """The most memory that this process and those it started held at once, in megabytes.

    Looked at every 20 ms where the system tells (Linux); elsewhere it stays 0. A high-water mark
    of the system would count for a child what its parent held when it was started.
    """

    def __init__(self) -> None:
        self.most = 0.0
        self._over = threading.Event()
        self._watcher = threading.Thread(target=self._watch, daemon=True)

    def __enter__(self) -> Memory:
        self._watcher.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._watcher.join()

    def _watch(self) -> None:
        page = os.sysconf("SC_PAGE_SIZE") if hasattr(os, "sysconf") else 0
        while not self._over.wait(0.02):
            pages = 0
            with contextlib.suppress(OSError, ValueError, IndexError):
                me = os.getpid()
                children = Path(f"/proc/{me}/task/{me}/children").read_text().split()
                for process in (str(me), *children):
                    with contextlib.suppress(OSError, ValueError, IndexError):
                        pages += int(Path(f"/proc/{process}/statm").read_text().split()[1])
            self.most = max(self.most, pages * page / 2**20)


# ---------------------------------------------------------------- what is measured


def build(place: Place) -> dict[str, float]:
    """Everything that `benchbook index` does on a new book."""
    with Memory() as memory, place.open() as book:
        seconds = timed(book.index)
    return {"seconds": seconds, "MB": memory.most}


def build_whoosh(place: Place) -> dict[str, float]:
    """The text alone: Whoosh as its own documentation begins."""
    from whoosh.analysis import StemmingAnalyzer
    from whoosh.fields import ID, TEXT, Schema
    from whoosh.index import create_in

    texts = place.texts()
    place.whoosh.mkdir()
    schema = Schema(case=ID(stored=True), text=TEXT(analyzer=StemmingAnalyzer(), stored=True))

    def write() -> None:
        writer = create_in(str(place.whoosh), schema).writer()
        for case, text in texts:
            writer.add_document(case=case, text=text)
        writer.commit()

    with Memory() as memory:
        seconds = timed(write)
    return {"seconds": seconds, "MB": memory.most}


def build_fts(place: Place) -> dict[str, float]:
    """The text alone, in SQLite."""
    texts = place.texts()

    def write() -> None:
        with sqlite3.connect(place.fts) as connection:
            connection.execute(
                "CREATE VIRTUAL TABLE note USING fts5(number, text, tokenize='porter unicode61')"
            )
            connection.executemany("INSERT INTO note VALUES (?, ?)", texts)

    return {"seconds": timed(write)}


def keep_up(place: Place) -> dict[str, float]:
    """In a process that has the book open: nothing changed, and one note changed, medians."""
    with place.open() as book:
        book.index()
        nothing = statistics.median(timed(book.index) for _ in range(9))
        changed = []
        for number in range(9):
            path = place.book / "cases" / "000" / f"{name(number * 7)}.md"
            path.write_text(path.read_text("utf-8") + f"\nLooked at again, {number}.\n", "utf-8")
            changed.append(timed(book.index))
    return {"nothing": nothing, "one": statistics.median(changed)}


def search(place: Place, questions: Sequence[str]) -> dict[str, float]:
    """A search in a process that has the book open, and how much of it is the ranking alone."""
    from kb.searching import Filters
    from kb.searching import search as ask

    with place.open() as book:
        book.index()
        whole = _median(questions, lambda text: book.search(text))
        index = book._opened  # the ranking without the look for changed notes
        assert index is not None
        plain = _median(questions, lambda text: ask(index, book.recogniser, text, Filters(), 10))
    return {"whole": whole, "ranking": plain}


def search_fts(place: Place, questions: Sequence[str]) -> dict[str, float]:
    """FTS5: any of the words, ten hits with snippets by bm25, and how many there are."""
    connection = sqlite3.connect(place.fts)

    def ask(text: str) -> object:
        words = [word for word in text.lower().split() if word not in STOP_WORDS]
        wanted = " OR ".join('"' + word.replace('"', "") + '"' for word in words)
        return (
            connection.execute(
                "SELECT number, bm25(note), snippet(note, 1, '**', '**', '…', 25) FROM note"
                " WHERE note MATCH ? ORDER BY rank LIMIT 10",
                (wanted,),
            ).fetchall(),
            connection.execute(
                "SELECT count(*) FROM note WHERE note MATCH ?", (wanted,)
            ).fetchone(),
        )

    return {"whole": _median(questions, ask)}


def _median(questions: Sequence[str], ask: Callable[[str], object]) -> float:
    for text in questions[:5]:
        ask(text)
    return statistics.median(timed(lambda text=text: ask(text)) for text in questions)  # type: ignore[misc]


def cold(place: Place, words: Sequence[str], imports: str = "", times: int = 7) -> dict[str, float]:
    """A whole command, and a process that only imports and opens the database, in turns."""
    command = [sys.executable, "-c", "from kb.cli import main; main()"]
    asked = [*command, "--book", str(place.book), *words]
    environment = {**os.environ, "BENCHBOOK_CACHE": str(place.cache)}
    # Both as they run where they are installed: their modules compiled beforehand.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    bare = [sys.executable, "-c", imports + COLD, str(place.database())]
    ours: list[float] = []
    theirs: list[float] = []
    for turn in range(-1, times):  # the first counts for nothing
        for line, taken in ((asked, ours), (bare, theirs)):
            seconds = timed(
                lambda line=line: subprocess.run(  # type: ignore[misc]
                    line, env=environment, check=True, capture_output=True
                )
            )
            if turn >= 0:
                taken.append(seconds)
    return {"ours": statistics.median(ours), "bare": statistics.median(theirs)}


def ask(place: Place) -> dict[str, float]:
    """`diagnose` and `weak-points` in a process that has the book open, medians."""
    from kb.diagnosing import Question, diagnose

    questions = complaints(7, 6)
    with place.open() as book:
        book.index()
        index = book._opened
        assert index is not None

        def rank(text: str) -> object:
            question = Question(text=text, access="live")
            mains = book.settings.mains_voltage
            return diagnose(index, book.vocabulary, book.recogniser, question, mains)

        return {
            "diagnose": _median(questions, rank),
            "whole": _median(questions, lambda text: book.diagnose(text, access="live")),
            "weak": statistics.median(timed(book.weak_points) for _ in range(3)),
        }


def site(place: Place) -> dict[str, float]:
    """The whole site: afresh, with nothing changed, and with a word more in one note."""

    def write() -> None:
        with place.open() as book:
            book.write_site(place.site)

    with Memory() as memory:
        afresh = timed(write)
    nothing = timed(write)
    path = place.book / "cases" / "000" / f"{name(3)}.md"
    path.write_text(path.read_text("utf-8") + "\nLooked at once more.\n", "utf-8")
    return {"afresh": afresh, "nothing": nothing, "one": timed(write), "MB": memory.most}


# ---------------------------------------------------------------- the tables


def alone(
    work: Callable[..., dict[str, float]], place: Place, *more: Sequence[str]
) -> dict[str, float]:
    """Do the work in a process of its own."""
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=spawn) as pool:
        return pool.submit(work, place, *more).result()


def print_build(place: Place, notes: int) -> None:
    """Build, memory, and keeping up."""
    ours, plain, fts = (alone(work, place) for work in (build, build_whoosh, build_fts))
    again = alone(keep_up, place)
    print(
        f"{notes:>8,}  build {ours['seconds']:7.2f} s  {ours['MB']:4.0f} MB"
        f" | Whoosh, text only {plain['seconds']:7.2f} s  {plain['MB']:4.0f} MB"
        f" | ratio {ours['seconds'] / plain['seconds']:.2f}"
        f" | FTS5, text only {fts['seconds']:6.2f} s\n"
        f"          nothing changed {again['nothing'] * 1e3:6.0f} ms"
        f" | one changed note {again['one'] * 1e3:6.0f} ms",
        flush=True,
    )


def print_search(place: Place, notes: int) -> None:
    """Warm searches of three and fourteen words, and a cold one."""
    for words in (3, 14):
        questions = [text for text in complaints(80, words) if stems(text)]
        ours = alone(search, place, questions)
        fts = alone(search_fts, place, questions)
        print(
            f"{notes:>8,}  search {words:2} words {ours['ranking'] * 1e3:6.2f} ms"
            f" (with the look for changes {ours['whole'] * 1e3:6.1f})"
            f" | FTS5 {fts['whole'] * 1e3:6.2f} ms"
            f" | ratio {ours['ranking'] / fts['whole']:.2f}",
            flush=True,
        )
    taken = alone(cold, place, ["search", "crackles", "when", "warm"])
    print(
        f"{notes:>8,}  cold search {taken['ours'] * 1e3:6.0f} ms"
        f" | click and SQLAlchemy alone {taken['bare'] * 1e3:6.0f} ms"
        f" | ratio {taken['ours'] / taken['bare']:.2f}",
        flush=True,
    )


def print_ask(place: Place, notes: int) -> None:
    """What is built on the counts."""
    answers, pages = alone(ask, place), alone(site, place)
    asked = alone(cold, place, ["diagnose", "crackles when warm"], IMPORTS)
    print(
        f"{notes:>8,}  diagnose {answers['diagnose'] * 1e3:6.1f} ms"
        f" (with the look for changes {answers['whole'] * 1e3:6.0f})"
        f" | weak-points {answers['weak'] * 1e3:6.0f} ms"
        f" | cold diagnose {asked['ours'] * 1e3:6.0f} ms, its imports alone"
        f" {asked['bare'] * 1e3:6.0f} ms, ratio {asked['ours'] / asked['bare']:.2f}\n"
        f"          site {pages['afresh']:6.1f} s  {pages['MB']:4.0f} MB"
        f" | nothing changed {pages['nothing']:5.2f} s | one changed note {pages['one']:5.2f} s",
        flush=True,
    )


def main() -> None:
    """Print the tables."""
    parts = {"build": print_build, "search": print_search, "ask": print_ask}
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--sizes", type=int, nargs="+", default=[1_000, 10_000])
    options.add_argument("--words", type=int, default=250, help="words of text per note")
    options.add_argument("--only", nargs="+", choices=parts, default=list(parts))
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as top:
        for notes in chosen.sizes:
            place = Place(Path(top), notes)
            write_book(place.book, notes, chosen.words)
            if "build" not in chosen.only:
                for work in (build, build_fts):
                    alone(work, place)
            for part in chosen.only:
                parts[part](place, notes)


if __name__ == "__main__":
    main()
