"""What the book held on a day of the past, kept as arrays and grown fault by fault.

`Past.ask` gives the very probabilities of `kb.faults.ranking.posterior` on an experience of the
same faults; a test holds the two together. That one asks one question of a finished book; this
one asks tens of thousands of a book that changes between them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from kb.faults.findings import counted_absences, counted_symptoms
from kb.faults.prior import Lineage, Node, way_down
from kb.faults.strengths import FIXED, Strengths
from kb.notes.vocabulary import NOT_SHOWING
from kb.values import Evidence, FaultRecord

Array = NDArray[np.float64]


class Past:
    """The faults so far, as counts over all causes that ever come; `causes` are these in order.

    Hypotheses are the causes, of which some are not known yet, and the unseen last. `faults` are
    those added, in their order.
    """

    def __init__(
        self, causes: Iterable[str], lineage: Lineage, symptom_parents: Mapping[str, str]
    ) -> None:
        self.causes = tuple(sorted(set(causes)))
        self.at = {cause: i for i, cause in enumerate(self.causes)}
        self.lineage = lineage
        self.faults: list[FaultRecord] = []
        self.totals = self._none()
        self.symptoms: dict[str, Array] = {}
        self.words: dict[str, Array] = {}
        self.checks: dict[str, dict[str, Array]] = {}
        self._parents = symptom_parents
        self._strengths = FIXED
        self._tables: dict[Node, Array] = {}
        self._lines: dict[str, tuple[str, ...]] = {}
        self._logs: dict[tuple[str, ...], Array] = {}

    def add(self, record: FaultRecord) -> None:
        """Let one more fault be known."""
        at, weight = self.at[record.cause], record.weight
        self.faults.append(record)
        self.totals[at] += weight
        rows = [self.symptoms.setdefault(s, self._none()) for s in record.symptoms]
        rows += [self.words.setdefault(w, self._none()) for w in record.words]
        rows += [
            self.checks.setdefault(c, {}).setdefault(o, self._none()) for c, o in set(record.checks)
        ]
        for row in rows:
            row[at] += weight
        step = weight
        for node in reversed(way_down(record.family, self.lineage)):
            table = self._tables.setdefault(node, self._none())
            known = table[at] > 0
            table[at] += step
            if known:
                break
            step = 1.0
        self._logs.clear()

    @property
    def strengths(self) -> Strengths:
        """The strengths that questions are asked with."""
        return self._strengths

    @strengths.setter
    def strengths(self, strengths: Strengths) -> None:
        self._strengths = strengths
        self._logs.clear()

    def knows(self, cause: str) -> bool:
        """Whether a fault had this cause."""
        return bool(self.totals[self.at[cause]] > 0)

    def of_family(self, family: str) -> Array | None:
        """Faults of the family per cause; None if there is none."""
        return self._tables.get(way_down(family, self.lineage)[-1])

    def ask(self, evidence: Evidence) -> Array:
        """The probability of each hypothesis, 0 for a cause that is not known yet."""
        scores = self._log_prior(evidence.family).copy()
        for key, logs in self.findings(evidence):
            scores += self._strengths.weight_of(key) * logs
        raised = np.exp(scores - scores.max())
        found: Array = raised / raised.sum()
        return found

    def findings(self, evidence: Evidence) -> list[tuple[str, Array]]:
        """The findings that count, as `findings.read_evidence` reads them, with their logs."""
        above, known = self.ancestors, self.symptoms.__contains__
        there = {a for s in evidence.symptoms for a in (s, *above(s))}
        found = [
            (f"symptom:{s}", self._symptom(s))
            for s in counted_symptoms(evidence.symptoms, known, above)
        ]
        found += [
            (f"absent:{s}", self._absence(s))
            for s in counted_absences(set(evidence.absent) - there, known, above)
        ]
        last = {check: outcome for check, outcome in evidence.checks if outcome != NOT_SHOWING}
        found += [
            (f"check:{check}", self._check(check, outcome))
            for check, outcome in sorted(last.items())
            if outcome in self.checks.get(check, {})
        ]
        words = tuple(w for w in sorted(set(evidence.words)) if w in self.words)
        return [*found, ("text", self._text(words))] if words else found

    def ancestors(self, symptom: str) -> tuple[str, ...]:
        """What a symptom is a kind of, nearest first, without itself."""
        if symptom not in self._lines:
            found: list[str] = []
            parent = self._parents.get(symptom)
            while parent is not None and parent not in found and parent != symptom:
                found.append(parent)
                parent = self._parents.get(parent)
            self._lines[symptom] = tuple(found)
        return self._lines[symptom]

    def _log_prior(self, family: str | None) -> Array:
        key = ("prior", family or "")
        if key not in self._logs:
            shares, unseen = self._none(), 1.0
            for node in way_down(family, self.lineage):
                table = self._tables.get(node, self._none())
                level = getattr(self._strengths, node[-1][0]) if node else self._strengths.book
                size = table.sum() + level.theta
                taken = np.minimum(table, level.discount)
                passed_up = (level.theta + taken.sum()) / size
                shares = passed_up * shares + (table - taken) / size
                unseen *= passed_up
            with np.errstate(divide="ignore"):
                self._logs[key] = np.log(np.append(shares, unseen))
        return self._logs[key]

    def _symptom(self, symptom: str) -> Array:
        key = ("symptom", symptom)
        if key not in self._logs:
            self._logs[key] = self._log_rates(self._noted(symptom), self.totals)
        return self._logs[key]

    def _absence(self, symptom: str) -> Array:
        key = ("absent", symptom)
        if key not in self._logs:
            self._logs[key] = self._log_rates(1.0 - self._noted(symptom), self.totals)
        return self._logs[key]

    def _noted(self, symptom: str) -> Array:
        """As `likelihood.noted_rates`: shrunk to the ancestors, outermost first."""
        shrinkage, above = self._strengths.symptom, self.totals.sum() + 1.0
        rates: Array | float = 1.0
        for key in reversed((symptom, *self.ancestors(symptom))):
            seen = self.symptoms.get(key)
            if seen is not None:
                noted = seen.sum() + 0.5
                rates = (seen + shrinkage * (noted / above) * rates) / (self.totals + shrinkage)
                above = noted
        return np.asarray(rates)

    def _check(self, check: str, outcome: str) -> Array:
        """As `likelihood.check_rates`: shrunk to the median over causes."""
        key = ("check", check, outcome)
        if key not in self._logs:
            rows = self.checks[check]
            seen = np.array(list(rows.values()))
            made, sums = seen.sum(axis=0), seen.sum(axis=1)
            causes = np.flatnonzero(made)
            rates = np.sort(seen[:, causes] / made[causes], axis=1)
            middle = (rates[:, (len(causes) - 1) // 2] + rates[:, len(causes) // 2]) / 2.0
            base = len(causes) * middle + sums / sums.sum()
            shrinkage = self._strengths.check
            for name, row, typical in zip(rows, seen, base / base.sum(), strict=True):
                rates = (row + shrinkage * typical) / (made + shrinkage)
                self._logs["check", check, name] = self._log_rates(rates, made)
        return self._logs[key]

    def _text(self, words: tuple[str, ...]) -> Array:
        key = ("text", *words)
        if key not in self._logs:
            shrinkage, faults = self._strengths.word, self.totals.sum()
            seen = np.array([self.words[w] for w in words])
            share = (seen.sum(axis=1, keepdims=True) + 0.5) / (faults + 1.0)
            rates = (seen + shrinkage * share) / (self.totals + shrinkage)
            logs = self._log_rates(rates, self.totals)
            self._logs[key] = logs.sum(axis=0) / np.sqrt(len(words))
        return self._logs[key]

    def _log_rates(self, rates: Array, counts: Array) -> Array:
        """The logs of rates (causes, or words by causes), with their power mean at the end."""
        power, logs = self._strengths.weight, np.log(rates)
        mean = np.exp(power * logs) @ counts / counts.sum()
        return np.concatenate([logs, np.log(mean)[..., None] / power], axis=-1)

    def _none(self) -> Array:
        return np.zeros(len(self.causes))
