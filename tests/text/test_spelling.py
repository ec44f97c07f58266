"""Suggestions for misspelt questions."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.text import suggest
from kb.text.spelling import distance

BOOK = {"crackle": 12, "crackles": 3, "valve": 40, "value": 9, "resistor": 31, "hum": 25,
        "oscillation": 4, "el84": 8, "tremolo": 2, "warm": 6, "ham": 1}  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("crakcle", "crackle"),
        ("resitsor", "resistor"),
        ("vavle", "valve"),
        ("hmu", "hum"),
        ("krackle", "crackle"),
        ("tremmolo", "tremolo"),
    ],
)
def test_a_slip_of_the_fingers_is_put_right(typed: str, meant: str) -> None:
    assert suggest(typed, BOOK) == meant


def test_everything_else_of_the_question_stays_as_it_was_typed() -> None:
    assert suggest('Hum, "vlave  socket" EL84!', BOOK | {"socket": 1}) == (
        'Hum, "valve  socket" EL84!'
    )


def test_known_words_give_no_suggestion() -> None:
    assert suggest("hum valve", BOOK) is None


def test_a_word_that_the_book_has_in_another_inflection_is_known() -> None:
    assert suggest("crackling valves", BOOK) is None


def test_part_types_and_numbers_are_never_corrected() -> None:
    assert suggest("EL48 12AX8 2024-0018", BOOK) is None


def test_a_word_that_is_far_from_everything_stays() -> None:
    assert suggest("zzyzx", BOOK) is None


def test_a_short_word_may_be_one_off_and_a_long_one_two() -> None:
    assert suggest("wrmm", {"warm": 1}) is None
    assert suggest("oscilaton", {"oscillator": 1, "oscillation": 1}) == "oscillation"


def test_of_equally_near_words_the_one_in_more_cases_is_taken() -> None:
    assert suggest("valxe", {"value": 9, "valve": 40}) == "valve"
    assert suggest("valxe", {"value": 40, "valve": 9}) == "value"
    assert suggest("valxe", {"value": 9, "valve": 9}) == "value"


def test_the_order_of_the_book_s_words_makes_no_difference() -> None:
    backwards = dict(reversed(BOOK.items()))
    for typed in ("crakle", "vlave", "hm", "resistr hmm"):
        assert suggest(typed, BOOK) == suggest(typed, backwards)


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ("kitten", "sitting", 3),
        ("ca", "abc", 3),
        ("abcd", "acbd", 1),
        ("", "abc", 3),
        ("a", "a", 0),
    ],
)
def test_distances_are_those_of_the_textbook(one: str, other: str, apart: int) -> None:
    # The usual examples, from memory: kitten/sitting for edit distance; ca/abc, which is 3 in
    # optimal string alignment and would be 2 if a swapped pair might be edited again.
    assert distance(one, other, 5) == apart


short_words = st.text(alphabet="abc", max_size=7)


@given(short_words, short_words, st.integers(0, 4))
def test_distance_is_symmetric_and_bounded(one: str, other: str, most: int) -> None:
    apart = distance(one, other, most)
    assert apart == distance(other, one, most) <= most + 1
    assert (apart == 0) == (one == other)
    assert apart == min(distance(one, other, 20), most + 1)


@given(st.text(max_size=40), st.dictionaries(st.text(alphabet="abcehlmuv", min_size=1), st.just(1)))
def test_a_suggestion_differs_from_the_question(text: str, words: dict[str, int]) -> None:
    assert suggest(text, words) != text


def test_a_word_is_found_among_fifty_thousand() -> None:
    chance = random.Random(1)
    words = {"crackle": 3}
    while len(words) < 50_000:
        letters = chance.choices("etaoinshrdlucmfwypvbgkjqxz", range(26, 0, -1), k=7)
        words["".join(letters[: chance.randrange(4, 8)]) + chance.choice("sdrn")] = 1
    assert suggest("craclke", words) == "crackle"
