"""What the targets need: pieces of the sample book, and small books in a folder of their own."""

from __future__ import annotations

import os
import tempfile
from functools import cache
from importlib import import_module
from pathlib import Path

from small_book import VOCABULARY, SmallBook, closed

from kb.book import Book
from kb.notes.read_vocabulary import read_vocabulary
from kb.notes.vocabulary import Vocabulary
from kb.resources import sample_book

# Loaded before the guard stands: libraries look at the system when they are first imported.
for _library in (
    "numpy",
    "scipy.special",
    "scipy.optimize",
    "sqlalchemy",
    "markdown_it",
    "filelock",
    "rich.table",
):
    import_module(_library)
for _module in ("kb.publishing", "kb.checking", "kb.searching", "kb.weak", "kb.text.index"):
    import_module(_module)


@cache
def notes() -> tuple[bytes, ...]:
    """The notes of the sample book."""
    return tuple(path.read_bytes() for path in sorted(sample_book().rglob("cases/**/*.md")))


@cache
def vocabulary_files() -> dict[str, tuple[bytes, ...]]:
    """Each vocabulary file: of the small book, and the start of the sample book's."""
    found = {}
    for kind, small in VOCABULARY.items():
        whole = (sample_book() / "vocabulary" / f"{kind}.yaml").read_bytes()
        found[kind] = (small.encode(), whole[: whole.find(b"\n", 1000) + 1])
    return found


@cache
def words() -> tuple[bytes, ...]:
    """The different words of the sample book's notes."""
    return tuple(sorted({word for note in notes() for word in note.split()}))


@cache
def keys() -> tuple[bytes, ...]:
    """The small book's keys of every kind, and the outcomes of its checks."""
    known = vocabulary()
    names = (*known.families, *known.symptoms, *known.causes, *known.checks)
    outcomes = (o for check in known.checks.values() for o in check.outcomes)
    return tuple(name.encode() for name in (*names, *outcomes, "not-showing"))


@cache
def vocabulary() -> Vocabulary:
    """The small book's words."""
    return read_vocabulary({k: text.encode() for k, text in VOCABULARY.items()}).vocabulary


@cache
def folder() -> Path:
    """A folder for this process, taken away when it ends."""
    made = tempfile.TemporaryDirectory(prefix="fuzz-")
    _kept.append(made)
    return Path(made.name).resolve()


_kept: list[tempfile.TemporaryDirectory[str]] = []


@cache
def media_book() -> Path:
    """A book with media: a picture, a sound, a link that leads out, a pipe, a folder."""
    book = folder() / "media-book"
    (book / "media").mkdir(parents=True)
    (book / "cases" / "2024").mkdir(parents=True)
    (folder() / "outside.png").write_bytes(b"secret")
    (book / "media" / "vent.png").write_bytes(b"a picture")
    (book / "media" / "hum.wav").write_bytes(b"a sound")
    (book / "media" / "folder.png").mkdir()
    (book / "media" / "link.png").symlink_to(folder() / "outside.png")
    if hasattr(os, "mkfifo"):
        os.mkfifo(book / "media" / "pipe.png")
    return book


@cache
def asked_book() -> Book:
    """A small book with an index, to be asked."""
    small = written(folder() / "asked")
    book = small.open()
    book.index()
    return book


def written(top: Path) -> SmallBook:
    """A book of twelve cases with a cache beside it."""
    small = SmallBook(top / "book", top / "cache")
    causes = ("carbon-resistor/noisy", "fuse/blown", "electrolytic-capacitor/high-esr")
    for i in range(12):
        small.write(f"C{i}", closed(f"C{i}", causes[i % 3], complaint=f"It crackles and hums {i}",
            checks="[{check: tap-valves, outcome: crackle}]", body="# Warm crackle\n\n100 Hz of hum, *high-esr*."))  # fmt: skip
    return small
