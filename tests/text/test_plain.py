"""Markdown read aloud: what is read without the parser reads as with it."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from kb.resources import sample_book
from kb.text import STOP_WORDS, stem, tokens
from kb.text import plain as reading
from kb.text.analysis import pieces, plain_words, terms_in

MARKS = "ab1 \n#-_.=:!()[]\\&;`~*x\u00a0é\"'/@$^{}+"


def by_the_parser(markdown: str) -> str:
    blocks = (re.sub(r"\s+", " ", block).strip() for block in reading._blocks(markdown))
    text = re.sub(r"\*{2,}", "", reading.BETWEEN_BLOCKS.join(b for b in blocks if b))
    return re.sub(r"\s+", " ", text).strip().replace("*", "∗")


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet=MARKS, max_size=40))
def test_a_text_reads_the_same_without_the_parser(markdown: str) -> None:
    assert reading.plain_text(markdown) == by_the_parser(markdown)


def test_the_notes_of_the_sample_book_read_the_same_without_the_parser() -> None:
    for path in sorted(sample_book().rglob("cases/**/*.md")):
        body = path.read_text(encoding="utf-8").split("\n---\n", 1)[1]
        assert reading.plain_text(body) == by_the_parser(body)


def test_most_paragraphs_need_no_parser(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Path] = []
    real = MarkdownIt.parse
    monkeypatch.setattr(MarkdownIt, "parse", lambda *a: asked.append(Path()) or real(*a))
    assert reading.plain_text("# A title\n\nIt *hums* at `100 Hz`,\nand -34 V is low.") == (
        "A title · It hums at 100 Hz, and -34 V is low."
    )
    assert not asked


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet="aB1 2.kΩµHz-_'’é\u0301\u00a0,k", max_size=40))
def test_words_and_terms_of_pieces_are_those_of_the_whole_text(text: str) -> None:
    found = tokens(text)
    wanted: dict[str, int] = {}
    for token in found:
        if token.text not in STOP_WORDS:
            wanted[stem(token.text)] = wanted.get(stem(token.text), 0) + 1
    assert Counter(terms_in(pieces(text))) == wanted
    assert plain_words(pieces(text)).split() == [t.text for t in found if not t.compound]
