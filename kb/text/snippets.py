"""The stretch of a case's text that shows best why it was found.

Matches stand between two `**`. No other asterisks come out: in the text itself, pairs of them are
dropped and single ones become `∗`, so that whoever shows a snippet can split it at `**`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import cache

from markdown_it import MarkdownIt
from markdown_it.token import Token as Mark
from msgspec import Struct

from kb.text.question import Question
from kb.text.words import Token, stem, tokens

MARK = "**"
CUT = "…"
BETWEEN_BLOCKS = " · "

_STARS = re.compile(r"\*{2,}")
_SPACE = re.compile(r"\s+")


class _Match(Struct, frozen=True):
    """A place that the question names: offsets and what it matches."""

    start: int
    end: int
    what: tuple[str, ...]


def snippet(texts: Sequence[str], question: Question, width: int = 160) -> str:
    """The best stretch of at most about `width` characters from the Markdown texts.

    Best is the one that shows the most different words of the question, then the most matches;
    earlier texts win ties. Without any match it is the start of the first text that is not empty.
    """
    readable = [text for text in map(plain_text, texts) if text]
    best: tuple[tuple[int, int], str, list[_Match]] | None = None
    for text in readable:
        shown, worth = _best_window(_matches(text, question), width)
        if shown and (best is None or worth > best[0]):
            best = worth, text, shown
    if best is None:
        return _cut(readable[0], 0, [], width) if readable else ""
    _, text, shown = best
    return _cut(text, _start(text, shown, width), shown, width)


def plain_text(markdown: str) -> str:
    """Markdown as a person would read it aloud: one line, without marks, blocks set apart."""
    blocks = (_SPACE.sub(" ", block).strip() for block in _blocks(markdown))
    text = BETWEEN_BLOCKS.join(block for block in blocks if block)
    return _SPACE.sub(" ", _STARS.sub("", text)).strip().replace("*", "∗")


def _blocks(markdown: str) -> Iterator[str]:
    for token in _reader().parse(markdown):
        if token.type == "inline":
            yield "".join(_inline(token.children or []))
        elif token.type in ("fence", "code_block"):
            yield token.content


def _inline(children: Sequence[Mark]) -> Iterator[str]:
    for child in children:
        if child.type in ("softbreak", "hardbreak"):
            yield " "
        elif child.type == "image":
            yield "".join(_inline(child.children or []))
        else:
            yield child.content


@cache
def _reader() -> MarkdownIt:
    return MarkdownIt("commonmark", {"html": False}).enable("table")


def _matches(text: str, question: Question) -> list[_Match]:
    """Where the question's words and phrases stand in a text, in order and without overlaps."""
    words = set(question.word_stems)
    found: list[_Match] = []
    plain: list[tuple[Token, str]] = []
    for token in tokens(text):
        its_stem = stem(token.text)
        if its_stem in words:
            found.append(_Match(token.start, token.end, (its_stem,)))
        if not token.compound:
            plain.append((token, its_stem))
    for phrase in question.phrase_stems:
        for first in range(len(plain) - len(phrase) + 1):
            run = plain[first : first + len(phrase)]
            if all(its_stem == wanted for (_, its_stem), wanted in zip(run, phrase, strict=True)):
                found.append(_Match(run[0][0].start, run[-1][0].end, phrase))
    kept: list[_Match] = []
    for match in sorted(found, key=lambda m: (m.start, -m.end)):
        if not kept or match.start >= kept[-1].end:
            kept.append(match)
    return kept


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
