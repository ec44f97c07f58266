"""The words and terms of a text, fast: each piece of text is looked at once and remembered.

What a word is stands in `words`. A piece is a run of joined words, or a number with the word behind
it, so that `tokens` of a text are the tokens of its pieces, one after the other.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from itertools import chain
from typing import TypeVar

from kb.text.lists import PAST_FORMS, STOP_WORDS
from kb.text.words import JOINED, stem, tokens

# A unit is made of letters alone and ends where its run of joined words ends; a number in front of
# anything else is a piece of its own.
PIECE = re.compile(
    r"\d+(?:\.\d+)?[ \t\u00a0\u2009\u202f](?:[^\W\d_][\u0300-\u036f]*){1,7}"
    r"(?![\u0300-\u036f]|(?:['’ʼ]|[-‐‑._]*)[^\W_])"
    rf"|{JOINED}"
)

T = TypeVar("T")

NUMBER = ""
"""Stands among terms for a number at the end, which is one piece with a unit behind it."""

_MOST_REMEMBERED = 1 << 16
_BEHIND = ".,;:!?"


class _Remembered(dict[str, T]):
    """What was found out about pieces; most pieces of a book come again and again."""

    def __init__(self, find: Callable[[str], T]) -> None:
        self._find = find

    def __missing__(self, piece: str) -> T:
        if len(self) >= _MOST_REMEMBERED:
            self.clear()
        found = self[piece] = self._find(piece)
        return found


def _find_words(piece: str) -> str:
    return " ".join(token.text for token in tokens(piece) if not token.compound)


def _find_terms(piece: str) -> tuple[str, ...]:
    return tuple(stem(token.text) for token in tokens(piece) if token.text not in STOP_WORDS)


def _find_terms_between(part: str) -> frozenset[str]:
    terms = frozenset(terms_in(pieces(part)))
    return terms | {NUMBER} if part[-1:].isdigit() else terms


def _find_first_letter(part: str) -> str:
    word = part.rstrip(_BEHIND).lower()
    # A stem begins as its word does, except where the past of a verb was put into the present.
    plain = word.isascii() and word.isalpha() and word not in PAST_FORMS
    return word[0] if plain else ""


terms_of = _Remembered(_find_terms).__getitem__
"""The terms of one piece: a stem, or a compound as it is."""
terms_between_spaces = _Remembered(_find_terms_between).__getitem__
"""The terms of what stands between two spaces, and `NUMBER` where a unit may follow."""
first_letter_of = _Remembered(_find_first_letter).__getitem__
"""The letter that every term of what stands between two spaces begins with, or nothing where only
a closer look can tell. It is found without a stem."""
_words_of = _Remembered(_find_words).__getitem__


def pieces(text: str) -> list[str]:
    """The pieces of a text in order."""
    return PIECE.findall(text)


@lru_cache(maxsize=1 << 12)
def read_label(text: str) -> tuple[str, tuple[str, ...]]:
    """The plain words and the terms of a label or synonym, which many notes share."""
    found = pieces(text)
    return plain_words(found), tuple(terms_in(found))


def plain_words(found: Iterable[str]) -> str:
    """The plain words of pieces, joined by single spaces."""
    joined = " ".join(map(_words_of, found))
    return " ".join(joined.split()) if "  " in joined else joined.strip()


def terms_in(found: Iterable[str]) -> Iterator[str]:
    """The terms of pieces in order."""
    return chain.from_iterable(map(terms_of, found))
