"""Which check would have saved most minutes, had it been made first where it told most."""

from __future__ import annotations

from collections.abc import Sequence
from math import log, log1p
from statistics import median

import numpy as np

from kb.values import FaultRecord
from kb.values_replay import EarlyCheck

NAMED_CASES = 5
MOST_SURE = 1.0 - 1e-12
"""a cause surer than this can't be made surer"""


class EarlyChecks:
    """Collects, over the faults asked, the checks that came late and were telling.

    Telling are two: the last check, which confirmed the cause; and the one that raised the
    probability of the true cause most (in log odds), if the book knew the cause by then.
    """

    def __init__(self) -> None:
        self._late: dict[str, int] = {}
        self._saved: dict[str, dict[str, float]] = {}
        self._own: dict[str, list[float]] = {}
        self._faults: dict[str, int] = {}

    def add(self, record: FaultRecord, told: Sequence[float] | None) -> None:
        """Look at one fault. `told` is the probability of its cause before any check and after
        each, as the book knew it then; None if it did not know the cause.
        """
        for check, minutes in record.times:
            self._own.setdefault(check, []).append(minutes)
        before = [_minutes_before(record, i) for i in range(len(record.checks))]
        telling = _telling(told) | {len(record.checks) - 1}
        for i, (check, _) in enumerate(record.checks):
            if before[i] > 0:
                self._late[check] = self._late.get(check, 0) + 1
                if i in telling:
                    cases = self._saved.setdefault(check, {})
                    cases[record.case] = cases.get(record.case, 0.0) + before[i]
                    self._faults[check] = self._faults.get(check, 0) + 1

    def found(self) -> tuple[EarlyCheck, ...]:
        """The checks, most minutes first."""
        answer = [
            EarlyCheck(
                check=check,
                label=check,
                faults=self._faults[check],
                late=self._late[check],
                minutes_before=sum(cases.values()),
                per_fault=sum(cases.values()) / self._faults[check],
                own_minutes=median(own) if (own := self._own.get(check)) else None,
                cases=tuple(sorted(cases, key=lambda c: (-cases[c], c))[:NAMED_CASES]),
            )
            for check, cases in self._saved.items()
        ]
        return tuple(sorted(answer, key=lambda e: (-e.minutes_before, e.check)))


def _telling(told: Sequence[float] | None) -> set[int]:
    """The check that raised the log odds of the true cause most, if any did."""
    if told is None or len(told) < 2:
        return set()
    moved = np.diff([log(p) - log1p(-min(p, MOST_SURE)) for p in told])
    return {int(moved.argmax())} if moved.max() > 0 else set()


def _minutes_before(record: FaultRecord, position: int) -> float:
    """The noted hands-on minutes of other checks before this one."""
    check = record.checks[position][0]
    named = [c for c, _ in record.times]
    if check in named:
        # In the order they were made, those that did not show the fault among them.
        until = len(named) - 1 - named[::-1].index(check)
        return sum(minutes for c, minutes in record.times[:until] if c != check)
    earlier = {c for c, _ in record.checks[:position]}
    return sum(minutes for c, minutes in record.times if c in earlier)
