"""What of a case is searched, and how much each word of it weighs."""

from __future__ import annotations

import re
from collections.abc import Iterator

from msgspec import Struct

from kb.text.lists import STOP_WORDS
from kb.text.words import stem, tokens

STRONG, SPOKEN, NAMED, PLAIN, AKIN = 3.0, 2.0, 1.5, 1.0, 0.5
"""Title, symptoms, causes; the owner's words; the family; the body; synonyms of the terms.
All are halves of whole numbers, so that sums of them are exact."""

_PARAGRAPH = re.compile(r"\n[ \t]*\n")


Runs = tuple[tuple[float, str], ...]
"""(weight, words) pairs: the words of one stretch of text in order, separated by spaces."""


class Document(Struct, frozen=True):
    """One case as text. `body` is Markdown; `also` holds synonyms that the note does not say."""

    case: str
    title: str = ""
    complaint: str = ""
    symptoms: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    family: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    body: str = ""


class Weighed(Struct, frozen=True):
    """A document as the index holds it.

    `terms` maps a stem, or a compound as it is, to the sum of the weights of its occurrences;
    `length` is the sum over all terms; `runs` are for phrases and for spelling.
    """

    terms: dict[str, float]
    length: float
    runs: Runs


def weigh(document: Document) -> Weighed:
    """Count the weighted words of a document."""
    terms: dict[str, float] = {}
    runs: list[tuple[float, str]] = []
    for weight, text in _stretches(document):
        words = []
        for token in tokens(text):
            if not token.compound:
                words.append(token.text)
            if token.text not in STOP_WORDS:
                term = stem(token.text)
                terms[term] = terms.get(term, 0.0) + weight
        if words:
            runs.append((weight, " ".join(words)))
    return Weighed(terms, sum(terms.values()), tuple(runs))


def occurrences(phrase: tuple[str, ...], runs: Runs) -> float:
    """The summed weights of the places where the stems of a phrase stand together in this order."""
    wanted = _spaced(phrase)
    return sum(weight * _spaced_stems(words).count(wanted) for weight, words in runs)


def _stretches(document: Document) -> Iterator[tuple[float, str]]:
    """The stretches of text over which a phrase may run, each with its weight."""
    yield STRONG, document.case
    yield STRONG, document.title
    yield from ((STRONG, label) for label in (*document.symptoms, *document.causes))
    yield SPOKEN, document.complaint
    yield from ((NAMED, words) for words in document.family)
    yield from ((PLAIN, paragraph) for paragraph in _PARAGRAPH.split(document.body))
    yield from ((AKIN, words) for words in document.also)


def _spaced(words: tuple[str, ...] | list[str]) -> str:
    """Words with a space on both sides of each, so that a search can't hit half a word."""
    return "".join(f" {word} " for word in words)


def _spaced_stems(words: str) -> str:
    return _spaced([stem(word) for word in words.split(" ")])
