"""The rates of the words of complaints as arrays, for a thousand questions one after the other.

The figures are those of `kb.faults.likelihood.noted_rates` for single words. Needs NumPy.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from kb.faults.experience import Experience
from kb.values import FaultRecord

Floats = NDArray[np.float64]


class WordTable:
    """The words of an experience; of each the row over the causes is laid out once."""

    def __init__(self, experience: Experience) -> None:
        self._counts = experience.counts.words
        self._causes = experience.causes
        self._place = {cause: place for place, cause in enumerate(self._causes)}
        self._totals = np.array([experience.totals[cause] for cause in self._causes])
        self._shrinkage = experience.strengths.word
        self._power = experience.strengths.weight
        self._rows: dict[str, Floats | None] = {}

    def log_likelihoods(
        self, words: Iterable[str], without: FaultRecord | None = None
    ) -> list[float] | None:
        """log P(words | cause) for each known cause, and for the unseen at the end.

        As if the fault `without` had never come in: a cause that only it had is left out then.
        None if no complaint ever held any of the words.
        """
        own = self._place.get(without.cause) if without else None
        weight = without.weight if without and own is not None else 0.0
        totals = self._totals
        if own is not None and weight:
            totals = totals.copy()
            totals[own] -= weight
        rows = []
        for word in sorted(set(words)):
            row = self._row(word)
            if row is None:
                continue
            if own is not None and without and word in without.words:
                row = row.copy()
                row[own] -= weight
            if row.any():
                rows.append(row)
        if not rows:
            return None
        seen = np.array(rows)
        known = totals > 0
        if not known.all():
            seen, totals = seen[:, known], totals[known]
        faults = totals.sum()
        typical = (seen.sum(axis=1) + 0.5) / (faults + 1.0)
        rates = (seen + self._shrinkage * typical[:, None]) / (totals + self._shrinkage)
        unseen = ((totals * rates**self._power).sum(axis=1) / faults) ** (1.0 / self._power)
        logs = np.log(np.column_stack([rates, unseen])).sum(axis=0) / sqrt(len(rows))
        found: list[float] = logs.tolist()
        return found

    def _row(self, word: str) -> Floats | None:
        if word not in self._rows:
            counts = self._counts.get(word)
            row = None
            if counts:
                row = np.zeros(len(self._causes))
                for cause, count in counts.items():
                    row[self._place[cause]] = count
            self._rows[word] = row
        return self._rows[word]
