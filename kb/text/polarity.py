"""Which words of a sentence are said of the unit, and which are said not to be so.

A small set of rules for the plain sentences that owners speak, not a parser: a negator (`no`,
`not`, `without`, `doesn't`, …) reaches forward over a few words, over `or` and over lists that end
in one, and stops at any other comma, a full stop, `but`, `when` and the like. What it reaches is
negated. Turns of phrase that only look like a negation (`not only`, `no idea why`, `does not stop
humming`) are known.
"""

from __future__ import annotations

import re

from msgspec import Struct

from kb.text.lists import CEASING, CUTS, FILLERS, NEGATORS, NO_NEGATION, SCOPE_ENDS
from kb.text.words import Token, plain_tokens, stem

REACH = 3
"""How many words that carry meaning a negator reaches."""

_CEASING = frozenset(map(stem, CEASING))
_CLAUSE_END = re.compile(r"[.;:!?\n](?:\s|$)|\n|[()]|\s[-–—]\s")
_COMMA = re.compile(r"[,/&]")
_LIST = re.compile(
    r"[\w'’-]++(?:\s*+,\s*+(?!n?or\s)[\w'’-]++){0,12}+\s*+(?:,\s*+)?(?<=\s)n?or\s", re.IGNORECASE
)
"""The rest of `no hum, buzz or crackle` after a comma: single words up to an `or`, and not so many
of them that a text of commas would be read over and over."""

_TIME = re.compile(
    r"\b(?:after|within|(?<=\bon )for|(?<=\brunning )for|(?<=\bplaying )for)\s+"
    r"(?:(?:about|around|roughly|only|maybe|some|say|the|first|a|an|one|half|few|couple|of|good|"
    r"little|short|long|two|three|four|five|ten|fifteen|twenty|thirty|forty|sixty|\d+|or|to|so)\b"
    r"[\s–-]*)*"
    r"(?:while|bit|time|minutes?|mins?|hours?|hrs?)\b(?: or so\b)?",
    re.IGNORECASE,
)
A_WHILE = "after-a-while"
"""Stands for `after twenty minutes`, `after half an hour`, `on for a while`: time since it was
switched on, however it is put."""


class Word(Struct, frozen=True):
    """A word that carries meaning, with its place among them and the clause it stands in."""

    stem: str
    negated: bool
    clause: int
    text: str


def read(text: str) -> list[Word]:
    """The words of a text that carry meaning, each with whether it is negated."""
    found: list[Word] = []
    clause, scope = 0, _Scope()
    end = 0
    in_order = _with_times(text)
    for token, following in zip(in_order, [*in_order[1:], None], strict=False):
        between = text[end : token.start]
        if end and _CLAUSE_END.search(between + " "):
            clause += 1
            scope = _Scope()
        elif _COMMA.search(between):
            scope.comma(in_a_list=bool(_LIST.match(text, token.start)))
        end = token.end
        if token.text in CUTS:
            clause += 1
            scope = _Scope()
        if scope.take(token.text) or token.text in FILLERS or token.text in CUTS:
            continue
        its_stem = stem(token.text)
        negated = scope.over(its_stem)
        if negated and its_stem in _CEASING and following and following.text.endswith("ing"):
            continue  # "won't stop humming" hums, and nothing stops
        found.append(Word(its_stem, negated, clause, token.text))
    return found


class _Scope:
    """How far the last negator reaches."""

    def __init__(self) -> None:
        self._left = 0
        self._fresh = False

    def take(self, word: str) -> bool:
        """Look at a word before it is judged; True if it is a negator, which means nothing else."""
        if word in NEGATORS:
            self._left, self._fresh = REACH, True
            return True
        if word in (NO_NEGATION if self._fresh else SCOPE_ENDS):
            self._left = 0
        return False

    def comma(self, in_a_list: bool) -> None:
        """A comma, stroke or the like between two words."""
        if self._left and not self._fresh:
            self._left = REACH if in_a_list else 0

    def over(self, its_stem: str) -> bool:
        """Whether a word that carries meaning is negated; uses up one word of the reach."""
        if self._left == 0:
            return False
        if self._fresh and its_stem in _CEASING:
            self._left = 0
        self._left = max(self._left - 1, 0)
        self._fresh = False
        return True


def _with_times(text: str) -> list[Token]:
    """The plain words of a text, a length of time since switching on as one word."""
    times = [match.span() for match in _TIME.finditer(text)]
    found: list[Token] = []
    for token in plain_tokens(text):
        inside = next((span for span in times if span[0] <= token.start < span[1]), None)
        if inside is None:
            found.append(token)
        elif not found or found[-1].start != inside[0]:
            found.append(Token(A_WHILE, *inside))
    return found
