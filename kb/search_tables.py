"""The tables of the site's search: the text index, less what the cases keep to themselves.

The page ranks in the browser. Whatever it could be asked for can be read out of its tables, so a
word of a hidden value is in none of them: neither as a word, nor as one that a case has, nor where
it stands. Only how long a case is, and the mean of that, are those of the index.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from kb.intake import document_of
from kb.notes.case import Case
from kb.notes.vocabulary import Vocabulary
from kb.site import NameOfSymptom, Pairs, SearchWords
from kb.text import (
    Document,
    Kept,
    Name,
    SearchTables,
    TextIndex,
    plain_text,
    read_label,
    stem,
    taken_out,
    unpack_kept,
    weigh,
    word_lists,
)

Runs = Sequence[tuple[float, str]]
Numbers = NDArray[np.int64]
RUN_WEIGHTS = (6, 4, 3, 2, 1)
"""What the words of a stretch weigh, in half units, heaviest first."""


def search_words(
    text: TextIndex,
    cases: Mapping[str, Case],
    published: Sequence[Case],
    vocabulary: Vocabulary,
    names: Sequence[Name],
) -> SearchWords:
    """The tables for these cases as they are published; `cases` are the same with all their keys.

    Raises what `TextIndex.tables` raises.
    """
    tables = text.tables()
    shown = {case.case: case for case in published}
    place_of = {number: place for place, number in enumerate(tables.documents)}
    withheld = {
        place_of[number]: _withheld(
            document_of(case, vocabulary),
            document_of(shown[number], vocabulary),
            tables.kept[place_of[number]],
        )
        for number, case in cases.items()
        if case is not shown[number]
    }
    runs = [
        withheld[place].runs if place in withheld else kept.runs
        for place, kept in enumerate(tables.kept)
    ]
    spoken, bounds = _spoken(runs)
    return SearchWords(
        documents=tables.documents,
        lengths=tables.lengths,
        postings=_postings(tables, withheld),
        spoken=spoken,
        bounds=bounds,
        main=[_main(kept, withheld.get(place)) for place, kept in enumerate(tables.kept)],
        words=_words(tables, withheld),
        texts=[
            withheld[place].texts if place in withheld else kept.texts
            for place, kept in enumerate(tables.kept)
        ],
        lists=word_lists(),
        names=[NameOfSymptom(name.key, name.stems) for name in names],
    )


class _Withheld(Struct, frozen=True):
    """What a case keeps to itself, terms in half units and words; and runs and texts without it."""

    halves: Mapping[str, int]
    words: frozenset[str]
    runs: Runs
    texts: Sequence[str]


def _withheld(whole: Document, left: Document, kept: Kept) -> _Withheld:
    gone = taken_out(whole, left)
    runs = None if gone is None else _cut(kept.runs, gone)
    if gone is None or runs is None:
        before, after = weigh(whole), weigh(left)
        runs = unpack_kept(after.kept).runs
        halves = Counter(before.halves)
        halves.subtract(after.halves)
        lines: Iterable[str] = (words for _, words in kept.runs)
    else:
        halves = Counter[str]()
        for (weight, line), times in gone.items():
            for term in read_label(line)[1]:
                halves[term] += times * int(2 * weight)
        lines = [read_label(line)[0] for _, line in gone]
    said = f" {' '.join(words for _, words in runs)} "
    words = {word for line in lines for word in line.split(" ") if f" {word} " not in said}
    texts = kept.texts
    if left.shown != whole.shown:
        texts = [text for text in map(plain_text, left.shown) if text]
    return _Withheld(+halves, frozenset(words), runs, texts)


def _cut(runs: Runs, gone: Mapping[tuple[float, str], int]) -> Runs | None:
    """The runs without some lines, cut where each stood; None where that is not certain."""
    left = list(runs)
    for (weight, line), times in gone.items():
        words = read_label(line)[0]
        if not words:
            continue
        wanted = f" {words} "
        found = [at for at, run in enumerate(left) if run[0] == weight and wanted in f" {run[1]} "]
        if times != 1 or len(found) != 1:
            return None
        before, *after = f" {left[found[0]][1]} ".split(wanted)
        if len(after) != 1:
            return None
        parts = [(weight, part.strip()) for part in (before, after[0])]
        left[found[0] : found[0] + 1] = [part for part in parts if part[1]]
    return left


def _postings(tables: SearchTables, withheld: Mapping[int, _Withheld]) -> Pairs:
    """The postings without what is withheld."""
    id_of = {term: place for place, term in enumerate(tables.terms)}
    weights = tables.weights.copy()
    less = [
        (id_of[term] << 32 | place, count)
        for place, own in withheld.items()
        for term, count in own.halves.items()
        if term in id_of
    ]
    if less:
        keys = tables.of << 32 | tables.places
        wanted = np.array([key for key, _ in less], dtype=np.int64)
        at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
        there = keys[at] == wanted
        np.subtract.at(weights, at[there], np.array([count for _, count in less])[there])
    left = weights > 0
    return Pairs.of(tables.terms, tables.of[left], tables.places[left], weights[left])


def _main(kept: Kept, withheld: _Withheld | None) -> Mapping[str, int]:
    if withheld is None:
        return kept.main
    less = {term: count - withheld.halves.get(term, 0) for term, count in kept.main.items()}
    return {term: count for term, count in less.items() if count > 0}


def _words(tables: SearchTables, withheld: Mapping[int, _Withheld]) -> Mapping[str, int]:
    """In how many cases each word stands, joined words among them."""
    words = Counter(tables.words)
    for own in withheld.values():
        words.subtract(word for word in own.words if word in tables.words)
    return +words


def _spoken(runs: Sequence[Runs]) -> tuple[Pairs, Sequence[Sequence[int]]]:
    """Where the stems stand: place of the document and position in it, by stem.

    The stretches stand in the order of their weights with a gap between two, so that a phrase runs
    over none. Of each document the positions at which a next smaller weight begins come along.
    """
    numbered = _StemNumbers()
    every = array("i")
    sizes: list[int] = []
    bounds: list[list[int]] = []
    for own in runs:
        size = len(every)
        begins: list[int] = []
        for weight in RUN_WEIGHTS:
            begins.append(len(every) - size)
            for words in _of_weight(own, weight):
                every.extend(map(numbered.__getitem__, words.split(" ")))
                every.append(0)  # the gap
        sizes.append(len(every) - size)
        bounds.append(begins[1:])
    of = np.frombuffer(every, dtype=np.int32).astype(np.int64)
    lengths = np.array(sizes, dtype=np.int64)
    places = np.repeat(np.arange(len(sizes), dtype=np.int64), lengths)
    positions = np.arange(len(of), dtype=np.int64) - np.repeat(
        np.cumsum(lengths) - lengths, lengths
    )
    stems = sorted(numbered.numbers)
    rank = np.zeros(len(stems) + 1, dtype=np.int32)
    for place, its_stem in enumerate(stems):
        rank[numbered.numbers[its_stem]] = place
    said = np.flatnonzero(of)
    ranks = rank[of[said]]
    order = np.argsort(ranks, kind="stable")
    at = said[order]
    return Pairs.of(stems, ranks[order].astype(np.int64), places[at], positions[at]), bounds


class _StemNumbers(dict[str, int]):
    """word -> the number of its stem, from 1, given out as they come."""

    def __init__(self) -> None:
        self.numbers: dict[str, int] = {}

    def __missing__(self, word: str) -> int:
        number = self[word] = self.numbers.setdefault(stem(word), len(self.numbers) + 1)
        return number


def _of_weight(runs: Runs, halves: int) -> Iterator[str]:
    return (words for weight, words in runs if int(2 * weight) == halves)
