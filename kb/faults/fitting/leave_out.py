"""Likelihoods of the evidence of past faults, each as if that fault had not come in.

Taking one fault out changes the counts of its own cause, and a little the base rates that all
causes lean on. Both are followed exactly: the numbers are those of `Experience.without`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.faults.experience import Experience
from kb.values import FaultRecord

Array = NDArray[np.float64]
Row = tuple[Array, Array]
"""the rate under every cause, and what each cause counts in the mean over all"""


class LeaveOut:
    """The counts of a book as arrays over its causes, and rates with one fault left out.

    Rates are cached, so one object serves one set of counts and no other.
    """

    def __init__(self, book: Experience) -> None:
        self.book = book
        self.at = {cause: i for i, cause in enumerate(book.causes)}
        self.totals = np.array([book.totals[cause] for cause in book.causes])
        self.faults = float(self.totals.sum())
        self._noted: dict[object, tuple[Array, Array]] = {}
        self._rows: dict[tuple[str, str], tuple[Array, float]] = {}

    def row(self, table: str, key: str) -> tuple[Array, float]:
        """Faults per cause with a symptom or a word, and their sum."""
        if (table, key) not in self._rows:
            tables = self.book.counts.symptoms if table == "symptom" else self.book.counts.words
            counts = self._counts(tables.get(key, {}))
            self._rows[table, key] = (counts, float(counts.sum()))
        return self._rows[table, key]

    def knows_symptom(self, symptom: str, record: FaultRecord) -> bool:
        """Whether any other fault was noted with it."""
        own = record.weight if symptom in record.symptoms else 0.0
        return self.row("symptom", symptom)[1] - own > 0

    def knows_word(self, word: str, record: FaultRecord) -> bool:
        """Whether any other complaint held it."""
        own = record.weight if word in record.words else 0.0
        return self.row("word", word)[1] - own > 0

    def symptom(self, symptom: str, record: FaultRecord, shrinkage: float) -> Row:
        """Rates (not logs) of a symptom that another fault was noted with."""
        line = (symptom, *self.book.ancestors(symptom))
        chain = tuple(s for s in line if self.knows_symptom(s, record))
        own = tuple(s in record.symptoms for s in chain)
        return self._rate("symptom", chain, own, record, shrinkage)

    def word(self, word: str, record: FaultRecord, shrinkage: float) -> Row:
        """Rates of a word that another complaint held."""
        return self._rate("word", (word,), (word in record.words,), record, shrinkage)

    def _rate(
        self,
        table: str,
        chain: tuple[str, ...],
        own: tuple[bool, ...],
        record: FaultRecord,
        shrinkage: float,
    ) -> Row:
        key = (table, chain, own, record.weight, shrinkage)
        if key not in self._noted:
            self._noted[key] = self._noted_rates(table, chain, own, record.weight, shrinkage)
        others, mine = self._noted[key]
        rates, totals = others.copy(), self.totals.copy()
        at = self.at[record.cause]
        rates[at] = mine[at]
        totals[at] -= record.weight
        return rates, totals

    def _noted_rates(
        self,
        table: str,
        chain: tuple[str, ...],
        own: tuple[bool, ...],
        weight: float,
        shrinkage: float,
    ) -> tuple[Array, Array]:
        """As `likelihood.noted_rates`: for every other cause, and were a cause the fault's own."""
        faults = self.faults - weight
        above = faults + 1.0
        others: Array | float = 1.0
        mine: Array | float = 1.0
        made = np.maximum(self.totals - weight, 0.0)
        for key, here in zip(reversed(chain), reversed(own), strict=True):
            row, total = self.row(table, key)
            less = weight if here else 0.0
            noted = total - less
            share = (noted + 0.5) / above
            others = (row + shrinkage * share * others) / (self.totals + shrinkage)
            mine = (np.maximum(row - less, 0.0) + shrinkage * share * mine) / (made + shrinkage)
            above = noted + 0.5
        return np.asarray(others), np.asarray(mine)

    def check(self, check: str, outcome: str, record: FaultRecord) -> CheckRow | None:
        """The counts of a check's outcome without this fault; None if no other came out so."""
        if check not in self._made:
            self._made[check] = _Made(
                {o: self._counts(row) for o, row in self.book.counts.checks[check].items()}
            )
        return self._made[check].left_out(outcome, self.at[record.cause], record.weight)

    @cached_property
    def _made(self) -> dict[str, _Made]:
        return {}

    def _counts(self, row: Mapping[str, float]) -> Array:
        counts = np.zeros(len(self.at))
        for cause, count in row.items():
            counts[self.at[cause]] = count
        return counts


class CheckRow:
    """An outcome's counts per cause, how often the check was made, and the base rate."""

    __slots__ = ("made", "seen", "typical")

    def __init__(self, seen: Array, made: Array, typical: float) -> None:
        self.seen, self.made, self.typical = seen, made, typical


class _Made:
    """One check: its outcomes by cause, and what is left when one fault is taken out."""

    def __init__(self, outcomes: Mapping[str, Array]) -> None:
        self.names = sorted(o for o, row in outcomes.items() if row.sum() > 0)
        self.seen = np.array([outcomes[o] for o in self.names])
        self.made = self.seen.sum(axis=0)
        self.causes = np.flatnonzero(self.made)
        self.rates = self.seen[:, self.causes] / self.made[self.causes]
        self.sums = self.seen.sum(axis=1)
        self._left: dict[tuple[str, int, float], CheckRow | None] = {}

    def left_out(self, outcome: str, cause: int, weight: float) -> CheckRow | None:
        """As `likelihood.check_rates` would have it without one fault that came out so."""
        key = (outcome, cause, weight)
        if key not in self._left:
            self._left[key] = self._without(self.names.index(outcome), cause, weight)
        return self._left[key]

    def _without(self, which: int, cause: int, weight: float) -> CheckRow | None:
        sums = self.sums.copy()
        sums[which] -= weight
        if sums[which] <= 0:
            return None
        seen, made = self.seen[which].copy(), self.made.copy()
        seen[cause] -= weight
        made[cause] -= weight
        rates, column = self.rates, int(np.searchsorted(self.causes, cause))
        if made[cause] <= 0:
            rates = np.delete(rates, column, axis=1)
        else:
            rates = rates.copy()
            own = self.seen[:, cause].copy()
            own[which] -= weight
            rates[:, column] = own / made[cause]
        base = rates.shape[1] * np.median(rates, axis=1) + sums / sums.sum()
        return CheckRow(seen, made, float(base[which] / base.sum()))


def in_content_order(records: Sequence[FaultRecord]) -> list[FaultRecord]:
    """The faults in an order that depends on what they hold and on nothing else."""
    return sorted(records, key=_content)


def _content(record: FaultRecord) -> tuple[object, ...]:
    return (
        record.case,
        record.family,
        record.cause,
        tuple(sorted(record.symptoms)),
        record.checks,
        tuple(sorted(record.words)),
        tuple(sorted(record.absent)),
        record.at_intake,
        record.weight,
    )
