"""A past fault as it is asked again: on the day it came in, and after its checks.

The strengths are fitted to these questions, and a replay asks them.
"""

from __future__ import annotations

from kb.notes.vocabulary import NOT_SHOWING
from kb.values import Evidence, FaultRecord


def at_intake(record: FaultRecord) -> Evidence:
    """What was known at the counter: symptoms, denials, words; no checks but those made there."""
    return Evidence(
        family=record.family,
        symptoms=record.at_counter,
        absent=record.denied,
        checks=record.checks[: record.at_intake],
        words=tuple(sorted(record.words)),
    )


def on_the_bench(record: FaultRecord, made: int) -> Evidence:
    """All that was seen of it, after its first `made` checks."""
    return Evidence(
        family=record.family,
        symptoms=tuple(sorted(record.symptoms)),
        absent=tuple(sorted({*record.absent, *record.denied})),
        checks=record.checks[:made],
        words=tuple(sorted(record.words)),
    )


def steps(record: FaultRecord) -> list[int]:
    """How many checks had been made each time it is asked again: after each but the last.

    The last one confirmed what was suspected by then. What did not show the fault is no step.
    """
    return [
        made + 1
        for made in range(record.at_intake, len(record.checks) - 1)
        if record.checks[made][1] != NOT_SHOWING
    ]
