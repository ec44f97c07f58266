"""The stretch of a case's text that shows best why it was found.

Matches stand between two `**`. No other asterisks come out: in the text itself, pairs of them are
dropped and single ones become `∗`, so that whoever shows a snippet can split it at `**`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from itertools import accumulate

from msgspec import Struct

from kb.text.analysis import (
    NUMBER,
    PIECE,
    first_letter_of,
    terms_between_spaces,
    terms_of,
)
from kb.text.lists import UNITS
from kb.text.question import Question
from kb.text.words import Token, stem, tokens

MARK = "**"
CUT = "…"
_UNITS = frozenset((*UNITS, *UNITS.values(), *map(stem, UNITS)))


class _Match(Struct, frozen=True):
    """A place that the question names: offsets and what it matches."""

    start: int
    end: int
    what: tuple[str, ...]


def snippet(texts: Sequence[str], question: Question, width: int = 160) -> str:
    """The best stretch of at most about `width` characters from readable texts (`plain_text`).

    Best is the one that shows the most different words of the question, then the most matches;
    earlier texts win ties. Without any match it is the start of the first text.
    """
    best: tuple[tuple[int, int], str, list[_Match]] | None = None
    words, phrases = frozenset(question.word_stems), question.phrase_stems
    for text in texts:
        shown, worth = _best_window(_matches(text, words, phrases), width)
        if shown and (best is None or worth > best[0]):
            best = worth, text, shown
    if best is None:
        return _cut(texts[0], 0, [], width) if texts else ""
    _, text, shown = best
    return _cut(text, _start(text, shown, width), shown, width)


def _matches(text: str, words: Set[str], phrases: Sequence[tuple[str, ...]]) -> list[_Match]:
    """Where the question's words and phrases stand in a text, in order and without overlaps."""
    found = list(_words(text, words))
    if phrases:
        found += _phrases(text, phrases)
    kept: list[_Match] = []
    for match in sorted(found, key=lambda m: (m.start, -m.end)):
        if not kept or match.start >= kept[-1].end:
            kept.append(match)
    return kept


def _words(text: str, wanted: Set[str]) -> Iterator[_Match]:
    """Where a wanted stem stands. Only what may have one between two spaces is read closely."""
    parts = text.split(" ")
    ends = [0, *accumulate(map(len, parts))]  # without the spaces
    with_number = any(term[0].isdigit() or term in _UNITS for term in wanted)
    sought = wanted | {NUMBER} if with_number else wanted
    letters = {term[:1] for term in wanted} | {""}
    done = 0
    for at, letter in enumerate(map(first_letter_of, parts)):
        if letter not in letters or sought.isdisjoint(terms_between_spaces(parts[at])):
            continue
        # A number and its unit are one piece, which may have been read with the part before.
        for piece in PIECE.finditer(text, max(done, ends[at] + at)):
            if piece.start() >= ends[at + 1] + at:
                break
            done = piece.end()
            if wanted.isdisjoint(terms_of(piece[0])):
                continue
            for token in tokens(piece[0]):
                its_stem = stem(token.text)
                if its_stem in wanted:
                    yield _Match(
                        piece.start() + token.start, piece.start() + token.end, (its_stem,)
                    )


def _phrases(text: str, phrases: Sequence[tuple[str, ...]]) -> Iterator[_Match]:
    plain: list[tuple[Token, str]] = [
        (token, stem(token.text)) for token in tokens(text) if not token.compound
    ]
    for phrase in phrases:
        for first in range(len(plain) - len(phrase) + 1):
            run = plain[first : first + len(phrase)]
            if all(its_stem == wanted for (_, its_stem), wanted in zip(run, phrase, strict=True)):
                yield _Match(run[0][0].start, run[-1][0].end, phrase)


def _best_window(matches: Sequence[_Match], width: int) -> tuple[list[_Match], tuple[int, int]]:
    """The matches of the window that shows most, and what it is worth."""
    best: list[_Match] = []
    worth = (0, 0)
    for first, match in enumerate(matches):
        shown = [match]
        for other in matches[first + 1 :]:
            if other.end - match.start > width:
                break
            shown.append(other)
        value = (len({m.what for m in shown}), len(shown))
        if value > worth:
            best, worth = shown, value
    return best, worth


def _start(text: str, shown: Sequence[_Match], width: int) -> int:
    """Where to start so that the matches stand in the middle, at the start of a word."""
    first, last = shown[0].start, shown[-1].end
    if len(text) <= width:
        return 0
    spare = max(width - (last - first), 0)
    start = max(min(first - spare // 2, len(text) - width), 0)
    if start == 0 or text[start - 1] == " ":
        return start
    space = text.find(" ", start, first)
    return space + 1 if space >= 0 else first


def _cut(text: str, start: int, shown: Sequence[_Match], width: int) -> str:
    """Cut the text to the width at a space if there is one, and mark what is shown."""
    end = min(start + width, len(text))
    keep = max((match.end for match in shown), default=start)
    if end < len(text) and text[end] != " ":
        space = text.rfind(" ", max(keep, start + 1), end)
        end = space if space >= 0 else min(keep, end) if shown else end
    pieces = [CUT if start else ""]
    at = start
    for match in shown:
        stop = min(match.end, end)
        pieces += [text[at : match.start], MARK, text[match.start : stop], MARK]
        at = stop
    pieces += [text[at:end].rstrip(), CUT if end < len(text) else ""]
    return "".join(pieces)
