"""Okapi BM25 over one weighted field, from statistics of the documents that exist now.

The formula is that of Robertson and Zaragoza, *The Probabilistic Relevance Framework: BM25 and
Beyond* (2009), with fields combined before saturation as in Robertson, Zaragoza and Taylor,
*Simple BM25 Extension to Multiple Weighted Fields* (2004): an occurrence with weight 3 counts as
three, in the document's length too. The inverse document frequency is the variant that never
turns negative, ln(1 + (N − n + ½)/(n + ½)).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

K1, B = 1.2, 0.75
"""Saturation and length normalisation: the usual values, not fitted to anything."""

DIGITS = 6
"""Scores are rounded to so many decimals: a tie is then a tie on every machine."""


def inverse_document_frequency(documents: int, found: int) -> float:
    """How telling a word is that stands in `found` of `documents` documents."""
    return math.log1p((documents - found + 0.5) / (found + 0.5))


def length_penalties(lengths: Sequence[int], total: int, documents: int) -> list[float]:
    """k₁·(1 − b + b·length/mean length) of each document; lengths in any unit."""
    mean = total / documents if total else 1.0
    return [K1 * (1.0 - B + B * length / mean) for length in lengths]


def add_scores(
    scores: dict[int, float],
    postings: Mapping[int, float],
    documents: int,
    penalties: Sequence[float],
) -> None:
    """Add what one word or phrase, given as document -> weight, is worth to each document."""
    telling = inverse_document_frequency(documents, len(postings))
    for document, weight in postings.items():
        worth = telling * weight * (K1 + 1.0) / (weight + penalties[document])
        scores[document] = scores.get(document, 0.0) + worth
