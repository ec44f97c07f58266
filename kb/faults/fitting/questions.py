"""The past faults as questions: each as it stood at intake and after every check but the last."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kb.faults import prior as priors
from kb.faults.experience import Experience
from kb.faults.findings import counted_absences, counted_symptoms
from kb.faults.fitting.leave_out import Array, CheckRow, LeaveOut
from kb.faults.prior import prune
from kb.faults.strengths import Strengths
from kb.notes.vocabulary import NOT_SHOWING
from kb.values import FaultRecord


class Questions:
    """Faults asked of a book that does not hold them.

    Hypotheses are the causes of the book in order, the unseen last. A row is one finding of one
    fault; rows are sorted by `step` (0: known at intake; k: the k-th check after it), then fault.

    `start` (faults, hypotheses): log prior, -inf for a cause that no other fault had.
    `target` (faults): the hypothesis that came true. `share` (faults): what each of a fault's
    questions counts. `last` (faults): the last step that is asked. `fault`, `step`, `finding`
    (rows): indices; `findings` names the findings.
    """

    def __init__(
        self, book: Experience, records: Sequence[FaultRecord], strengths: Strengths
    ) -> None:
        self.left = LeaveOut(book)
        self.records = records
        self.start = np.array([_log_prior(book, r, strengths) for r in records])
        known = np.isfinite(self.start)
        at = [self.left.at[r.cause] for r in records]
        unseen = len(book.causes)
        self.target = np.array(
            [a if known[i, a] else unseen for i, a in enumerate(at)], dtype=np.int64
        )
        rows: list[tuple[int, int, str, object]] = []
        last: list[int] = []
        for i, record in enumerate(records):
            rows += [(0, i, key, what) for key, what in self._at_intake(record)]
            steps = _steps(record)
            last.append(len(steps))
            for k, (check, outcome) in enumerate(steps, start=1):
                row = self.left.check(check, outcome, record)
                if row is not None:
                    rows.append((k, i, f"check:{check}", row))
        rows.sort(key=lambda row: (row[0], row[1], row[2]))
        self.last = np.array(last, dtype=np.int64)
        self.share = np.array([r.weight for r in records]) / (1.0 + self.last)
        self.findings = sorted({key for _, _, key, _ in rows})
        number = {key: j for j, key in enumerate(self.findings)}
        self.step = np.array([row[0] for row in rows], dtype=np.int64)
        self.fault = np.array([row[1] for row in rows], dtype=np.int64)
        self.finding = np.array([number[row[2]] for row in rows], dtype=np.int64)
        self._checks = [n for n, row in enumerate(rows) if isinstance(row[3], CheckRow)]
        self._words = [n for n, row in enumerate(rows) if row[2] == "text"]
        self._noted = [
            n for n, row in enumerate(rows) if row[2].startswith(("symptom:", "absent:"))
        ]
        self._what = [row[3] for row in rows]
        self._stack()
        self.logs = np.empty((len(rows), unseen + 1))
        self.set_shrinkage(strengths)

    def set_shrinkage(self, strengths: Strengths, kinds: str = "symptom check word") -> None:
        """Work out `logs` (rows, hypotheses), the log likelihood of each finding, anew."""
        if "check" in kinds:
            self._set_checks(strengths.check, strengths.weight)
        if "symptom" in kinds:
            self._set_symptoms(strengths.symptom, strengths.weight)
        if "word" in kinds:
            self._set_words(strengths.word, strengths.weight)

    def _stack(self) -> None:
        rows = [self._what[n] for n in self._checks]
        checks = [row for row in rows if isinstance(row, CheckRow)]
        none = np.empty((0, len(self.left.at)))
        self._seen = np.array([row.seen for row in checks]) if checks else none
        self._made = np.array([row.made for row in checks]) if checks else none
        self._typical = np.array([[row.typical] for row in checks]).reshape(-1, 1)

    def _set_checks(self, shrinkage: float, power: float) -> None:
        if self._checks:
            rates = (self._seen + shrinkage * self._typical) / (self._made + shrinkage)
            self.logs[self._checks] = _logs(rates, self._made, power)

    def _set_symptoms(self, shrinkage: float, power: float) -> None:
        if not self._noted:
            return
        rates, totals = np.empty((2, len(self._noted), len(self.left.at)))
        for i, n in enumerate(self._noted):
            symptom, record = str(self._what[n]), self.records[self.fault[n]]
            rates[i], totals[i] = self.left.symptom(symptom, record, shrinkage)
            if self.findings[self.finding[n]].startswith("absent:"):
                rates[i] = 1.0 - rates[i]
        self.logs[self._noted] = _logs(rates, totals, power)

    def _set_words(self, shrinkage: float, power: float) -> None:
        for n in self._words:
            words, record = self._what[n], self.records[self.fault[n]]
            assert isinstance(words, tuple), "text is its known words"
            pairs = [self.left.word(word, record, shrinkage) for word in words]
            rates, totals = (np.array(part) for part in zip(*pairs, strict=True))
            self.logs[n] = _logs(rates, totals, power).sum(axis=0) / np.sqrt(len(words))

    def _at_intake(self, record: FaultRecord) -> list[tuple[str, object]]:
        left = self.left

        def known(symptom: str) -> bool:
            return left.knows_symptom(symptom, record)

        above = left.book.ancestors
        found: list[tuple[str, object]] = [
            (f"symptom:{s}", s) for s in counted_symptoms(record.symptoms, known, above)
        ]
        there = {a for s in record.symptoms for a in (s, *above(s))}
        found += [(f"absent:{s}", s) for s in counted_absences(record.absent - there, known, above)]
        for check, outcome in record.checks[: record.at_intake]:
            row = left.check(check, outcome, record) if outcome != NOT_SHOWING else None
            if row is not None:
                found.append((f"check:{check}", row))
        words = tuple(w for w in sorted(record.words) if left.knows_word(w, record))
        return [*found, ("text", words)] if words else found


def _logs(rates: Array, counts: Array, power: float) -> Array:
    """The logs of rates (rows, causes), and of their power mean at the end of each row."""
    logs = np.log(rates)
    mean = (counts * np.exp(power * logs)).sum(axis=1) / counts.sum(axis=1)
    return np.column_stack([logs, np.log(mean) / power])


def _steps(record: FaultRecord) -> list[tuple[str, str]]:
    """The checks after intake without the last, which confirmed what was suspected by then."""
    return [
        (check, outcome)
        for check, outcome in record.checks[record.at_intake : -1]
        if outcome != NOT_SHOWING
    ]


def _log_prior(book: Experience, record: FaultRecord, strengths: Strengths) -> Array:
    tree = prune(book.tree, record.family, record.cause, book.lineage, record.weight)
    found = priors.prior(tree, record.family, book.lineage, strengths)
    shares = [found.causes.get(cause, 0.0) for cause in book.causes]
    with np.errstate(divide="ignore"):
        logs: Array = np.log(np.array([*shares, found.unseen]))
    return logs
