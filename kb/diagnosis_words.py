"""An answer in the vocabulary's words, with what must be read before anything is tried."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec.structs import replace

from kb import cautions
from kb.faults.reasons import behind_it, changed_there
from kb.notes.vocabulary import ACCESS, Vocabulary
from kb.on_the_bench import first_checks
from kb.values import LikelyCause, NextCheck, Plan, PlanStep, StopPoint, Tallies


def worded_cause(
    cause: LikelyCause,
    words: Vocabulary,
    tallies: Tallies,
    family: str | None,
    modified: tuple[str, ...],
) -> LikelyCause:
    """A cause with what the vocabulary says of it, and what should be thought of with it."""
    term = words.causes[cause.cause]
    behind = behind_it(cause.cause, tallies.damage)
    names = (term.label, *term.also)
    here = changed_there(cause.cause, names, modified)
    past = tallies.modified.get(cause.cause, {})
    there = changed_there(cause.cause, names, tuple(past))
    remarks = []
    if here:
        remarks.append(
            f"This unit is modified there ({', '.join(here)}): past cases of others may not hold."
        )
    if there:
        remarks.append(
            f"Of its past cases some were in units modified there ({', '.join(there)}, "
            f"{round(sum(past[m] for m in there))} of {len(cause.cases)})."
        )
    return replace(
        cause,
        label=term.label,
        confirm=term.confirm,
        cover=words.cover_of(cause.cause, family),
        behind=tuple(replace(b, label=words.causes[b.cause].label) for b in behind),
        remarks=tuple(remarks),
    )


def worded_stop(stop: StopPoint, words: Vocabulary) -> StopPoint:
    """A stop point with the label of the part to try."""
    return replace(stop, label=words.causes[stop.cause].label) if stop.cause else stop


def worded_plan(plan: Plan, words: Vocabulary) -> Plan:
    """A plan with the labels of its causes."""
    steps = tuple(
        replace(s, leads_label=words.causes[s.leads].label) if s.leads else s for s in plan.steps
    )
    return replace(plan, steps=steps, stop=worded_stop(plan.stop, words))


def _hazards_inside(words: Vocabulary, family: str | None) -> tuple[str, ...]:
    """The hazards of a family; where none was noted, or no family is known, the worst."""
    return (words.hazards_of(family) if family else ()) or cautions.WORST


def with_cautions(check: NextCheck, words: Vocabulary, family: str | None) -> NextCheck:
    """A proposed check with its hazards, those inside the unit among them, and all cautions."""
    hazards = _all_hazards(check, words, family)
    texts = (*check.cautions, *cautions.for_step(check.access, hazards))
    return replace(check, hazards=hazards, cautions=texts)


def _all_hazards(
    step: NextCheck | PlanStep, words: Vocabulary, family: str | None
) -> tuple[str, ...]:
    inside = _hazards_inside(words, family) if step.access != ACCESS[0] else ()
    return tuple(dict.fromkeys((*step.hazards, *inside)))


def danger_of(words: Vocabulary, symptoms: tuple[str, ...]) -> tuple[str, ...]:
    """A sentence for each symptom that demands checks before anything else."""
    return tuple(
        f"{words.symptoms[s].label}: leave it off and unplugged until everything marked FIRST is "
        "done and has cleared it."
        for s in symptoms
        if first_checks((s,), words)
    )


def cautions_of(
    proposed: Iterable[NextCheck | PlanStep],
    words: Vocabulary,
    family: str | None,
    danger: tuple[str, ...],
) -> tuple[str, ...]:
    """What to read before anything is tried: danger first, then the texts of the steps, once."""
    found = [(step.access, _all_hazards(step, words, family)) for step in proposed]
    most = max((access for access, _ in found), key=ACCESS.index, default=ACCESS[0])
    closed = (cautions.KEEP_CLOSED,) if most == ACCESS[0] else ()
    steps = dict.fromkeys(
        text
        for access, hazards in found
        for text in cautions.for_step(access, hazards)
        if text != cautions.LOCAL_CODES
    )
    items = words.items_of(family) if family else frozenset()
    topics = cautions.topics_for(most, items, _hazards_inside(words, family))
    start = danger or (cautions.ASK_DANGER,)
    return (*start, *closed, *steps, *topics, cautions.LOCAL_CODES)
