"""Words that the first hits share, which put cases like them higher: relevance feedback.

How likely a word is in the first hits is the relevance model of V. Lavrenko and W. B. Croft,
"Relevance-based language models" (SIGIR 2001), mixed half and half with the question as by
N. Abdul-Jaleel et al., "UMass at TREC 2004: Novelty and HARD". What is usual beside that, leaving
out words that a tenth of all texts have, would leave out the symptoms of a small book; here a
word counts by how telling it is. docs/search.md says what it gains and how that was chosen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from kb.text.ranking import inverse_document_frequency

HITS = 10
"""So many of the best hits are read."""

LIKELY, WORDS = 20, 10
"""So many of the likeliest words are weighed, and so many of them taken."""

RARE = 2
"""A word in fewer cases than this leads to no other case."""

PARTS = 1_000
"""Shares are whole numbers of such parts, so that sums don't depend on their order."""

Hit = tuple[int, int, Mapping[str, int]]
"""A hit's score, its length in half units, and the weight of its main terms in the same."""


def telling_words(
    hits: Iterable[Hit], spread: Callable[[str], int], documents: int
) -> list[tuple[str, int]]:
    """The terms that tell most about some hits, each with its share in `PARTS`.

    How likely a term is, is the mean of its share of each hit's length, weighted by the scores;
    that times its inverse document frequency is how telling it is. `spread` says in how many of all
    `documents` a term is.
    """
    likely: dict[str, float] = {}
    for score, halves, terms in hits:
        each = score / halves
        for term, weight in terms.items():
            likely[term] = likely.get(term, 0.0) + each * weight
    first = sorted((-chance, term) for term, chance in likely.items())[:LIKELY]
    telling = []
    for less, term in first:
        found = spread(term)
        if found >= RARE:
            telling.append((less * inverse_document_frequency(documents, found), term))
    taken = sorted(telling)[:WORDS]
    total = sum(less for less, _ in taken)
    return [(term, round(PARTS * less / total)) for less, term in taken]
