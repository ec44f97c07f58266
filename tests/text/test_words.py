"""What counts as a word."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.text import stem, stems, tokens
from kb.text.analysis import first_letter_of, terms_between_spaces
from kb.text.lists import UNITS
from kb.text.words import fold


def words(text: str) -> list[str]:
    return [token.text for token in tokens(text)]


@pytest.mark.parametrize("part", ["12AX7", "EL84", "V2", "1N4007", "NE5532", "4k7"])
def test_a_part_type_is_one_word(part: str) -> None:
    assert words(f"new {part} fitted") == ["new", part.lower(), "fitted"]


def test_words_with_a_hyphen_are_found_whole_and_in_parts() -> None:
    assert words("High-ESR capacitor") == ["high-esr", "high", "esr", "capacitor"]


def test_a_case_number_is_found_whole_and_in_parts() -> None:
    assert words("see 2024-0117.") == ["see", "2024-0117", "2024", "0117"]


@pytest.mark.parametrize("written", ["100 Hz", "100Hz", "100\u00a0Hz", "100 hz"])
def test_a_number_and_its_unit_are_one_word_however_they_are_set(written: str) -> None:
    assert words(f"{written} ripple") == ["100hz", "100", "hz", "ripple"]


@pytest.mark.parametrize("written", ["47k", "47 kΩ", "47 k\u2126", "47 kohm", "47k\u2126"])
def test_a_resistance_is_the_same_word_in_every_spelling(written: str) -> None:
    assert words(written)[0] == "47k"


@pytest.mark.parametrize("written", ["22 µF", "22 μF", "22uF", "22 uF"])
def test_micro_is_u_in_every_spelling(written: str) -> None:
    assert words(written)[0] == "22uf"


def test_a_lone_small_letter_after_a_number_is_no_unit() -> None:
    assert "5a" in words("a 5 A fuse")
    assert "5a" not in words("5 a day")


def test_a_decimal_number_is_one_word() -> None:
    assert words("0.08 Ω") == ["0.08ohm", "0.08", "ohm"]


def test_a_unit_that_is_joined_to_another_word_loses_nothing() -> None:
    assert words("100 Hz-hum") == ["100", "hz-hum", "hz", "hum"]


def test_accents_ligatures_and_letter_case_are_folded() -> None:
    assert words("CAFÉ cafe\u0301 ﬁne STRASSE Straße") == [
        "cafe", "cafe", "fine", "strasse", "strasse",
    ]  # fmt: skip


def test_a_typographic_apostrophe_is_an_apostrophe() -> None:
    assert words("doesn’t") == words("doesn't") == ["doesn't"]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("hum", "humming"),
        ("crackles", "crackling"),
        ("valve", "valves"),
        ("distorts", "distorted"),
        ("oscillates", "oscillation"),
        ("glows", "glowing"),
        ("amp", "amp's"),
        ("blows", "blown"),
        ("blew", "blowing"),
    ],
)
def test_inflections_of_a_word_have_one_stem(one: str, other: str) -> None:
    assert stem(one) == stem(other)


PUBLISHED = """
consign consign, consigned consign, consigning consign, consignment consign, consist consist,
consistency consist, consistently consist, consolation consol, consolatory consolatori,
consolidating consolid, consolingly consol, consonant conson, conspicuously conspicu,
conspiracy conspiraci, conspirators conspir, constables constabl, constancy constanc,
knackeries knackeri, knaves knave, knavish knavish, kneaded knead, knees knee, kneeling kneel,
knelt knelt, knew knew, knightly knight, knitted knit, knitting knit, knives knive, knobs knob,
knocked knock, knockers knocker, knots knot
"""


@pytest.mark.parametrize("pair", PUBLISHED.split(","))
def test_stems_are_those_that_the_algorithm_s_author_published(pair: str) -> None:
    # Snowball, "The English (Porter2) stemming algorithm", the sample vocabulary on its page;
    # written down from memory.
    word, expected = pair.split()
    assert stem(word) == expected


def test_a_part_type_is_never_stemmed() -> None:
    assert stem("12ax7s") == "12ax7s"
    assert stem("el84") == "el84"


def test_stems_leave_out_stop_words_and_take_compounds_apart() -> None:
    assert stems("The high-pitched whistles of it") == ["high", "pitch", "whistl"]


@given(st.text())
def test_every_token_is_the_fold_of_what_stands_at_its_place(text: str) -> None:
    for token in tokens(text):
        assert 0 <= token.start < token.end <= len(text)
        if not any(c.isdigit() for c in token.text) and token.text not in UNITS.values():
            assert token.text == fold(text[token.start : token.end])


@given(st.text())
def test_plain_tokens_stand_in_order_without_overlaps(text: str) -> None:
    plain = [t for t in tokens(text) if not t.compound]
    for one, following in pairwise(plain):
        assert one.end <= following.start


@given(st.text())
def test_every_letter_of_a_text_is_in_some_word(text: str) -> None:
    covered = {i for token in tokens(text) for i in range(token.start, token.end)}
    assert all(i in covered for i, c in enumerate(text) if c.isalnum() and fold(c))


@given(st.text(alphabet="abcdefghijklmnopqrstuvwxyzéΩ'0123456789-", max_size=30))
def test_a_stem_is_never_empty_and_needs_no_particular_input(word: str) -> None:
    assert bool(stem(word)) == bool(word)


def test_a_word_of_a_million_letters_is_cut() -> None:
    assert [len(word) for word in words("x" * 1_000_000)] == [100]


@pytest.mark.parametrize(
    "part", ["went", "blew,", "(dying)", "R12", "high-esr", "tying.", "Ω", "5"]
)
def test_the_first_letter_of_a_part_is_that_of_its_terms_or_left_open(part: str) -> None:
    letter = first_letter_of(part)
    assert not letter or {term[0] for term in terms_between_spaces(part)} <= {letter}


def test_a_plain_word_has_a_first_letter_and_only_those_of_irregular_verbs_are_left_open() -> None:
    assert first_letter_of("Crackles,") == "c"
    assert first_letter_of("blew") == ""
    assert terms_between_spaces("blew") == {"blow"}
    assert first_letter_of("V2") == first_letter_of("high-esr") == first_letter_of("") == ""


@given(st.text(st.sampled_from("abcdeghiklnorstuvwyzY'’.-,:0"), min_size=1, max_size=12))
def test_the_first_letter_of_any_part_is_that_of_its_terms_or_left_open(part: str) -> None:
    letter = first_letter_of(part)
    assert not letter or {term[0] for term in terms_between_spaces(part)} <= {letter}
