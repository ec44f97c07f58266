"""The data of the search, as classic scripts that a page may load from `file://`.

`data/search.js` is small and says what the other files hold; those are fetched when a question
needs them. Everything is arrays and text: no word of a book can be mistaken for a property name.
Numbers are packed as `packing` says.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

import numpy as np

from kb.notes.case import Case
from kb.notes.vocabulary import Term
from kb.site import wording
from kb.site.material import CaseRow, Material
from kb.site.packing import cut, packed, packed_each
from kb.site.source import Pairs, SearchWords

HEAD = "data/search.js"
LINES, TEXTS = 250, 20
"""cases per file: of what a hit shows first, and of the texts that its snippet is cut from"""
LARGE = 100_000
"""letters in a file of words, about"""

Scripts = Iterator[tuple[str, str]]


def scripts(material: Material, words: SearchWords) -> Scripts:
    """The data files: (path in the site, content)."""
    by_number = {case.case: case for case in material.ledger.cases}
    documents = [by_number[number] for number in words.documents]
    rows = material.rows(documents)
    postings = list(_pairs("weights", words.postings))
    spoken = list(_pairs("spoken", words.spoken))
    known = list(_words(words))
    states = sorted({row.state for row in rows})
    head = {
        "lengths": packed(words.lengths),
        "total": int(words.lengths.sum()),
        "count": len(documents),
        "lineSize": LINES,
        "textSize": TEXTS,
        "starts": {
            "weights": [first for first, _ in postings],
            "spoken": [first for first, _ in spoken],
            "words": [first for first, _ in known],
        },
        **_terms(material),
        "states": states,
        "years": sorted({row.received.year for row in rows}),
    }
    yield HEAD, f"var searchBook = {as_json(head)};\n"
    for name, parts in (("weights", postings), ("spoken", spoken), ("words", known)):
        for number, (_, content) in enumerate(parts):
            yield _file(name, number, content)
    names = [
        [name.key, " ".join(f"-{s}" if no else s for s, no in name.stems.items())]
        for name in words.names
    ]
    yield _file("reading", 0, [words.lists, names])
    bounds = np.array(list(chain.from_iterable(words.bounds)), dtype=np.int64)
    yield _file("bounds", 0, [packed(bounds)])
    yield _file("filters", 0, [_filters(material, documents, rows, states)])
    yield _file("made", 0, [_made(material, documents)])
    for start in range(0, len(rows), LINES):
        yield _file("lines", start // LINES, _lines(rows, words.main, start))
    for start in range(0, len(documents), TEXTS):
        some = range(start, min(start + TEXTS, len(documents)))
        texts = [[_bare(text, documents[n].title) for text in words.texts[n]] for n in some]
        yield _file("texts", start // TEXTS, texts)


def as_json(value: object) -> str:
    """A value as JSON that any script may hold."""
    # ASCII, so that no encoding can spoil it and no line separator can end a string.
    return json.dumps(value, ensure_ascii=True, separators=(",", ":")).replace("<", r"\u003c")


def _file(name: str, number: int, content: object) -> tuple[str, str]:
    return f"data/{name}/{number}.js", f'searchPart("{name}",{number},{as_json(content)});\n'


def _pairs(name: str, pairs: Pairs) -> Iterator[tuple[str, list[str]]]:
    """Files of words with their pairs: the first word of each, and its content.

    Of a place its distance from the one before it is written. `spoken` has several positions for
    a place: a distance of nought, and the position counts from the one before it.
    """
    before = np.concatenate(([0], pairs.places[:-1]))
    far = pairs.places - before
    amounts = pairs.amounts.copy()
    begins = pairs.starts[:-1]
    far[begins] = pairs.places[begins]
    if name == "spoken":
        same = np.flatnonzero(far == 0)
        same = same[~np.isin(same, begins)]
        amounts[same] -= pairs.amounts[same - 1]
        # In front of the first word of all nothing is the same: places count from 1 there.
        far[begins] += 1
    flat = np.column_stack((far, amounts)).ravel()
    each = packed_each(flat, 2 * pairs.starts)
    for first, end in cut(pairs.keys, [len(text) for text in each], LARGE):
        yield pairs.keys[first], [" ".join(pairs.keys[first:end]), " ".join(each[first:end])]


def _words(words: SearchWords) -> Iterator[tuple[str, list[str]]]:
    """Files of words as they are written, joined ones too, with how many cases have each."""
    counts = dict(words.words)
    sizes = np.diff(words.postings.starts).tolist()
    for term, count in zip(words.postings.keys, sizes, strict=True):
        if not term.isalpha():  # a stem is no word that anybody wrote
            counts.setdefault(term, count)
    keys = sorted(counts)
    for first, end in cut(keys, [1] * len(keys), LARGE):
        some = keys[first:end]
        yield some[0], [" ".join(some), packed([counts[word] for word in some])]


def _lines(rows: Sequence[CaseRow], main: Sequence[Mapping[str, int]], start: int) -> list[object]:
    """What hits show first, and the words that weigh most in them, by their place in a list."""
    some = range(start, min(start + LINES, len(rows)))
    known = sorted({term for place in some for term in main[place]})
    place_of = {term: place for place, term in enumerate(known)}
    return [
        " ".join(known),
        [
            packed([n for term, count in main[place].items() for n in (place_of[term], count)])
            for place in some
        ],
        [_line(rows[place]) for place in some],
    ]


def _line(row: CaseRow) -> list[object]:
    return [
        row.number.text,
        row.number.page,
        row.title,
        row.family.text,
        wording.day(row.received),
        ", ".join(cause.text for cause in row.causes),
        row.state,
        int(row.is_open),
    ]


def _bare(text: str, title: str) -> str:
    """A text without the title in front, which a hit shows anyway."""
    return text.removeprefix(f"{title} · ")


def _terms(material: Material) -> dict[str, object]:
    words = material.vocabulary
    return {
        "families": _rows(words.families),
        "symptoms": _rows(words.symptoms),
        "causes": _rows(words.causes),
        "checks": [[key, words.checks[key].label, -1] for key in sorted(words.checks)],
    }


def _rows(terms: Mapping[str, Term]) -> list[list[object]]:
    """Key, label and the place of what it is a kind of, by key."""
    places = {key: place for place, key in enumerate(sorted(terms))}
    return [
        [key, terms[key].label, places.get(terms[key].parent or "", -1)] for key in sorted(terms)
    ]


def _filters(
    material: Material, documents: Sequence[Case], rows: Sequence[CaseRow], states: list[str]
) -> str:
    """Of each case its family, state, day, and how many symptoms and causes, with their places."""
    words = material.vocabulary
    families, symptoms, causes = (
        {key: place for place, key in enumerate(sorted(terms))}
        for terms in (words.families, words.symptoms, words.causes)
    )
    numbers: list[int] = []
    for case, row in zip(documents, rows, strict=True):
        shown = sorted({symptoms[key] for key in case.symptoms if key in symptoms})
        found = sorted({causes[key] for key in _causes(case) if key in causes})
        day = (case.received - _FIRST_DAY).days
        # A family or a day that no list knows is the one behind the last, or nought.
        numbers += [families.get(case.family, len(families)), states.index(row.state), max(day, 0)]
        numbers += [len(shown), *shown, len(found), *found]
    return packed(numbers)


def _made(material: Material, documents: Sequence[Case]) -> str:
    """Of each case how many different checks were made, with their places."""
    checks = {key: place for place, key in enumerate(sorted(material.vocabulary.checks))}
    numbers: list[int] = []
    for case in documents:
        made = {m.check for fault in case.faults for m in fault.checks if m.check in checks}
        numbers += [len(made), *sorted(checks[key] for key in made)]
    return packed(numbers)


def _causes(case: Case) -> Iterable[str]:
    """Every cause of a case: its roots, what they took with them, what was put right too."""
    return (*case.root_causes, *case.found_too, *(c for f in case.faults for c in f.took_with_it))


_FIRST_DAY = dt.date(1900, 1, 1)
