"""From text to words: what counts as one, how it is folded, and its stem.

A word is a run of letters and digits; accents, letter case and typographic forms are folded away.
Two things are found both whole and in parts: words joined by a hyphen, dot or underscore
(`high-esr`, `2024-0117`) and a number with its unit (`100 Hz`, `47 kΩ`). Part types such as
`12AX7` are one word. Stems are Porter's second English algorithm (Snowball "english"), in the copy
that Whoosh carries, after irregular past forms of verbs were put into the present.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import lru_cache

from msgspec import Struct

from kb.text.lists import LONE_UNITS, PAST_FORMS, STOP_WORDS, UNITS
from kb.text.quiet import whoosh_stem


class Token(Struct, frozen=True):
    """A word of a text. `start` and `end` are offsets into the text as it was given.

    A `compound` spans the parts that follow it.
    """

    text: str
    start: int
    end: int
    compound: bool = False


LETTERS = r"[^\W_]++(?:[\u0300-\u036f]++[^\W_]*+)*+"
_WORD = re.compile(rf"{LETTERS}(?:['’ʼ]{LETTERS})*")
JOINED = rf"{_WORD.pattern}(?:[-‐‑._]+{_WORD.pattern})*"
_JOINED = re.compile(JOINED)
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_WITH_UNIT = re.compile(r"(\d+(?:\.\d+)?)([^\W\d_]+)")
_GAP = re.compile(r"[ \t\u00a0\u2009\u202f]?(?=\S)")

_LONGEST = 100
_FOLDED = str.maketrans({"’": "'", "ʼ": "'", "‐": "-", "‑": "-", "µ": "u", "μ": "u"})


def fold(text: str) -> str:
    """Lower case without accents or typographic variants; `µ` becomes `u` as in `uF`.

    A word longer than 100 letters is cut there.
    """
    if text.isascii():
        return text.lower()[:_LONGEST]
    apart = unicodedata.normalize("NFKD", text.translate(_FOLDED))
    bare = "".join(c for c in apart if not unicodedata.combining(c))
    return unicodedata.normalize("NFKC", bare.casefold().translate(_FOLDED))[:_LONGEST]


def tokens(text: str) -> list[Token]:
    """All words of a text in order, each compound before its parts."""
    found: list[Token] = []
    after = 0
    for run in _JOINED.finditer(text):
        start, end = run.span()
        if start < after:
            continue
        written = run[0]
        if written.isascii() and written.isalpha():  # nearly all: spares the look at the joints
            found.append(Token(fold(written), start, end))
        else:
            after = _add_run(text, run, found)
    return found


def plain_tokens(text: str) -> list[Token]:
    """The words of a text in order, compounds only as their parts: what a phrase is made of."""
    return [token for token in tokens(text) if not token.compound]


def stems(text: str) -> list[str]:
    """The stems of a text in order, compounds as their parts, without stop words."""
    return [stem(t.text) for t in plain_tokens(text) if t.text not in STOP_WORDS]


@lru_cache(maxsize=1 << 16)
def stem(word: str) -> str:
    """The stem of a folded word; a word with digits or letters outside a to z is its own stem."""
    if word.isascii() and word.replace("'", "").isalpha():
        return whoosh_stem(PAST_FORMS.get(word, word)) or word
    return word


def _add_run(text: str, run: re.Match[str], found: list[Token]) -> int:
    """Add the words of one run of joined words; returns where the next run may start."""
    number = _NUMBER.fullmatch(run[0])
    if number:
        return _add_number(text, run.start(), run.end(), found)
    parts = list(_WORD.finditer(text, run.start(), run.end()))
    if len(parts) > 1 and not _WITH_UNIT.fullmatch(run[0]):
        found.append(Token(fold(run[0]), run.start(), run.end(), compound=True))
        for part in parts:
            found.extend(_single(text, part.start(), part.end()))
    else:
        found.extend(_single(text, run.start(), run.end()))
    return run.end()


def _add_number(text: str, start: int, end: int, found: list[Token]) -> int:
    """Add a number, with the unit that stands behind it after a space."""
    gap = _GAP.match(text, end)
    unit = gap and _JOINED.match(text, gap.end())
    if unit and (len(unit[0]) > 1 or unit[0] in LONE_UNITS):
        written = UNITS.get(fold(unit[0]))
        if written:
            number = fold(text[start:end])
            found.append(Token(number + written, start, unit.end(), compound=True))
            found.append(Token(number, start, end))
            found.append(Token(written, unit.start(), unit.end()))
            return unit.end()
    found.append(Token(fold(text[start:end]), start, end))
    return end


def _single(text: str, start: int, end: int) -> Iterator[Token]:
    """One word without joints: as it is, or a number and its unit written together."""
    unit = _WITH_UNIT.fullmatch(text, start, end)
    written = unit and UNITS.get(fold(unit[2]))
    if unit and written:
        number = fold(unit[1])
        yield Token(number + written, start, end, compound=True)
        yield Token(number, start, unit.end(1))
        yield Token(written, unit.start(2), end)
    elif folded := fold(text[start:end]):
        yield Token(folded, start, end)
