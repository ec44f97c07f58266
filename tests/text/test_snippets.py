"""Snippets: the stretch of a text that shows why it was found."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from kb.text import Question, parse, plain_text, snippets, stem, tokens
from kb.text import snippet as snippet_of
from kb.text.snippets import CUT, MARK

BODY = """# Crackle from *V2*

The owner said it **crackles** once warm. See [the photo](media/board.jpg).

| point | value |
| ----- | ----- |
| anode | 312 V |

<script>alert(1)</script> Freeze spray on the 100 kΩ anode resistor of V2 made it quiet for 20 s.
Swapped for a metal film part, then ran it for an hour under heat and tapping, and the crackling
did not return. `a**b` is 5 * 3.
"""


def snippet(markdown: Sequence[str], question: Question, width: int = 160) -> str:
    """The snippet of Markdown texts, read as the index reads them."""
    readable = [text for text in map(plain_text, markdown) if text]
    return snippet_of(readable, question, width)


def marked(text: str) -> list[str]:
    return text.split(MARK)[1::2]


def test_matches_are_marked_in_any_inflection() -> None:
    assert snippet(["It crackles, a crackling sound"], parse("crackle")) == (
        "It **crackles**, a **crackling** sound"
    )


def test_a_long_text_is_cut_around_the_matches_at_spaces() -> None:
    text = snippet([BODY], parse("metal film"), width=60)
    assert text == "…for 20 s. Swapped for a **metal** **film** part, then ran it for an…"


def test_the_text_with_most_of_the_words_is_shown() -> None:
    texts = ["A resistor.", "The anode resistor of V2.", "The anode resistor of V2!"]
    assert snippet(texts, parse("anode resistor V2")) == "The **anode** **resistor** of **V2**."


def test_a_phrase_is_marked_as_a_whole_and_only_where_it_stands_together() -> None:
    text = "Metal and film. A metal film part."
    assert snippet([text], parse('"metal film"')) == "Metal and film. A **metal film** part."


def test_a_value_is_marked_with_its_unit() -> None:
    assert snippet(["A 47 kΩ part"], parse("47k")) == "A **47 kΩ** part"


def test_a_joined_word_is_marked_whole_when_asked_for_whole() -> None:
    assert snippet(["A high-esr part, high enough"], parse("high-esr")) == (
        "A **high-esr** part, **high** enough"
    )


def test_without_a_match_the_first_text_starts_it_off() -> None:
    assert snippet(["", "Hums all day long", BODY], parse("squeal"), width=8) == "Hums all…"


def test_of_no_text_there_is_no_snippet() -> None:
    assert snippet([], parse("hum")) == snippet(["", " \n"], parse("hum")) == ""


def test_markdown_is_shown_as_a_person_would_read_it() -> None:
    assert plain_text(BODY).startswith(
        "Crackle from V2 · The owner said it crackles once warm. See the photo. · point · value · "
        "anode · 312 V · <script>alert(1)</script> Freeze spray"
    )


def test_asterisks_of_the_text_can_not_be_taken_for_marks() -> None:
    assert snippet(["5 * 3, `a**b`, \\*hum\\*, hum\\*\\*"], parse("hum")) == (
        "5 ∗ 3, ab, ∗**hum**∗, **hum**"
    )


def test_a_match_longer_than_the_width_is_cut() -> None:
    text = snippet(["x" * 90 + " hum"], parse("x" * 90), width=20)
    assert text == "**" + "x" * 20 + "**…"


@pytest.mark.parametrize("width", [1, 2, 5, 20, 1000])
def test_a_snippet_is_no_wider_than_asked(width: int) -> None:
    for question in ("crackle V2 photo tapping", '"metal film" anode', "squeal"):
        text = snippet([BODY], parse(question), width=width)
        assert len(text.replace(MARK, "").strip(CUT)) <= width


words = st.sampled_from(["hum", "hums", "V2", "metal", "film", "100", "Hz", "a", "ünd", "x.", "-"])
texts = st.lists(words, min_size=1, max_size=40).map(" ".join)


@given(
    st.lists(texts, min_size=1, max_size=3),
    st.sampled_from(['hum "metal film"', "V2 100 Hz", "film"]),
    st.integers(5, 80),
)
def test_a_snippet_is_a_stretch_of_one_text_but_for_marks_and_cuts(
    many: list[str], question: str, width: int
) -> None:
    asked = parse(question)
    text = snippet(many, asked, width)
    bare = text.replace(MARK, "").removeprefix(CUT).removesuffix(CUT)
    sources = [plain_text(source) for source in many]
    assert any(bare in source for source in sources)
    wanted = set(asked.word_stems) | {s for phrase in asked.phrase_stems for s in phrase}
    for match in marked(text):
        assert {stem(word.lower()) for word in match.split()} & (wanted | {"100", "hz"})


@given(st.text(), st.integers(1, 50))
def test_any_text_has_a_snippet_with_paired_marks(text: str, width: int) -> None:
    shown = snippet([text], Question(("hum",)), width)
    assert shown.count(MARK) % 2 == 0
    assert "*" not in shown.replace(MARK, "")


@given(texts)
def test_a_text_that_fits_is_shown_whole(text: str) -> None:
    plain = plain_text(text)
    assume(plain)
    assert snippet([text], parse("hum film"), width=1000).replace(MARK, "") == plain


SPOKEN = st.sampled_from(
    ["100", "3.5", "12AX7", "Hz", "kΩ", "V", "volts", "cycles", "hums", "high-esr", "5-V", "(", ","]
)
BETWEEN = st.sampled_from(["", " ", "  ", "\n", "\u00a0", "-", "/"])


@given(
    st.lists(st.tuples(SPOKEN, BETWEEN), max_size=12),
    st.frozensets(st.sampled_from(["100hz", "hz", "hum", "v", "kohm", "cycl", "esr", "high-esr"])),
)
def test_words_are_found_wherever_reading_the_whole_text_finds_them(
    said: list[tuple[str, str]], wanted: frozenset[str]
) -> None:
    text = "".join(word + gap for word, gap in said)
    found = [(m.start, m.end, m.what[0]) for m in snippets._words(text, wanted)]
    assert found == [
        (token.start, token.end, stem(token.text))
        for token in tokens(text)
        if stem(token.text) in wanted
    ]
