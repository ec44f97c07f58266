"""Text that runs from right to left, or says that it does, moves nothing beside it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.site.direction import isolated

OPENS = {
    **dict.fromkeys("\u2066\u2067\u2068", "\u2069"),
    **dict.fromkeys("\u202a\u202b\u202d\u202e", "\u202c"),
}
MARKS = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


@pytest.mark.parametrize(
    "text", ["", "Hums at 100 Hz", "Ω ± 5 %", "größer", "日本", "naïve – 12 µF"]
)
def test_text_from_left_to_right_stays_as_it_is(text: str) -> None:
    assert isolated(text) is text


@pytest.mark.parametrize("text", ["שלום", "مضخم", "a\u200fb"])
def test_text_from_right_to_left_is_kept_to_itself_whole(text: str) -> None:
    assert isolated(text) == f"\u2068{text}\u2069"


def test_what_turns_the_direction_is_closed_and_closes_nothing_else() -> None:
    assert isolated("a\u202eb") == "\u2068a\u202eb\u202c\u2069"
    assert isolated("a\u2069b\u202cc") == "\u2068abc\u2069"
    assert isolated("\u202ea\nb") == "\u2068\u202ea\u202c\u2069\n\u2068b\u2069"


@given(st.text(st.sampled_from(MARKS + "aש \n")))
def test_whatever_opens_is_closed_in_its_own_line_and_in_order(text: str) -> None:
    for line in isolated(text).split("\n"):
        still_open = []
        for character in line:
            if character in OPENS:
                still_open.append(OPENS[character])
            elif character in MARKS:
                assert still_open.pop() == character
        assert not still_open


@given(st.text(st.sampled_from(MARKS + "aש \n")))
def test_no_letter_is_lost(text: str) -> None:
    bare = str.maketrans("", "", MARKS)
    assert isolated(text).translate(bare) == text.translate(bare)
