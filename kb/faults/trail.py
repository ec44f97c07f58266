"""How the cause of one fault was found, told with what the rest of the book would have said."""

from __future__ import annotations

from collections.abc import Sequence
from heapq import nsmallest
from typing import TYPE_CHECKING

from msgspec.structs import replace

from kb.faults.experience import Experience
from kb.faults.findings import check_finding, read_evidence
from kb.faults.ranking import add, log_prior, probabilities
from kb.faults.strengths import Strengths
from kb.notes.vocabulary import NOT_SHOWING
from kb.values import Evidence, FaultRecord, Step, Trail

if TYPE_CHECKING:
    from kb.faults.word_table import WordTable

LEADING = 3
"""how many causes are named at each point"""
WORTH_RULING_OUT = 0.03
"""a cause that had less was not on anybody's mind"""


def follow(
    experience: Experience,
    record: FaultRecord | None,
    intake: Evidence,
    steps: Sequence[Step],
    words: WordTable | None = None,
) -> Trail:
    """Follow one fault from the counter to its cause.

    `record` is the fault, taken out of the experience first so that the book does not answer
    from this very case; None for a fault that is not in the counts (open, or never found).
    `steps` are the checks in the order they were made; their `ruled_out` and `leading` are
    filled in here. A check made again replaces its earlier outcome. Checks in `intake` count as
    made before the first step.

    `words` may be the table of this experience's words, which saves most of the time where many
    faults are followed.

    `at_intake` names the three likeliest causes, and the one that was found if the rest of the
    book knows it.
    """
    rest = experience.without(record) if record else experience
    causes = rest.causes
    start = log_prior(rest, rest.prior(intake.family))
    told = replace(intake, checks=(), words=() if words else intake.words)
    for finding in read_evidence(rest, told).pieces:
        likelihoods = finding.log_likelihoods(causes, rest.strengths.weight)
        start = add(start, likelihoods, rest.strengths.weight_of(finding.key))
    if words and (of_text := words.log_likelihoods(intake.words, record)):
        start = add(start, of_text, rest.strengths.weight_of("text"))
    shown: dict[str, list[float]] = {}
    for check, outcome in intake.checks:
        _note(rest, shown, check, outcome)

    p = _now(start, shown, rest.strengths)
    named = _leading(causes, p)
    if record and record.cause in causes and record.cause not in dict(named):
        named = (*named, (record.cause, p[causes.index(record.cause)]))
    followed: list[Step] = []
    for step in steps:
        _note(rest, shown, step.check, step.outcome)
        after = _now(start, shown, rest.strengths)
        followed.append(
            replace(step, ruled_out=_ruled_out(causes, p, after), leading=_leading(causes, after))
        )
        p = after
    return Trail(at_intake=named, steps=tuple(followed))


def _note(rest: Experience, shown: dict[str, list[float]], check: str, outcome: str) -> None:
    if outcome == NOT_SHOWING:
        return
    shown.pop(check, None)
    finding = check_finding(rest, check, outcome)
    if finding:
        shown[check] = finding.log_likelihoods(rest.causes, rest.strengths.weight)


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
