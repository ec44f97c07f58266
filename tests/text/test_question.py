"""The language of questions."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.text import Question, QuestionError, parse


def test_words_are_folded_and_stop_words_left_out() -> None:
    assert parse("The Hum of a valve") == Question(("hum", "valve"))


def test_words_in_quotes_are_a_phrase_with_its_stop_words() -> None:
    assert parse('hum "on and off"') == Question(("hum",), (("on", "and", "off"),))


def test_typographic_quotes_are_quotes() -> None:
    assert parse("“metal film”").phrases == (("metal", "film"),)


def test_a_quote_that_is_never_closed_is_no_quote() -> None:
    assert parse('say "hum') == Question(("say", "hum"))


def test_signs_that_mean_something_elsewhere_mean_nothing_here() -> None:
    assert parse("title:hum* NOT (buzz OR ~whine) ^2 a\\b [c TO d]").words == (
        "title", "hum", "not", "buzz", "whine", "2", "b", "c", "d",
    )  # fmt: skip


def test_a_case_number_is_asked_for_whole_only() -> None:
    assert parse("2024-0117").words == ("2024-0117",)


def test_a_value_is_asked_for_whole_only() -> None:
    assert parse("100 Hz").words == ("100hz",)


def test_joined_words_are_asked_for_whole_and_in_parts() -> None:
    assert parse("high-esr").words == ("high-esr", "high", "esr")


def test_a_serial_number_is_asked_for_without_its_bare_digits() -> None:
    assert parse("DR22-0418").words == ("dr22-0418", "dr22")


def test_a_word_asked_for_twice_counts_once() -> None:
    assert parse("hum Hum humming").word_stems == ("hum",)


@pytest.mark.parametrize("text", ["", "   ", '""', "?!*", '" "'])
def test_a_question_without_a_word_is_empty(text: str) -> None:
    with pytest.raises(QuestionError) as caught:
        parse(text)
    assert caught.value.reason == "empty"
    assert caught.value.text == text


def test_a_question_of_stop_words_alone_says_so() -> None:
    with pytest.raises(QuestionError) as caught:
        parse("what is it")
    assert caught.value.reason == "only-common-words"


def test_too_many_words_are_refused_with_their_number() -> None:
    with pytest.raises(QuestionError) as caught:
        parse("hum " * 65)
    error = caught.value
    assert (error.reason, error.unit, error.found, error.limit) == ("too-long", "words", 65, 64)


def test_too_many_characters_are_refused_with_their_number() -> None:
    with pytest.raises(QuestionError) as caught:
        parse("x" * 2001)
    error = caught.value
    assert (error.unit, error.found, error.limit) == ("characters", 2001, 2000)


@given(st.text() | st.text(alphabet='ab "-1.kΩ“”\n', max_size=60))
def test_any_text_is_a_question_or_a_question_error(text: str) -> None:
    with contextlib.suppress(QuestionError):
        question = parse(text)
        assert question.words or question.phrases
        assert all(question.phrases)


@given(st.lists(st.sampled_from(["hum", "buzz", '"metal film"', "EL84", "47 kΩ"]), min_size=1))
def test_asking_twice_is_asking_once(pieces: list[str]) -> None:
    text = " , ".join(pieces[:16])
    assert parse(f"{text} , {text}") == parse(text)
