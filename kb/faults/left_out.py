"""An experience without one fault after the other, and what many such questions have in common.

Leaving a fault out changes few of the numbers that a question needs: those of its own family, its
symptoms and its checks. What two faults change alike is worked out once. The figures are those of
`Experience.without`, to the last digit, but for the words (`kb.faults.word_table`).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from msgspec.structs import replace

from kb.faults.experience import Experience
from kb.faults.findings import check_finding, read_evidence
from kb.faults.ranking import add, log_prior
from kb.faults.word_table import WordTable
from kb.values import Evidence, FaultRecord

Scores = list[float]
"""of each cause and, at the end, of the unseen: logarithms"""


class LeftOut:
    """An experience as it would be had one fault never come in; the whole one where it is None."""

    def __init__(self, experience: Experience, record: FaultRecord | None) -> None:
        self._experience = experience
        self._record = record

    @cached_property
    def rest(self) -> Experience:
        """The experience itself, counted over."""
        return self._experience.without(self._record) if self._record else self._experience

    @property
    def causes(self) -> Sequence[str]:
        """The causes it knows."""
        return self.rest.causes

    def start(self, intake: Evidence) -> Scores:
        """Prior and evidence of the intake, its checks aside."""
        return self._told(replace(intake, checks=()))

    def check(self, check: str, outcome: str) -> Scores | None:
        """log P(outcome | cause); None if it is no evidence."""
        finding = check_finding(self.rest, check, outcome)
        if finding is None:
            return None
        return finding.log_likelihoods(self.rest.causes, self.rest.strengths.weight)

    def _told(self, told: Evidence) -> Scores:
        rest = self.rest
        scores = log_prior(rest, rest.prior(told.family))
        for finding in read_evidence(rest, told).pieces:
            likelihoods = finding.log_likelihoods(rest.causes, rest.strengths.weight)
            scores = add(scores, likelihoods, rest.strengths.weight_of(finding.key))
        return scores


class Shared:
    """What is remembered between the questions to one experience."""

    def __init__(self, experience: Experience) -> None:
        self.experience = experience
        self.starts: dict[object, Scores] = {}
        self.checks: dict[object, Scores | None] = {}

    @cached_property
    def words(self) -> WordTable:
        """The words of the complaints as arrays."""
        return WordTable(self.experience)

    def without(self, record: FaultRecord | None) -> LeftOut:
        """The experience without a fault, with the help of what was worked out before."""
        totals = self.experience.totals
        if record and not totals[record.cause] - record.weight > 0:
            # With its last fault a cause is gone, and every list of causes is another one.
            return _WithWords(self, record)
        return _WithMemory(self, record)


class _WithWords(LeftOut):
    def __init__(self, shared: Shared, record: FaultRecord | None) -> None:
        super().__init__(shared.experience, record)
        self._shared = shared

    def start(self, intake: Evidence) -> Scores:
        scores = self._told(replace(intake, checks=(), words=()))
        of_words = self._shared.words.log_likelihoods(intake.words, self._record)
        if of_words is None:
            return scores
        return add(scores, of_words, self._experience.strengths.weight_of("text"))


class _WithMemory(_WithWords):
    """Of an experience that knows the same causes without the fault."""

    @property
    def causes(self) -> Sequence[str]:
        return self._experience.causes

    def check(self, check: str, outcome: str) -> Scores | None:
        own = self._record
        changed = own and (own.cause, own.weight, frozenset(o for c, o in own.checks if c == check))
        # Where it was not made in that fault, nothing about the check changes.
        key = check, outcome, changed if changed and changed[-1] else None
        known = self._shared.checks
        if key not in known:
            known[key] = super().check(check, outcome)
        return known[key]

    def _told(self, told: Evidence) -> Scores:
        own = self._record
        changed = own and (own.family, own.cause, own.weight, own.symptoms)
        key = told.family, told.symptoms, told.absent, changed
        known = self._shared.starts
        if key not in known:
            known[key] = super()._told(told)
        return known[key]
