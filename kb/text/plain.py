"""Markdown as a person would read it aloud.

Most notes use little of Markdown. What has no mark that could mean something is read without the
parser, which takes a hundred times as long.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markdown_it.token import Token

BETWEEN_BLOCKS = " · "
LONGEST_READ = 30_000
"""Characters of a text that are read: snippets come from there."""

_STARS = re.compile(r"\*{2,}")
_PARAGRAPH = re.compile(r"\n[ \t]*\n")
_HEADING = re.compile(r"#{1,6} [^\n#]*")
# What may make more of a text than paragraphs and plain headings: HTML, a table, a tab. At the
# start of a line (which is made to have a line end before it) a list, quote, code, the definition
# of a link, a heading that is not plain, or what underlines one.
_MARKS = re.compile(r"[<>|\t\x00]")
_STRUCTURE = re.compile(
    r"\n(?: {0,3}(?:[-+*](?: |\n|$)|--|=|\*\*\*|___|```|~~~|\[|\d{1,9}[.)](?: |\n|$)"
    r"|-[ \-]+(?:\n|$)|[*_][ *_]+(?:\n|$))| {4}| +#|#(?!#{0,5} [^\n#]*(?:\n|$)))"
)
# What may be more than itself within a line, but for asterisks. An underline between two letters
# is nothing; the choice is put this way because one set of characters in front is looked for fast.
_INLINE = re.compile(r"[\\`\[\]&~_](?:(?<!_)|(?!\w)|(?=_)|(?<!\w_))")
# Emphasis that can be nothing else: it opens before and closes behind a letter or digit, and on the
# other side of the asterisks there is none. Within it are no asterisks.
_EMPHASIS = re.compile(r"(?<![\w*])(\*\*?)([^\W_](?:[^*]*[^\W_])?)\1(?![\w*])")


def plain_text(markdown: str) -> str:
    """One line, without marks, blocks set apart; no asterisk is left in it."""
    markdown = markdown[:LONGEST_READ]
    simple = not (
        _MARKS.search(markdown)
        or "  \n" in markdown
        or markdown.endswith("  ")
        or _STRUCTURE.search("\n" + markdown)
    )
    found = _simple_blocks(markdown) if simple else _blocks(markdown)
    blocks = (" ".join(block.split()) for block in found)
    text = BETWEEN_BLOCKS.join(block for block in blocks if block)
    if "*" in text:
        text = " ".join(_STARS.sub("", text).split()).replace("*", "∗")
    return text


def _simple_blocks(text: str) -> Iterator[str]:
    """The blocks of a text that holds paragraphs and plain headings only."""
    for paragraph in _PARAGRAPH.split(text):
        lines: list[str] = []
        for line in paragraph.split("\n") if "#" in paragraph else ():
            if _HEADING.fullmatch(line):
                yield _line("\n".join(lines))
                yield _line(line.lstrip("#").strip())
                lines = []
            else:
                lines.append(line)
        yield _line("\n".join(lines) if "#" in paragraph else paragraph)


def _line(text: str) -> str:
    if not _INLINE.search(text):
        bare = _EMPHASIS.sub(r"\2", text) if "*" in text else text
        if "*" not in bare:
            return bare
    tokens = _reader().parseInline(text.strip())
    return "".join(part for token in tokens for part in _inline(token.children or []))


def _blocks(markdown: str) -> Iterator[str]:
    for token in _reader().parse(markdown):
        if token.type == "inline":
            yield "".join(_inline(token.children or []))
        elif token.type in ("fence", "code_block"):
            yield token.content


def _inline(children: Sequence[Token]) -> Iterator[str]:
    for child in children:
        if child.type in ("softbreak", "hardbreak"):
            yield " "
        elif child.type == "image":
            yield "".join(_inline(child.children or []))
        else:
            yield child.content


@cache
def _reader() -> MarkdownIt:
    from markdown_it import MarkdownIt

    return MarkdownIt("commonmark", {"html": False}).enable("table")
