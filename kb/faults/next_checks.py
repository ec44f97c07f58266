"""Which check to make next: what must come first, then information for hands-on time.

The order is by expected bits per minute, one step ahead. The best single step each time is not
always the best sequence; it can be explained in one sentence and changes with every outcome.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from kb.faults.experience import Experience
from kb.faults.information import Beliefs, Expectation, expect, leading_after
from kb.faults.ranking import Ranking
from kb.notes.vocabulary import ACCESS, NOT_SHOWING, STATES
from kb.values import CheckOption, NextCheck

COVER_MINUTES = 10.0
"""to open a unit, discharge it and prove it dead, once"""
WAIT_RATE = 0.05
"""an unattended minute, in hands-on minutes: the bench does something else meanwhile"""
LEAST_MINUTES = 0.5
"""no check is free, whatever the vocabulary says"""
LEAST_TOLD = 0.001
"""bits below which a check is not worth proposing"""
DISTURBS_FACTOR = 4.0
"""a check that may chase an intermittent fault away counts as so many times its time"""
AGAIN = "It came out as “{}”: put that right first, then make it again."
NAMED = 3
"""how many checks a note names"""


class Proposal(Struct, frozen=True):
    """The checks to make, in order, and sentences about those that are not proposed."""

    checks: tuple[NextCheck, ...]
    notes: tuple[str, ...]


class Bench(Struct, frozen=True):
    """The unit on the bench: what can be checked and what may be.

    `options` holds every check that could be made on it, those made already included; `made`
    the (check, outcome) pairs so far; `first` what the symptoms say must come before anything
    else, in order; `allowed` the access; `intermittent` whether the fault comes and goes.
    """

    options: Sequence[CheckOption]
    made: Sequence[tuple[str, str]] = ()
    first: Sequence[str] = ()
    allowed: str = "outside"
    intermittent: bool = False


class _Candidate(Struct, frozen=True):
    """A check with what must be done before it, and what it tells for its time."""

    option: CheckOption
    before: tuple[CheckOption, ...]
    expected: Expectation
    value: float

    @property
    def steps(self) -> tuple[CheckOption, ...]:
        return (*self.before, self.option)


def next_checks(experience: Experience, ranking: Ranking, bench: Bench, limit: int = 8) -> Proposal:
    """Propose checks: those that must come first, then at most `limit` others, best first.

    A check with an outcome is not proposed again, one that ended in `not-showing` may be. While
    a check that must come first is open, or came out in a way that does not clear it, nothing
    that applies power is proposed; nothing above the allowed access ever is. Checks that tell
    nothing are left out. What a check needs and has not been made is added to its time and named
    in its cautions.
    """
    beliefs = Beliefs.of(ranking)
    options = {option.check: option for option in bench.options}
    last = {check: outcome for check, outcome in bench.made if outcome != NOT_SHOWING}
    shown = set(last)
    alarming = {
        check: outcome
        for check, outcome in last.items()
        if check in bench.first and check in options and not _clears(options[check], outcome)
    }
    pending = [check for check in bench.first if check not in shown or check in alarming]
    leading, notes = _first(options, pending, bench.allowed)
    done = {check for check, _ in bench.made} | {option.check for option in leading}
    covered = all(options[c].access == ACCESS[0] for c in done if c in options)

    offered: list[_Candidate] = []
    held: list[_Candidate] = []
    beyond: list[_Candidate] = []
    for option in bench.options:
        if option.check in shown or option.check in pending:
            continue
        candidate = _weigh(experience, beliefs, bench, option, options, done, covered)
        if candidate.expected.told < LEAST_TOLD:
            continue
        if any(_rank(step.access) > _rank(bench.allowed) for step in candidate.steps):
            beyond.append(candidate)
        elif pending and any(applies_power(step) for step in candidate.steps):
            held.append(candidate)
        else:
            offered.append(candidate)

    chosen = sorted(offered, key=_best_first)[:limit]
    first_ones = [
        _proposed(
            experience,
            beliefs,
            o,
            expect(experience, beliefs, o.check),
            first=True,
            said=(AGAIN.format(alarming[o.check]),) if o.check in alarming else (),
        )
        for o in leading
    ]
    notes += [
        f"“{options[check].label}” came out as “{outcome}”: that has to be put right, and the "
        "check made again, before anything that applies power is proposed."
        for check, outcome in alarming.items()
    ]
    others = [_proposed(experience, beliefs, c.option, c.expected, before=c.before) for c in chosen]
    if held:
        notes.append(
            "Held back until what must come first is done, because they apply power: "
            f"{_names(held)}."
        )
    notes += _beyond_notes(beyond)
    return Proposal(checks=(*first_ones, *others), notes=tuple(notes))


def _clears(option: CheckOption, outcome: str) -> bool:
    return not option.clears or outcome in option.clears


def applies_power(option: CheckOption) -> bool:
    """Whether the unit is switched on for this check: every state a check can need means that."""
    return option.access == ACCESS[-1] or any(need in STATES for need in option.needs)


def _first(
    options: Mapping[str, CheckOption], pending: Iterable[str], allowed: str
) -> tuple[list[CheckOption], list[str]]:
    """Those of the pending first checks that can be proposed, and notes on the others."""
    leading: list[CheckOption] = []
    notes: list[str] = []
    for check in pending:
        option = options.get(check)
        if option is None:
            notes.append(
                f"“{check}” must come before anything else; it is not a check of this unit."
            )
        elif _rank(option.access) > _rank(allowed):
            notes.append(
                f"“{option.label}” must come before anything else, but needs access "
                f"“{option.access}”; until it is done nothing that applies power is proposed."
            )
        elif notes and applies_power(option):
            notes.append(f"“{option.label}” waits for that too, because it applies power.")
        else:
            leading.append(option)
    return leading, notes


def _weigh(
    experience: Experience,
    beliefs: Beliefs,
    bench: Bench,
    option: CheckOption,
    options: Mapping[str, CheckOption],
    done: set[str],
    covered: bool,
) -> _Candidate:
    before = tuple(_needed_before(option, options, done, {option.check}))
    steps = (*before, option)
    minutes = sum(max(step.minutes, LEAST_MINUTES) + WAIT_RATE * step.wait for step in steps)
    if bench.intermittent and any(step.disturbs for step in steps):
        minutes *= DISTURBS_FACTOR
    if covered and any(step.access != ACCESS[0] for step in steps):
        minutes += COVER_MINUTES
    expected = expect(experience, beliefs, option.check)
    return _Candidate(option, before, expected, expected.told / minutes)


def _needed_before(
    option: CheckOption, options: Mapping[str, CheckOption], done: set[str], seen: set[str]
) -> list[CheckOption]:
    """The checks that this one needs and that have not been made, in the order to make them."""
    needed: list[CheckOption] = []
    for need in option.needs:
        if need in options and need not in done and need not in seen:
            seen.add(need)
            needed += [*_needed_before(options[need], options, done, seen), options[need]]
    return needed


def _proposed(
    experience: Experience,
    beliefs: Beliefs,
    option: CheckOption,
    expected: Expectation,
    *,
    first: bool = False,
    before: Sequence[CheckOption] = (),
    said: tuple[str, ...] = (),
) -> NextCheck:
    return NextCheck(
        check=option.check,
        label=option.label,
        access=option.access,
        minutes=option.minutes,
        bits=expected.told,
        outcomes=expected.outcomes,
        hazards=option.hazards,
        first=first,
        wait=option.wait,
        owner_ok=option.owner_ok,
        how=option.how,
        cautions=(*said, *(f"Make “{needed.label}” first." for needed in before)),
        then=leading_after(experience, beliefs, option.check),
    )


def _beyond_notes(beyond: Sequence[_Candidate]) -> list[str]:
    notes: list[str] = []
    for access in ACCESS:
        there = [c for c in beyond if max(_rank(s.access) for s in c.steps) == _rank(access)]
        if there:
            notes.append(f"Not proposed, because it takes access “{access}”: {_names(there)}.")
    return notes


def _names(candidates: Iterable[_Candidate]) -> str:
    ranked = sorted(candidates, key=_best_first)
    named = ", ".join(f"“{c.option.label}” ({c.expected.told:.2f} bits)" for c in ranked[:NAMED])
    more = len(ranked) - NAMED
    return f"{named} and {more} more" if more > 0 else named


def _best_first(candidate: _Candidate) -> tuple[float, str]:
    return (-candidate.value, candidate.option.check)


def _rank(access: str) -> int:
    return ACCESS.index(access)
