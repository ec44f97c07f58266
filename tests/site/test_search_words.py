"""What the search tables say of a case is what the case publishes."""

from __future__ import annotations

from collections import defaultdict

import pytest
from invented_source import InventedSource

from kb.intake import document_of
from kb.site import Pairs, SearchWords
from kb.site.redaction import without
from kb.text import weigh


def tables(*hide: str) -> SearchWords:
    source = InventedSource()
    return source.search_words([without(case, hide) for case in source.cases()])


def rows(pairs: Pairs) -> dict[int, dict[str, list[int]]]:
    """case -> word -> its numbers"""
    found: dict[int, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for at, word in enumerate(pairs.keys):
        for place in range(pairs.starts[at], pairs.starts[at + 1]):
            found[int(pairs.places[place])][word].append(int(pairs.amounts[place]))
    return found


def said(words: SearchWords, place: int) -> str:
    """The stems of a case in the order in which the tables have them."""
    stands = {
        position: word
        for word, positions in rows(words.spoken)[place].items()
        for position in positions
    }
    return " ".join(stands.get(at, "|") for at in range(max(stands) + 1))


@pytest.mark.parametrize("hide", [(), ("unit",), ("note",), ("unit", "note", "complaint")])
def test_the_weights_of_a_case_are_those_of_the_case_as_it_is_published(
    hide: tuple[str, ...],
) -> None:
    words, source = tables(*hide), InventedSource()
    found = rows(words.postings)
    for case in source.cases():
        published = weigh(document_of(without(case, hide), source.vocabulary))
        own = found[words.documents.index(case.case)]
        assert {term: halves[0] for term, halves in own.items()} == published.halves


def test_a_hidden_unit_is_no_word_and_stands_nowhere() -> None:
    shown, hidden = tables(), tables("unit")
    for secret in ("hr20-51187", "51187", "hr20"):
        assert secret in shown.postings.keys
        assert secret not in hidden.postings.keys
        assert secret not in hidden.spoken.keys
        assert secret not in hidden.words
        assert not any(secret in main for main in hidden.main)


def test_the_order_of_the_words_of_a_hidden_note_cannot_be_read_back() -> None:
    shown, hidden = tables(), tables("note")
    source = InventedSource()
    case = next(c for c in source.cases() if any(m.note for f in c.faults for m in f.checks))
    note = next(made.note for f in case.faults for made in f.checks if made.note)
    place = shown.documents.index(case.case)
    words = " ".join(weigh(document_of(without(case, ()), source.vocabulary)).words)
    assert note
    assert words
    assert len(said(hidden, place).split()) < len(said(shown, place).split())
    assert note not in hidden.texts[place]
    assert any(note in text for text in shown.texts[place])


def test_hiding_changes_no_length_so_that_the_order_stays_that_of_the_command() -> None:
    assert tables().lengths.tolist() == tables("unit").lengths.tolist()
