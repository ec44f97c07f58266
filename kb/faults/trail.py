"""How the cause of one fault was found, told with what the rest of the book would have said."""

from __future__ import annotations

from collections.abc import Sequence
from heapq import nsmallest

from msgspec.structs import replace

from kb.faults.experience import Experience
from kb.faults.left_out import LeftOut, Shared
from kb.faults.ranking import add, probabilities
from kb.faults.strengths import Strengths
from kb.notes.vocabulary import NOT_SHOWING
from kb.values import Evidence, FaultRecord, Step, Trail

LEADING = 3
"""how many causes are named at each point"""
WORTH_RULING_OUT = 0.03
"""a cause that had less was not on anybody's mind"""


def follow(
    experience: Experience,
    record: FaultRecord | None,
    intake: Evidence,
    steps: Sequence[Step],
    shared: Shared | None = None,
) -> Trail:
    """Follow one fault from the counter to its cause.

    `record` is the fault, taken out of the experience first so that the book does not answer
    from this very case; None for a fault that is not in the counts (open, or never found).
    `steps` are the checks in the order they were made; their `ruled_out` and `leading` are
    filled in here. A check made again replaces its earlier outcome. Checks in `intake` count as
    made before the first step.

    `shared` may be what is remembered of this experience, which saves most of the time where many
    faults are followed.

    `at_intake` names the three likeliest causes, and the one that was found if the rest of the
    book knows it.
    """
    rest = shared.without(record) if shared else LeftOut(experience, record)
    causes, strengths = rest.causes, experience.strengths
    start = rest.start(intake)
    shown: dict[str, list[float]] = {}
    for check, outcome in intake.checks:
        _note(rest, shown, check, outcome)

    p = _now(start, shown, strengths)
    named = _leading(causes, p)
    if record and record.cause in causes and record.cause not in dict(named):
        named = (*named, (record.cause, p[causes.index(record.cause)]))
    followed: list[Step] = []
    for step in steps:
        _note(rest, shown, step.check, step.outcome)
        after = _now(start, shown, strengths)
        followed.append(
            replace(step, ruled_out=_ruled_out(causes, p, after), leading=_leading(causes, after))
        )
        p = after
    return Trail(at_intake=named, steps=tuple(followed))


def _note(rest: LeftOut, shown: dict[str, list[float]], check: str, outcome: str) -> None:
    if outcome == NOT_SHOWING:
        return
    shown.pop(check, None)
    likelihoods = rest.check(check, outcome)
    if likelihoods is not None:
        shown[check] = likelihoods


def _now(start: list[float], shown: dict[str, list[float]], strengths: Strengths) -> list[float]:
    scores = start
    for check in sorted(shown):
        scores = add(scores, shown[check], strengths.weight_of(f"check:{check}"))
    return probabilities(scores)


def _leading(causes: Sequence[str], p: Sequence[float]) -> tuple[tuple[str, float], ...]:
    ranked = nsmallest(LEADING, zip([-x for x in p], causes, strict=False))
    return tuple((cause, -x) for x, cause in ranked)


def _ruled_out(
    causes: Sequence[str], before: Sequence[float], after: Sequence[float]
) -> tuple[str, ...]:
    lost = [
        i for i in range(len(causes)) if before[i] >= WORTH_RULING_OUT and after[i] < before[i] / 2
    ]
    return tuple(causes[i] for i in sorted(lost, key=lambda i: (-before[i], causes[i])))
