"""The second baseline: causes of the past complaints that are most like this one.

The terms of a complaint are its words and the symptoms it was understood to name. Complaints are
compared by Okapi BM25 (Robertson & Zaragoza, *The Probabilistic Relevance Framework: BM25 and
Beyond*, 2009; inverse document frequency ln(1 + (N - n + 1/2)/(n + 1/2)), every term at most
once), a cause scores like its most alike complaint, and a softmax makes shares of the scores:

    share(c) = exp(b * score(c)) / sum over known causes of exp(b * score)

The steepness b is fitted to past questions alone, each with the scores that it had on its day.
"""

from __future__ import annotations

from array import array
from collections import deque

import numpy as np
from scipy.optimize import minimize_scalar

from kb.faults.replay.past import Array, Past
from kb.values import FaultRecord

NAME = "text-only"
K1, B = 1.2, 0.75
"""Saturation and length normalisation: the usual values, not fitted to anything."""
USUAL_STEEPNESS, MOST_STEEPNESS = 0.3, 3.0
"""before there is anything to fit it to (judgement), and at most"""
MOST_REMEMBERED = 600
"""b is fitted to the last so many questions whose answer came out"""


class TextOnly:
    """The complaints so far, and how alike a new one is to those of each cause."""

    def __init__(self, past: Past) -> None:
        self._past = past
        self._postings: dict[str, array[int]] = {}
        self._cause = array("q")
        self._length = array("q")
        self._open: dict[int, Array] = {}
        self._answered: deque[tuple[Array, int]] = deque(maxlen=MOST_REMEMBERED)
        self._steepness = USUAL_STEEPNESS

    def add(self, number: int, record: FaultRecord) -> None:
        """Let one more fault be known, and with it the answer to the question of this number."""
        at = self._past.at[record.cause]
        terms = _terms(record)
        for term in terms:
            self._postings.setdefault(term, array("q")).append(len(self._cause))
        self._cause.append(at)
        self._length.append(len(terms))
        asked = self._open.pop(number, None)
        if asked is not None and np.isfinite(asked[at]):
            self._answered.append((asked, at))

    def refit(self) -> None:
        """Fit the steepness to the questions whose answers are known by now."""
        if not self._answered:
            return
        scores = np.array([row for row, _ in self._answered])
        hits = scores[np.arange(len(scores)), [at for _, at in self._answered]]
        lead = scores - scores.max(axis=1, keepdims=True)
        behind = hits - scores.max(axis=1)

        def loss(steepness: float) -> float:
            # A cause that was not known has score -inf, which exp turns into 0.
            totals = np.exp(steepness * lead).sum(axis=1)
            return float(np.log(totals).sum() - steepness * behind.sum())

        bounds = (1e-6, MOST_STEEPNESS)
        self._steepness = float(minimize_scalar(loss, bounds=bounds, method="bounded").x)

    def shares(self, number: int, record: FaultRecord) -> Array:
        """The share of each cause, 0 where it is not known yet; remembered by this number."""
        scores = np.where(self._past.totals > 0, self._scores(record), -np.inf)
        self._open[number] = scores
        raised = np.exp(self._steepness * (scores - scores.max()))
        found: Array = raised / raised.sum()
        return found

    def _scores(self, record: FaultRecord) -> Array:
        number = len(self._cause)
        best = np.zeros(len(self._past.causes))
        found = [np.array(p) for t in _terms(record) if (p := self._postings.get(t))]
        if not found:
            return best
        sizes = np.array([len(p) for p in found])
        telling = np.log1p((number - sizes + 0.5) / (sizes + 0.5))
        shared = np.bincount(
            np.concatenate(found), weights=np.repeat(telling, sizes), minlength=number
        )
        lengths = np.array(self._length)
        score = shared * (K1 + 1.0) / (1.0 + K1 * (1.0 - B + B * lengths / lengths.mean()))
        np.maximum.at(best, np.array(self._cause), score)
        return best


def _terms(record: FaultRecord) -> list[str]:
    return sorted({*record.words, *(f"symptom:{s}" for s in record.at_counter)})
