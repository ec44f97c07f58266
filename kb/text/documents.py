"""What of a case is searched, and how much each word of it weighs."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator, Sequence

import msgspec
from msgspec import Struct

from kb.text.analysis import count_terms, pieces, plain_words, read_label
from kb.text.plain import plain_text
from kb.text.words import stem

STRONG, SPOKEN, NAMED, PLAIN, AKIN = 3.0, 2.0, 1.5, 1.0, 0.5
"""Title, symptoms, causes; the owner's words; the family; the body; synonyms of the terms.
All are halves of whole numbers, so that sums of them are exact."""

_PARAGRAPH = re.compile(r"\n[ \t]*\n")


Runs = Sequence[tuple[float, str]]
"""(weight, words) pairs: the words of one stretch of text in order, separated by spaces."""


class Document(Struct, frozen=True):
    """One case as text. `body` and `shown` are Markdown.

    `also` holds synonyms that the note does not say; a snippet is taken from `shown`.
    """

    case: str
    title: str = ""
    complaint: str = ""
    symptoms: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    family: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    body: str = ""
    shown: tuple[str, ...] = ()


MAIN_TERMS = 30
"""So many of the terms that weigh most in a document are kept with it."""


class Main(Struct, frozen=True, array_like=True):
    """The first part of `Kept`, which can be read without the rest."""

    main: dict[str, int]


class Kept(Main, frozen=True, array_like=True):
    """What is kept of a document.

    `main` are the terms that weigh most, for feedback, in half units; `runs` are for phrases, and
    the readable texts for snippets.
    """

    runs: Runs
    texts: Sequence[str]


_decode_kept = msgspec.msgpack.Decoder(Kept).decode
_decode_main = msgspec.msgpack.Decoder(Main).decode


class Weighed(Struct, frozen=True, array_like=True):
    """A document as the index holds it.

    `halves` maps a stem, or a compound as it is, to the sum of the weights of its occurrences in
    half units; `words` are its different words, for spelling; `kept` is a packed `Kept`.
    """

    case: str
    halves: dict[str, int]
    words: tuple[str, ...]
    kept: bytes

    @property
    def terms(self) -> dict[str, float]:
        """Each term with its weight."""
        return {term: count / 2 for term, count in self.halves.items()}

    @property
    def length(self) -> float:
        """The sum of the weights of all terms."""
        return sum(self.halves.values()) / 2


def weigh(document: Document) -> Weighed:
    """Count the weighted words of a document."""
    runs: list[tuple[float, str]] = []
    halves: dict[str, int] = {}
    for weight, text in _labels(document):
        words, terms = read_label(text)
        runs.append((weight, words))
        each = int(2 * weight)
        for term in terms:
            halves[term] = halves.get(term, 0) + each
    by_weight: dict[float, list[str]] = {}
    for weight, text in _texts(document):
        new = pieces(text)
        runs.append((weight, plain_words(new)))
        by_weight.setdefault(weight, []).extend(new)
    runs = [run for run in runs if run[1]]
    for weight, all_pieces in by_weight.items():
        each = int(2 * weight)
        for term, count in count_terms(all_pieces).items():
            halves[term] = halves.get(term, 0) + each * count
    different = dict.fromkeys(" ".join([words for _, words in runs]).split(" ") if runs else ())
    texts = [text for text in map(plain_text, document.shown) if text]
    main = sorted((-weight, term) for term, weight in halves.items())[:MAIN_TERMS]
    heaviest = {term: -less for less, term in main}
    kept = zlib.compress(msgspec.msgpack.encode(Kept(heaviest, runs, texts)), 1)
    return Weighed(document.case, halves, tuple(different), kept)


def unpack_kept(packed: bytes) -> Kept:
    """What `Weighed` holds packed. Raises zlib.error where the bytes were changed."""
    return _decode_kept(zlib.decompress(packed))


def unpack_main(packed: bytes) -> dict[str, int]:
    """The terms that weigh most in a document, as `unpack_kept`."""
    return _decode_main(zlib.decompress(packed)).main


def occurrences(phrase: tuple[str, ...], runs: Runs) -> float:
    """The summed weights of the places where the stems of a phrase stand together in this order."""
    wanted = _spaced(phrase)
    return sum(weight * _spaced_stems(words).count(wanted) for weight, words in runs)


def _labels(document: Document) -> Iterator[tuple[float, str]]:
    """The words of the vocabulary, each a stretch over which a phrase may run, with its weight."""
    yield from ((STRONG, label) for label in (*document.symptoms, *document.causes))
    yield from ((NAMED, words) for words in document.family)
    yield from ((AKIN, words) for words in document.also)


def _texts(document: Document) -> Iterator[tuple[float, str]]:
    """What people wrote, in stretches as `_labels`."""
    yield STRONG, document.case
    yield STRONG, document.title
    yield SPOKEN, document.complaint
    yield from ((PLAIN, paragraph) for paragraph in _PARAGRAPH.split(document.body))


def _spaced(words: tuple[str, ...] | list[str]) -> str:
    """Words with a space on both sides of each, so that a search can't hit half a word."""
    return "".join(f" {word} " for word in words)


def _spaced_stems(words: str) -> str:
    return _spaced([stem(word) for word in words.split(" ")])
