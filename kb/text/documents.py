"""What of a case is searched, and how much each word of it weighs."""

from __future__ import annotations

import re
import zlib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import takewhile

import msgspec
from msgspec import Struct

from kb.text.analysis import pieces, plain_words, read_label, terms_in
from kb.text.words import stem

STRONG, SPOKEN, NAMED, PLAIN, AKIN = 3.0, 2.0, 1.5, 1.0, 0.5
"""Title, symptoms, causes; the owner's words; the family; the body; synonyms of the terms.
All are halves of whole numbers, so that sums of them are exact."""

_PARAGRAPH = re.compile(r"\n[ \t]*\n")


Runs = Sequence[tuple[float, str]]
"""(weight, words) pairs: the words of one stretch of text in order, separated by spaces."""


class Document(Struct, frozen=True):
    """One case as text. `body` and `shown` are Markdown.

    `also` holds synonyms that the note does not say; a snippet is taken from `shown`; `about` is
    whatever the caller wants back with a hit.
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
    about: bytes = b""


MAIN_TERMS = 30
"""So many of the terms that weigh most in a document are kept with it."""


class Kept(Struct, frozen=True, array_like=True):
    """What is kept of a document.

    `main` are the terms that weigh most, for feedback, in half units; `runs` are for phrases, the
    readable texts for snippets, and `about` is for the caller.
    """

    main: dict[str, int]
    runs: Runs
    texts: Sequence[str]
    about: bytes


_decode_kept = msgspec.msgpack.Decoder(Kept).decode


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
    from kb.text.plain import plain_text  # whoever only searches needs none of its patterns

    runs: list[tuple[float, str]] = []
    terms: dict[float, list[str]] = {}
    words: dict[str, None] = {}
    for weight, text in _labels(document):
        plain, its_terms = read_label(text)
        runs.append((weight, plain))
        terms.setdefault(weight, []).extend(its_terms)
        words[plain] = None
    written: dict[str, None] = {}
    for weight, text in _texts(document):
        found = pieces(text)
        runs.append((weight, plain_words(found)))
        terms.setdefault(weight, []).extend(terms_in(found))
        written.update(dict.fromkeys(found))
    words[plain_words(written)] = None
    halves: Counter[str] = Counter()
    for weight, each in terms.items():
        halves.update(each * int(2 * weight))
    runs = [run for run in runs if run[1]]
    different = dict.fromkeys(" ".join(words).split())
    texts = [text for text in map(plain_text, document.shown) if text]
    kept = Kept(_heaviest(halves), runs, texts, document.about)
    packed = zlib.compress(msgspec.msgpack.encode(kept), 1)
    return Weighed(document.case, dict(halves), tuple(different), packed)


def taken_out(whole: Document, left: Document) -> Counter[tuple[float, str]] | None:
    """The lines of a document, with their weights, that it lacks where some of it is withheld.

    None if a line was shortened, so that more is different than lines that are gone.
    """
    before, after = list(_lines(whole)), list(_lines(left))
    same = sum(
        1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(before, after, strict=False))
    )
    lines, kept = Counter(before[same:]), Counter(after[same:])
    return None if kept - lines else lines - kept


def _heaviest(halves: Mapping[str, int]) -> dict[str, int]:
    """The terms that weigh most, those in front in the alphabet where they weigh the same."""
    enough = sorted(halves.values(), reverse=True)[:MAIN_TERMS]  # spares sorting all of them
    likely = [(-weight, term) for term, weight in halves.items() if weight >= enough[-1]]
    return {term: -less for less, term in sorted(likely)[:MAIN_TERMS]}


def unpack_kept(packed: bytes) -> Kept:
    """What `Weighed` holds packed. Raises zlib.error where the bytes were changed."""
    return _decode_kept(zlib.decompress(packed))


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


def _lines(document: Document) -> Iterator[tuple[float, str]]:
    yield from _labels(document)
    for weight, text in _texts(document):
        yield from ((weight, line) for line in text.split("\n"))


def _spaced(words: tuple[str, ...] | list[str]) -> str:
    """Words with a space on both sides of each, so that a search can't hit half a word."""
    return "".join(f" {word} " for word in words)


def _spaced_stems(words: str) -> str:
    return _spaced([stem(word) for word in words.split(" ")])
