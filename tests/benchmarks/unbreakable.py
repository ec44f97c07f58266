"""Kill `index` and `site` at every step of writing, and at random moments; print what came of it.

    python tests/benchmarks/unbreakable.py [--random 200]

After each blow the next command must give the answers of an undisturbed index, the next site must
be the undisturbed one, and no note may have changed. Ends with status 1 if anything did not.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from kill_steps import run
from small_book import SmallBook, closed

from kb.book import Book


def make(top: Path) -> SmallBook:
    """A book of forty cases and the index of it, then a morning's changes."""
    small = SmallBook(top / "book", top / "cache")
    causes = ("carbon-resistor/noisy", "fuse/blown", "electrolytic-capacitor/high-esr")
    for i in range(40):
        small.write(f"C{i}", closed(f"C{i}", causes[i % 3], complaint=f"It crackles and hums {i}"))
    index(small)
    for i in range(0, 40, 7):
        small.write(f"C{i}", closed(f"C{i}", causes[i % 2], complaint=f"It whistles {i}"))
    small.path("C3").unlink()
    small.write("C5", "---\nnot a note\n")
    return small


def index(small: SmallBook) -> None:
    """What `benchbook index` does."""
    with small.open() as book:
        book.index()


def answers(small: SmallBook, cache: Path | None = None) -> tuple[object, ...]:
    """Enough answers to notice any difference."""
    with Book.open(small.folder, cache or small.cache) as book:
        return (
            book.cases(),
            book.search("crackles hums whistles", limit=100),
            book.diagnose("crackles", family="drover-22"),
            book.weak_points(),
        )


def content(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def kill_after(seconds: float, work: Callable[[], object]) -> bool:
    """Do the work in a child that is killed after so long; True if it was still at work."""
    child = os.fork()
    if child == 0:
        try:
            work()
        finally:
            os._exit(0)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    _, ended = os.waitpid(child, 0)
    return os.WIFSIGNALED(ended)


def main() -> int:
    """Print the table."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--random", type=int, default=200, help="how many random kills")
    chosen = reader.parse_args()
    top = Path(tempfile.mkdtemp())
    small = make(top)
    notes = content(small.folder)
    wanted = answers(small, top / "undisturbed")
    before = top / "before"
    shutil.copytree(small.cache, before)
    bad = 0

    def restore() -> None:
        shutil.rmtree(small.cache)
        shutil.copytree(before, small.cache)

    print(f"{'what':32}{'blows':>8}{'struck':>8}{'wrong after':>13}")
    for name, die in (("index, killed at each step", True), ("index, disk full at each", False)):
        restore()
        _, steps = run(lambda: index(small))
        wrong = struck = 0
        for at in range(1, steps + 1):
            restore()
            status, _ = run(lambda: index(small), at, die)
            struck += status != 0
            wrong += answers(small) != wanted
        bad += wrong
        print(f"{name:32}{steps:8}{struck:8}{wrong:13}", flush=True)

    def write(folder: Path) -> None:
        with small.open() as book:
            book.write_site(folder)

    write(top / "clean")
    clean = content(top / "clean")
    for name, die in (("site, killed at each step", True), ("site, disk full at each", False)):
        folder = top / "site"
        _, steps = run(lambda: write(top / "counted"))
        shutil.rmtree(top / "counted")
        wrong = struck = 0
        for at in range(1, steps + 1):
            shutil.rmtree(folder, ignore_errors=True)
            status, _ = run(partial(write, folder), at, die)
            struck += status != 0
            write(folder)
            wrong += content(folder) != clean
        bad += wrong
        print(f"{name:32}{steps:8}{struck:8}{wrong:13}", flush=True)

    chance = random.Random(11)
    restore()
    started = time.monotonic()
    run(lambda: index(small))
    length = time.monotonic() - started
    wrong = struck = 0
    for _ in range(chosen.random):
        restore()
        struck += kill_after(chance.uniform(0, length), lambda: index(small))
        wrong += answers(small) != wanted
    bad += wrong
    print(f"{'index, killed at random':32}{chosen.random:8}{struck:8}{wrong:13}")
    touched = content(small.folder) != notes
    print(f"notes touched: {'yes' if touched else 'none'}")
    shutil.rmtree(top)
    return 1 if bad or touched else 0


if __name__ == "__main__":
    sys.exit(main())
