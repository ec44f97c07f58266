"""The unit on the bench: what can be checked, what may be, and what each check takes now.

Safety stands here, once, for the list of next checks and for every step of a plan.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from msgspec import Struct

from kb.faults.costs import COVER_MINUTES, DISTURBS_FACTOR, LEAST_MINUTES, WAIT_RATE
from kb.faults.trying import Trying
from kb.notes.vocabulary import ACCESS, NOT_SHOWING, STATES
from kb.values import CheckOption, UsualOrder

Made = Sequence[tuple[str, str]]
"""(check, outcome) in the order they were made"""


class Bench(Struct, frozen=True):
    """The unit on the bench: what can be checked and what may be.

    `options` holds every check that could be made on it, those made already included; `made`
    the (check, outcome) pairs so far; `first` what the symptoms say must come before anything
    else, in order; `allowed` the access; `intermittent` whether the fault comes and goes, and
    `prove` how many minutes it must then stay away before it counts as cured. `trying` is what
    putting each cause right takes, `usual` the order in which the shop would go about it.
    """

    options: Sequence[CheckOption]
    made: Made = ()
    first: Sequence[str] = ()
    allowed: str = "outside"
    intermittent: bool = False
    trying: Trying = Trying()
    usual: UsualOrder | None = None
    prove: float = 0.0

    def trying_of(self, cause: str) -> float:
        """The minutes to put a cause right and see, with the cover off."""
        return self.trying.of(cause) + self.proving

    @property
    def proving(self) -> float:
        """What proving a cure costs beyond that, where the fault comes and goes."""
        return WAIT_RATE * self.prove if self.intermittent else 0.0


class Offer(Struct, frozen=True):
    """A check that can be made now, with what must be made before it.

    `spent` is the time it all takes, hands on, with the cover if it `opens` the unit; `minutes`
    the same as the order counts it: more for what may chase an intermittent fault away.
    """

    option: CheckOption
    before: tuple[CheckOption, ...]
    spent: float
    minutes: float
    opens: bool

    @property
    def steps(self) -> tuple[CheckOption, ...]:
        """The check with what must be made before it, in order."""
        return (*self.before, self.option)

    @property
    def access(self) -> str:
        """The most access that any of its steps takes."""
        if not self.before:
            return self.option.access
        return max((step.access for step in self.steps), key=rank_of)


class Survey(Struct, frozen=True):
    """How things stand after some checks.

    `leading` must come first, in order, and can be made; `alarming` is check -> outcome of those
    that must come first and did not clear the unit; `pending` whether any of them is still open.
    The others are `offered`, `held` back because they apply power, or `beyond` the access.
    `closed` says that the cover is still on, also once the leading ones will have been made.
    """

    leading: tuple[CheckOption, ...]
    alarming: Mapping[str, str]
    pending: bool
    offered: tuple[Offer, ...]
    held: tuple[Offer, ...]
    beyond: tuple[Offer, ...]
    closed: bool
    notes: tuple[str, ...]


def survey(bench: Bench, made: Made) -> Survey:
    """What can be made now and what it takes; `made` are all checks so far."""
    options = {option.check: option for option in bench.options}
    last = {check: outcome for check, outcome in made if outcome != NOT_SHOWING}
    alarming = {
        check: outcome
        for check, outcome in last.items()
        if check in bench.first and check in options and not _clears(options[check], outcome)
    }
    pending = [check for check in bench.first if check not in last or check in alarming]
    leading, notes = _first(options, pending, bench.allowed)
    done = {check for check, _ in made} | {option.check for option in leading}
    closed = is_closed(options, done)
    offered: list[Offer] = []
    held: list[Offer] = []
    beyond: list[Offer] = []
    for option in bench.options:
        if option.check in last or option.check in pending:
            continue
        offer = _offer(bench, option, options, done, closed)
        if rank_of(offer.access) > rank_of(bench.allowed):
            beyond.append(offer)
        elif pending and any(applies_power(step) for step in offer.steps):
            held.append(offer)
        else:
            offered.append(offer)
    return Survey(
        leading=tuple(leading),
        alarming=alarming,
        pending=bool(pending),
        offered=tuple(offered),
        held=tuple(held),
        beyond=tuple(beyond),
        closed=closed,
        notes=tuple(notes),
    )


def is_closed(options: Mapping[str, CheckOption], done: Collection[str]) -> bool:
    """Whether the cover has stayed on through all that was done."""
    return all(options[c].access == ACCESS[0] for c in done if c in options)


def applies_power(option: CheckOption) -> bool:
    """Whether the unit is switched on for this check: every state a check can need means that."""
    return option.access == ACCESS[-1] or any(need in STATES for need in option.needs)


def rank_of(access: str) -> int:
    """How far an access goes; 0 is the least."""
    return ACCESS.index(access)


def hands_on(option: CheckOption) -> float:
    """The minutes of one check by itself, its waiting counted little."""
    return max(option.minutes, LEAST_MINUTES) + WAIT_RATE * option.wait


def _clears(option: CheckOption, outcome: str) -> bool:
    return not option.clears or outcome in option.clears


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
        elif rank_of(option.access) > rank_of(allowed):
            notes.append(
                f"“{option.label}” must come before anything else, but needs access "
                f"“{option.access}”; until it is done nothing that applies power is proposed."
            )
        elif notes and applies_power(option):
            notes.append(f"“{option.label}” waits for that too, because it applies power.")
        else:
            leading.append(option)
    return leading, notes


def _offer(
    bench: Bench,
    option: CheckOption,
    options: Mapping[str, CheckOption],
    done: Collection[str],
    closed: bool,
) -> Offer:
    before = tuple(_needed_before(option, options, done, {option.check})) if option.needs else ()
    steps = (*before, option)
    minutes = spent = sum(hands_on(step) for step in steps)
    if bench.intermittent and any(step.disturbs for step in steps):
        minutes *= DISTURBS_FACTOR
    opens = closed and any(step.access != ACCESS[0] for step in steps)
    cover = COVER_MINUTES if opens else 0.0
    return Offer(option, before, spent + cover, minutes + cover, opens)


def _needed_before(
    option: CheckOption, options: Mapping[str, CheckOption], done: Collection[str], seen: set[str]
) -> list[CheckOption]:
    """The checks that this one needs and that have not been made, in the order to make them."""
    needed: list[CheckOption] = []
    for need in option.needs:
        if need in options and need not in done and need not in seen:
            seen.add(need)
            needed += [*_needed_before(options[need], options, done, seen), options[need]]
    return needed
