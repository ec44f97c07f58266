"""The answers of a replay, collected while it goes on, and what they come to."""

from __future__ import annotations

from collections import Counter

import numpy as np
from msgspec.structs import asdict
from numpy.typing import NDArray

from kb.faults.asking import at_intake, on_the_bench, steps
from kb.faults.replay import most_common, text_only
from kb.faults.replay.early import EarlyChecks
from kb.faults.replay.past import Array, Past
from kb.faults.replay.reasons import why
from kb.faults.replay.score import Calibration, Forecasts, differences
from kb.values import FaultRecord
from kb.values_replay import AfterChecks, Baseline, PoorRanking, Replay, UnseenFigures

WORST = 20
"""how many rankings that did badly are given"""


class Answers:
    """What the book said of each fault asked so far. `too_early` had nothing to be asked of."""

    def __init__(self, past: Past) -> None:
        self.too_early = 0
        self._past = past
        self._intake, self._bench = _Asked(), _Asked()
        self._records: list[FaultRecord] = []
        self._unseen: list[float] = []
        self._new = 0
        self._missed: Counter[str] = Counter()
        self._poor: list[tuple[float, PoorRanking]] = []
        self._early = EarlyChecks()

    def add(self, record: FaultRecord, alike: Array) -> None:
        """Ask one fault; `alike` are the shares of the text-only baseline."""
        past = self._past
        known = past.totals > 0
        new = not past.knows(record.cause)
        came = len(past.causes) if new else past.at[record.cause]
        others = (most_common.shares(past, record.family), alike)
        p = past.ask(at_intake(record))
        self._records.append(record)
        self._unseen.append(float(p[-1]))
        self._new += new
        self._intake.add(p, known, others, came, record.case)
        self._note(record, p, came)
        again = steps(record)
        told = [past.ask(on_the_bench(record, made)) for made in range(len(record.checks) + 1)]
        for made in again:
            self._bench.add(told[made], known, others, came, record.case, 1.0 / len(again))
        self._early.add(record, None if new else [float(p[came]) for p in told])

    def _note(self, record: FaultRecord, p: Array, came: int) -> None:
        place = self._intake.ours.place[-1]
        if 1 <= place <= 3:
            return
        past, at = self._past, self._past.at[record.cause]
        reason = why(past, record, at_intake(record))
        self._missed[reason] += 1
        first = int(p[:-1].argmax())
        poor = PoorRanking(
            case=record.case,
            family=record.family,
            received=record.received,
            likeliest=past.causes[first],
            likeliest_label=past.causes[first],
            likeliest_probability=float(p[first]),
            cause=record.cause,
            label=record.cause,
            rank=place or None,
            probability=float(p[came]),
            why=reason,
            seen=round(float(past.totals[at])),
            faults_known=len(past.faults),
        )
        self._poor.append((self._intake.ours.loss[-1], poor))

    def replay(self) -> Replay:
        """What it all comes to."""
        cases = len(self._records)
        self._poor.sort(key=lambda p: (-p[0], p[1].received, p[1].case, p[1].cause))
        return Replay(
            **asdict(self._intake.ours.figures()),
            cases=cases,
            visits=len({r.case for r in self._records}),
            assumed=sum(r.weight < 1 for r in self._records),
            too_early=self.too_early,
            calibration=self._intake.calibration.bins(),
            baselines=self._intake.baselines(),
            unseen=UnseenFigures(
                predicted=float(np.mean(self._unseen)) if cases else float("nan"),
                observed=self._new / cases if cases else float("nan"),
            ),
            after_checks=AfterChecks(
                **asdict(self._bench.ours.figures()),
                cases=sum(bool(steps(r)) for r in self._records),
                questions=len(self._bench.ours.loss),
                calibration=self._bench.calibration.bins(),
                baselines=self._bench.baselines(),
            ),
            missed=dict(self._missed.most_common()),
            worst=tuple(p for _, p in self._poor[:WORST]),
            early_checks=self._early.found(),
        )


class _Asked:
    """The forecasts of one sort of question: at intake, or after checks."""

    def __init__(self) -> None:
        self.ours = Forecasts()
        self.calibration = Calibration()
        self._others = {most_common.NAME: Forecasts(), text_only.NAME: Forecasts()}
        self._visits: list[str] = []

    def add(
        self,
        p: Array,
        known: NDArray[np.bool_],
        others: tuple[Array, ...],
        came: int,
        visit: str,
        share: float = 1.0,
    ) -> None:
        """Score our forecast, and those of the baselines, which share its unseen."""
        self.ours.add(p, came, share)
        self.calibration.add(p, known, came, share)
        self._visits.append(visit)
        for forecasts, shares in zip(self._others.values(), others, strict=True):
            forecasts.add(np.append((1.0 - p[-1]) * shares, p[-1]), came, share)

    def baselines(self) -> dict[str, Baseline]:
        """The figures of the baselines, and ours less theirs."""
        return {
            name: Baseline(
                **asdict(other.figures()),
                ours_less=differences(self.ours, other, self._visits),
            )
            for name, other in self._others.items()
        }
