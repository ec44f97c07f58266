"""Likelihoods of the evidence of past faults, each as if that fault had not come in.

Taking one fault out changes the counts of its own cause, and a little the base rates that all
causes lean on. Both are followed exactly: the numbers are those of `Experience.without`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from kb.faults.experience import Experience
from kb.faults.prior import Node, way_down
from kb.faults.strengths import Strengths
from kb.values import FaultRecord

Array = NDArray[np.float64]


class LeaveOut:
    """The counts of a book as arrays over its causes, with one fault or another left out."""

    def __init__(self, book: Experience) -> None:
        self.book = book
        self.at = {cause: i for i, cause in enumerate(book.causes)}
        self.totals = np.array([book.totals[cause] for cause in book.causes])
        self.faults = float(self.totals.sum())
        self._rows: dict[tuple[str, str], tuple[Array, float]] = {}
        self._made: dict[str, _Made] = {}
        self._tables: dict[Node, Array] = {}

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

    def log_prior(self, record: FaultRecord, strengths: Strengths) -> Array:
        """The log prior of each cause, -inf for one that no other fault had, the unseen last."""
        way = way_down(record.family, self.book.lineage)
        at, less = self.at[record.cause], record.weight
        tables: list[Array] = []
        for node in reversed(way):
            if node not in self._tables:
                self._tables[node] = self._counts(self.book.tree[node])
            table = self._tables[node]
            if less > 0:
                table = table.copy()
                table[at] -= less
                less = 0.0 if table[at] > 0 else 1.0
            tables.append(table)
        shares, unseen = np.zeros(len(self.at)), 1.0
        for node, table in zip(way, reversed(tables), strict=True):
            level = getattr(strengths, node[-1][0]) if node else strengths.book
            size = table.sum() + level.theta
            taken = np.minimum(table, level.discount)
            passed_up = (level.theta + taken.sum()) / size
            shares = passed_up * shares + (table - taken) / size
            unseen *= passed_up
        with np.errstate(divide="ignore"):
            logs: Array = np.log(np.append(shares, unseen))
        return logs

    def check(self, check: str, outcome: str, record: FaultRecord) -> CheckRow | None:
        """The counts of a check's outcome without this fault; None if no other came out so."""
        if check not in self._made:
            self._made[check] = _Made(
                {o: self._counts(row) for o, row in self.book.counts.checks[check].items()}
            )
        return self._made[check].left_out(outcome, self.at[record.cause], record.weight)

    def _counts(self, row: Mapping[str, float]) -> Array:
        counts = np.zeros(len(self.at))
        for cause, count in row.items():
            counts[self.at[cause]] = count
        return counts


class Noted(Struct, frozen=True):
    """A symptom or a word as one fault sees it that is taken out of the counts.

    `chain` is the symptom with its ancestors that others were noted with, nearest first, or the
    word; `own` whether the fault itself was noted with each; `at` its cause.
    """

    table: str
    chain: tuple[str, ...]
    own: tuple[bool, ...]
    at: int
    weight: float
    absent: bool = False


class NotedRows:
    """The rates of many symptoms or words, each with its fault left out.

    They differ from fault to fault in one cause only, and are worked out once for all others.
    """

    def __init__(self, left: LeaveOut, noted: Sequence[Noted]) -> None:
        self._left = left
        keys = {(n.table, n.chain, n.own, n.weight, n.absent): n for n in noted}
        number = {key: i for i, key in enumerate(keys)}
        self._keys = list(keys.values())
        self.key = np.array(
            [number[n.table, n.chain, n.own, n.weight, n.absent] for n in noted], dtype=np.int64
        )
        self.at = np.array([n.at for n in noted], dtype=np.int64)
        self._weight = np.array([n.weight for n in noted])

    def logs(self, shrinkage: float, power: float) -> tuple[Array, Array, Array]:
        """Logs of the rates: for each key under every cause; for each of the rows under the cause
        of its fault; and for each of the rows that of the unseen (`Rates.of_unseen`).
        """
        left = self._left
        pairs = [self._rates(key, shrinkage) for key in self._keys]
        rates, mine = np.array(pairs).transpose(1, 0, 2) if pairs else np.ones((2, 0, len(left.at)))
        every: Array = np.log(rates)
        own: Array = np.log(mine[self.key, self.at])
        raised = np.exp(power * every)
        before = left.totals[self.at]
        mean = (raised @ left.totals)[self.key] - before * raised[self.key, self.at]
        mean += (before - self._weight) * np.exp(power * own)
        return every, own, np.log(mean / (left.faults - self._weight)) / power

    def _rates(self, key: Noted, shrinkage: float) -> tuple[Array, Array]:
        """As `likelihood.noted_rates`: for any other cause, and were a cause the fault's own."""
        left = self._left
        faults = left.faults - key.weight
        above = faults + 1.0
        others = mine = np.ones(1)
        made = np.maximum(left.totals - key.weight, 0.0)
        for name, here in zip(reversed(key.chain), reversed(key.own), strict=True):
            row, total = left.row(key.table, name)
            less = key.weight if here else 0.0
            noted = total - less
            base = shrinkage * (noted + 0.5) / above
            others = (row + base * others) / (left.totals + shrinkage)
            mine = (np.maximum(row - less, 0.0) + base * mine) / (made + shrinkage)
            above = noted + 0.5
        return (1.0 - others, 1.0 - mine) if key.absent else (others, mine)


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
        ordered = np.sort(rates, axis=1)  # in a few columns faster than NumPy's median
        known = ordered.shape[1]
        middle = (ordered[:, (known - 1) // 2] + ordered[:, known // 2]) / 2.0
        base = known * middle + sums / sums.sum()
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
        record.at_counter,
        record.denied,
    )
