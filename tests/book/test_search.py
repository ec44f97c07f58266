"""What `Book.search` finds, and what it says when it finds nothing."""

from __future__ import annotations

import datetime as dt

import pytest

from kb.errors import QuestionError


@pytest.fixture
def book(small):
    with small.open() as opened:
        yield opened


def found(answer) -> list[str]:
    return [hit.case for hit in answer.hits]


def test_the_best_case_comes_first_with_its_match_marked(book):
    answer = book.search("crackling when warm")
    assert answer.hits[0].case == "A1"
    assert "**" in answer.hits[0].snippet
    assert answer.hits[0].root_causes == ("carbon-resistor/noisy",)
    assert answer.total >= len(answer.hits)


def test_a_synonym_of_the_vocabulary_finds_a_case_that_does_not_say_it(book):
    assert found(book.search("dried")) == ["A3"]


def test_a_quoted_phrase_is_found_only_together(book):
    assert found(book.search('"anode resistor"')) == ["A1"]
    assert found(book.search('"resistor anode"')) == []


def test_filters_come_from_the_database(book):
    assert found(book.search("crackles buzzes", family="drover-50")) == ["A3"]
    assert "A3" in found(book.search("crackles buzzes", family="drover"))
    assert found(book.search("crackles buzzes repeats", cause="tape-head/worn")) == ["A4"]
    assert set(found(book.search("crackles", symptom="crackle"))) == {"A1", "A2"}
    assert book.search("crackles", since=dt.date(2025, 1, 1)).total == 0


def test_the_limit_cuts_the_list_and_not_the_total(book):
    answer = book.search("crackles", limit=1)
    assert len(answer.hits) == 1
    assert answer.total > 1


def test_a_misspelt_word_gets_a_suggestion(book):
    answer = book.search("riple")
    assert answer.total == 0
    assert answer.suggestion == "ripple"


@pytest.mark.parametrize("text", ["", "   ", "!!!", '""'])
def test_a_question_without_a_word_is_refused(book, text):
    with pytest.raises(QuestionError):
        book.search(text)


@pytest.mark.parametrize("text", ["a*", "NOT (", "family:x", "x^99999", "[a TO z]", "AND OR", "~5"])
def test_nothing_but_words_and_quotes_means_anything(book, text):
    try:
        book.search(text)
    except QuestionError as fault:
        assert fault.message


def test_an_unknown_filter_names_the_nearest_term(book):
    with pytest.raises(QuestionError) as caught:
        book.search("hum", family="drover-2")
    assert "drover-22" in (caught.value.hint or "")


def test_a_long_question_may_name_symptoms_too(sample):
    # The keys of what it names are looked for beside its 64 words, not counted among them.
    filler = " ".join(f"word{number}" for number in range(61))
    assert sample.search(f"{filler} crackles when warm").hits
