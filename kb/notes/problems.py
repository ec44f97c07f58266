"""Faults in what people wrote, with their places, and the one collector that words the place."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Protocol

from msgspec import Struct

from kb.notes.vocabulary import nearest

MOST_PER_FILE = 50
MOST_COMPARED = 2_000_000
"""How many pairs of letters are compared in one file to find the nearest of the known words: what
a person gets wrong is far below it, and a file made to keep the program busy is soon through."""
FORBIDDEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
"""Control characters and the like, which no text file holds and which a terminal would obey."""
FEW_WORDS = 12
"""So many words can be named in a message."""


class Problem(Struct, frozen=True):
    """A fault in a note or the vocabulary. Line and column count characters from 1.

    An `error` keeps a note out of the index; a `warning` does not.
    """

    file: str
    line: int
    column: int
    severity: str
    message: str
    suggestion: str | None = None

    def __str__(self) -> str:
        hint = f" (did you mean {self.suggestion}?)" if self.suggestion else ""
        label = "warning: " if self.severity == "warning" else ""
        return f"{self.file}:{self.line}:{self.column}: {label}{self.message}{hint}"


class Mark(Protocol):
    """A place in the front matter, counted from 0."""

    line: int
    column: int


class Log:
    """Collects the problems of one file. `first_line` is where its YAML starts, from 1."""

    def __init__(self, file: str, first_line: int = 1) -> None:
        self.file = file
        self.first_line = first_line
        self.problems: list[Problem] = []
        self._compared = 0

    def error(self, mark: Mark, message: str, suggestion: str | None = None) -> None:
        """Report a fault that keeps the note out of the index."""
        self.at(mark.line + self.first_line, mark.column + 1, message, suggestion)

    def warning(self, mark: Mark, message: str, suggestion: str | None = None) -> None:
        """Report something that is probably not what the writer meant."""
        self.at(mark.line + self.first_line, mark.column + 1, message, suggestion, "warning")

    def unknown(self, mark: Mark, what: str, word: str, known: Iterable[str]) -> None:
        """Report a word that is none of the known ones: the nearest of them, or all if few."""
        if self.full:
            return
        names = list(known)
        few = f": it can be {', '.join(names)}" if 0 < len(names) <= FEW_WORDS else ""
        self.error(mark, f"unknown {what} '{shorten(word)}'{few}", self._nearest(word, names))

    def at(
        self,
        line: int,
        column: int,
        message: str,
        suggestion: str | None = None,
        severity: str = "error",
    ) -> None:
        """Report a fault at a place counted from 1."""
        if not self.full:
            self.problems.append(Problem(self.file, line, column, severity, message, suggestion))

    def _nearest(self, word: str, names: list[str]) -> str | None:
        self._compared += len(word) * sum(map(len, names))
        return nearest(word, names) if self._compared <= MOST_COMPARED else None

    @property
    def full(self) -> bool:
        """True once so much is wrong that no more is reported."""
        return len(self.problems) >= MOST_PER_FILE

    @property
    def failed(self) -> bool:
        """True if an error was reported."""
        return any(p.severity == "error" for p in self.problems)


def shorten(text: str, most: int = 60) -> str:
    """`text` on one line, cut to `most` characters, control characters shown as escapes."""
    flat = " ".join(text.split())
    flat = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in flat)
    return flat if len(flat) <= most else flat[: most - 1] + "…"
