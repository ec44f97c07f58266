"""The past faults as questions: each as it stood at intake and after every check but the last."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray
from scipy.sparse import csr_array

from kb.faults import asking
from kb.faults.experience import Experience
from kb.faults.findings import counted_absences, counted_symptoms
from kb.faults.fitting.leave_out import CheckRow, LeaveOut, Noted, NotedRows
from kb.faults.strengths import Strengths
from kb.notes.vocabulary import NOT_SHOWING
from kb.values import Evidence, FaultRecord

Ints = NDArray[np.int64]


BLOCK = 32_000
"""numbers in a block of scores: a quarter of a megabyte"""


class _Row(Struct, frozen=True):
    """One finding of one asking; `what` is empty for a check that tells nothing."""

    key: str
    what: CheckRow | Noted | tuple[Noted, ...] = ()


class Block(Struct, frozen=True):
    """A few askings that are worked on together, so that they stay near the processor.

    `askings`: which. `first`: the rows known from the beginning, by asking; `of` says in which of
    the block's askings each is, and so does `sums` (askings, those rows). `steps`: for each check
    on the bench the rows of those askings, the first of the block, in which it was made; none at
    intake.
    `table` (askings, rows of one): all of these again, those of the steps in the last columns,
    with a row of zeros where an asking has no more.
    """

    askings: slice
    first: slice
    of: Ints
    sums: csr_array
    steps: tuple[slice, ...]
    table: Ints


class Questions:
    """Faults asked of a book that does not hold them.

    Hypotheses are the causes of the book in order, the unseen last. Each fault is asked once with
    what was known at intake, and, if it had checks, in a second asking with all that was seen
    of it, after each of them. Askings on the bench come first, the longest at the head, then those
    `at_intake`, in the order of the faults.

    `start` (askings, hypotheses): log prior, -inf for a cause that no other fault had.
    `target` (askings): the hypothesis that came true. `share` (askings): what each question of the
    asking counts. `logs` (rows, hypotheses): log likelihoods. Rows known from the beginning of an
    asking come first, by asking; then those of the first check on the bench, one for each of the
    first askings (of zeros where it tells nothing), those of the second, and so on; the last is a
    row of zeros. `finding` (rows): an index into `findings`, their names. `blocks` hold every
    asking once.
    """

    def __init__(
        self, book: Experience, records: Sequence[FaultRecord], strengths: Strengths
    ) -> None:
        left = self._left = LeaveOut(book)
        steps = [[r.checks[made - 1] for made in asking.steps(r)] for r in records]
        bench = sorted((i for i, made in enumerate(steps) if made), key=lambda i: -len(steps[i]))
        asked = [
            *((i, _before_checks) for i in bench),
            *((i, asking.at_intake) for i in range(len(records))),
        ]
        faults = [i for i, _ in asked]
        priors = np.array([left.log_prior(record, strengths) for record in records])
        unseen = len(book.causes)
        at = np.array([left.at[record.cause] for record in records], dtype=np.int64)
        known = np.isfinite(priors[np.arange(len(records)), at])
        self.start = priors[faults]
        self.target = np.where(known, at, unseen)[faults]
        vote = [
            record.weight / (1 + len(made)) for record, made in zip(records, steps, strict=True)
        ]
        self.share = np.array(vote)[faults]
        rows = [
            (n, row)
            for n, (i, evidence) in enumerate(asked)
            for row in _known_first(left, records[i], evidence(records[i]))
        ]
        fault = np.array([n for n, _ in rows], dtype=np.int64)
        ends = [len(rows)]
        for k in range(len(steps[bench[0]]) if bench else 0):
            rows += [
                (n, _check_row(left, records[i], *steps[i][k]))
                for n, i in enumerate(bench)
                if len(steps[i]) > k
            ]
            ends.append(len(rows))
        self.blocks = [
            *_blocks(slice(len(bench)), fault, ends, unseen),
            *_blocks(slice(len(bench), len(asked)), fault, ends[:1], unseen),
        ]
        self._index([*(row for _, row in rows), _Row("")])
        self.logs = np.zeros((len(rows) + 1, unseen + 1))
        self.set_shrinkage(strengths)

    def set_shrinkage(self, strengths: Strengths, kinds: str = "symptom check word") -> None:
        """Work out `logs` (rows, hypotheses), the log likelihood of each finding, anew."""
        if "check" in kinds:
            self._set_checks(strengths.check, strengths.weight)
        if "symptom" in kinds:
            self._set_symptoms(strengths.symptom, strengths.weight)
        if "word" in kinds:
            self._set_words(strengths.word, strengths.weight)

    def of_kind(self, kind: str) -> Ints:
        """The rows that a shrinkage bears on: of `symptom`, `check` or `word`."""
        return {"check": self._checks, "symptom": self._noted, "word": self._texts}[kind]

    def _index(self, rows: Sequence[_Row]) -> None:
        """Name the findings, and gather what the rates of each kind are worked out from."""
        self.findings = sorted({row.key for row in rows if row.what != ()})
        number = {key: j for j, key in enumerate(self.findings)}
        self.finding = np.array([number.get(row.key, len(number)) for row in rows], dtype=np.int64)
        found: list[tuple[list[int], list[CheckRow | Noted | tuple[Noted, ...]]]] = []
        for kind in (CheckRow, Noted, tuple):
            at = [n for n, row in enumerate(rows) if isinstance(row.what, kind) and row.what != ()]
            found.append((at, [rows[n].what for n in at]))
        (checks, counts), (noted, symptoms), (texts, words) = found
        self._checks, self._noted, self._texts = (
            np.array(at, dtype=np.int64) for at in (checks, noted, texts)
        )
        kinds = {id(row): row for row in counts if isinstance(row, CheckRow)}
        place = {which: i for i, which in enumerate(kinds)}
        self._kind = np.array([place[id(row)] for row in counts], dtype=np.int64)
        shape = (len(kinds), len(self._left.at))
        self._seen = np.array([row.seen for row in kinds.values()]).reshape(shape)
        self._made = np.array([row.made for row in kinds.values()]).reshape(shape)
        self._typical = np.array([[row.typical] for row in kinds.values()]).reshape(-1, 1)
        self._symptoms = NotedRows(self._left, [s for s in symptoms if isinstance(s, Noted)])
        texts_of_words = [text for text in words if isinstance(text, tuple)]
        self._words = NotedRows(self._left, [w for text in texts_of_words for w in text])
        sizes = np.array([len(text) for text in texts_of_words], dtype=np.int64)
        self._text_of = np.repeat(np.arange(len(sizes)), sizes)
        self._part = np.repeat(1.0 / np.sqrt(sizes), sizes)

    def _set_checks(self, shrinkage: float, power: float) -> None:
        if len(self._checks):
            rates = (self._seen + shrinkage * self._typical) / (self._made + shrinkage)
            logs = np.log(rates)
            mean = (self._made * np.exp(power * logs)).sum(axis=1) / self._made.sum(axis=1)
            self.logs[self._checks] = np.column_stack([logs, np.log(mean) / power])[self._kind]

    def _set_symptoms(self, shrinkage: float, power: float) -> None:
        if len(self._noted):
            every, own, unseen = self._symptoms.logs(shrinkage, power)
            self.logs[self._noted, :-1] = every[self._symptoms.key]
            self.logs[self._noted, self._symptoms.at] = own
            self.logs[self._noted, -1] = unseen

    def _set_words(self, shrinkage: float, power: float) -> None:
        if len(self._texts):
            every, own, unseen = self._words.logs(shrinkage, power)
            words, part, text = self._words, self._part, self._text_of
            shape = (len(self._texts), len(every))
            logs = np.empty((len(self._texts), every.shape[1] + 1))
            logs[:, :-1] = csr_array((part, (text, words.key)), shape=shape) @ every
            np.add.at(logs, (text, words.at), part * (own - every[words.key, words.at]))
            logs[:, -1] = np.bincount(text, weights=part * unseen, minlength=len(logs))
            self.logs[self._texts] = logs


def _blocks(askings: slice, fault: Ints, ends: Sequence[int], causes: int) -> Iterator[Block]:
    """Cut askings into blocks; `fault` names the asking of each of the first rows."""
    size = max(BLOCK // (causes + 1), 1)
    for begin in range(askings.start or 0, askings.stop, size):
        end = min(begin + size, askings.stop)
        starts = np.searchsorted(fault, np.arange(begin, end + 1))
        first = slice(int(starts[0]), int(starts[-1]))
        of, starts = fault[first] - begin, starts - starts[0]
        steps = tuple(
            slice(row + begin, min(row + end, next_row))
            for row, next_row in pairwise(ends)
            if row + begin < next_row
        )
        widest = int(np.diff(starts).max())
        table = np.full((end - begin, widest + len(steps)), -1)
        table[of, np.arange(len(of)) - starts[of]] = np.arange(first.start, first.stop)
        for k, rows in enumerate(steps, start=widest):
            table[: rows.stop - rows.start, k] = np.arange(rows.start, rows.stop)
        ones = (np.ones(len(of)), np.arange(len(of)), starts)
        sums = csr_array(ones, shape=(end - begin, len(of)))
        yield Block(slice(begin, end), first, of, sums, steps, table)


def _known_first(left: LeaveOut, record: FaultRecord, evidence: Evidence) -> list[_Row]:
    """The findings of a question as `findings.read_evidence` reads them."""
    above, at = left.book.ancestors, left.at[record.cause]

    def known(symptom: str) -> bool:
        return left.knows_symptom(symptom, record)

    def noted(symptom: str, absent: bool) -> _Row:
        chain = tuple(s for s in (symptom, *above(symptom)) if known(s))
        own = tuple(s in record.symptoms for s in chain)
        what = Noted("symptom", chain, own, at, record.weight, absent)
        return _Row(f"{'absent' if absent else 'symptom'}:{symptom}", what)

    there = {a for s in evidence.symptoms for a in (s, *above(s))}
    absent = set(evidence.absent) - there
    found = [noted(s, False) for s in counted_symptoms(evidence.symptoms, known, above)]
    found += [noted(s, True) for s in counted_absences(absent, known, above)]
    checks = (_check_row(left, record, *made) for made in evidence.checks if made[1] != NOT_SHOWING)
    found += [row for row in checks if row.what != ()]
    words = tuple(
        Noted("word", (word,), (True,), at, record.weight)
        for word in evidence.words
        if left.knows_word(word, record)
    )
    return [*found, _Row("text", words)] if words else found


def _before_checks(record: FaultRecord) -> Evidence:
    return asking.on_the_bench(record, record.at_intake)


def _check_row(left: LeaveOut, record: FaultRecord, check: str, outcome: str) -> _Row:
    return _Row(f"check:{check}", left.check(check, outcome, record) or ())
