"""Okapi BM25 over one weighted field, from statistics of the documents that exist now.

The formula is that of Robertson and Zaragoza, *The Probabilistic Relevance Framework: BM25 and
Beyond* (2009), with fields combined before saturation as in Robertson, Zaragoza and Taylor,
*Simple BM25 Extension to Multiple Weighted Fields* (2004): an occurrence with weight 3 counts as
three, in the document's length too. The inverse document frequency is the variant that never
turns negative, ln(1 + (N − n + ½)/(n + ½)).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

K1, B = 1.2, 0.75
"""Saturation and length normalisation: the usual values, not fitted to anything."""

SCALE = 10_000_000
"""What a word is worth to a document is a whole number of such parts of one.

Sums of whole numbers don't depend on their order, so a tie is a tie on every machine.
"""

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]


def inverse_document_frequency(documents: int, found: int) -> float:
    """How telling a word is that stands in `found` of `documents` documents."""
    return math.log1p((documents - found + 0.5) / (found + 0.5))


def length_penalties(lengths: NDArray[np.int64], total: int, documents: int) -> Floats:
    """k₁·(1 − b + b·length/mean length) of each document; lengths in any unit."""
    mean = total / documents if total else 1.0
    return np.asarray(K1 * (1.0 - B + B * lengths / mean), dtype=np.float64)


def impacts(weights: Floats, penalties: Floats, documents: int) -> Numbers:
    """What one word or phrase is worth to each document that has it, of `documents` in all.

    `weights` and `penalties` are those of the documents that have it. In parts of `SCALE`, at
    least 1.
    """
    telling = inverse_document_frequency(documents, len(weights))
    exact = telling * weights * (K1 + 1.0) / (weights + penalties)
    found: Numbers = np.maximum(np.floor(SCALE * exact + 0.5), 1.0).astype(np.int64)
    return found
