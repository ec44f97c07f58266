"""The data of the search box, as classic scripts that a page may load from `file://`."""

from __future__ import annotations

import json
from collections.abc import Iterator

from kb.site import wording
from kb.site.material import Material, title_of
from kb.site.source import SearchWords

PART = 50
"""cases per file of full texts, which the browser loads for the hits that it shows"""


def scripts(material: Material, words: SearchWords) -> Iterator[tuple[str, str]]:
    """The data files: (path in the site, content).

    `search.js` carries the ranking and a line per case; `texts/<n>.js` the texts that snippets
    are cut from. Everything is arrays: no word of a book can be mistaken for a property name.
    """
    by_number = {case.case: case for case in material.ledger.cases}
    documents = [by_number[number] for number in words.documents]
    stems = sorted(words.weights)
    place_of = {stem: place for place, stem in enumerate(stems)}
    # The browser finds a word by halving, in its own order of strings.
    known = sorted(
        (word for word, stem in words.stems.items() if stem in place_of),
        key=lambda word: word.encode("utf-16-be", "surrogatepass"),
    )
    ranking = {
        "part": PART,
        "ignored": sorted(words.ignored),
        "words": known,
        "stemOf": [place_of[words.stems[word]] for word in known],
        "weights": [
            [figure for pair in sorted(words.weights[stem]) for figure in pair] for stem in stems
        ],
        "cases": [
            [
                row.number.text,
                row.number.page,
                row.title,
                row.family.text,
                wording.day(row.received),
                ", ".join(cause.text for cause in row.causes) or row.state,
            ]
            for row in material.rows(documents)
        ],
    }
    yield "data/search.js", f'var serviceBook = {{"search": {as_json(ranking)}, "texts": []}};\n'
    for start in range(0, len(documents), PART):
        texts = [
            [case.complaint, material.prose.plain(case.body, title=title_of(case))]
            for case in documents[start : start + PART]
        ]
        part = start // PART
        yield f"data/texts/{part}.js", f"serviceBook.texts[{part}] = {as_json(texts)};\n"


def as_json(value: object) -> str:
    """A value as JSON that any script may hold."""
    # ASCII, so that no encoding can spoil it and no line separator can end a string.
    return json.dumps(value, ensure_ascii=True, separators=(",", ":"))
