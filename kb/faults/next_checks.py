"""Which check to make next: what must come first, then information for hands-on time.

The order is by expected bits per minute, one step ahead. The best single step each time is not
always the best sequence; it can be explained in one sentence and changes with every outcome.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct

from kb.faults.bench import Bench, Offer, survey
from kb.faults.costs import COVER_MINUTES
from kb.faults.experience import Experience
from kb.faults.information import Beliefs, Expectation, expect, leading_after, unseen_after
from kb.faults.ranking import Ranking
from kb.faults.stopping import Weighed, stop_point
from kb.notes.vocabulary import ACCESS
from kb.values import CheckOption, Further, NextCheck, StopPoint

LEAST_TOLD = 0.001
"""bits below which a check is not worth proposing"""
AGAIN = "It came out as “{}”: put that right first, then make it again."
PROVE = "This fault comes and goes: gone counts only once it has stayed away for {:.0f} min."
FURTHER = "It takes access “{}”: all cautions of that access hold, whatever it would tell."
NAMED = 3
"""how many checks are named at each access beyond the allowed one"""

__all__ = ["Bench", "Proposal", "next_checks"]


class Proposal(Struct, frozen=True):
    """The checks to make, in order, and sentences about those that are not proposed.

    `stop` says whether another check is worth its time; None while something must come first.
    `further` is what the best checks above the allowed access would take and tell.
    """

    checks: tuple[NextCheck, ...]
    notes: tuple[str, ...]
    stop: StopPoint | None = None
    further: tuple[Further, ...] = ()


def next_checks(experience: Experience, ranking: Ranking, bench: Bench, limit: int = 8) -> Proposal:
    """Propose checks: those that must come first, then at most `limit` others, best first.

    A check with an outcome is not proposed again, one that ended in `not-showing` may be. While
    a check that must come first is open, or came out in a way that does not clear it, nothing
    that applies power is proposed; nothing above the allowed access ever is. Checks that tell
    nothing are left out. What a check needs and has not been made is added to its time and named
    in its cautions.
    """
    beliefs = Beliefs.of(ranking)
    now = survey(bench, bench.made)

    def weighed(offers: Iterable[Offer]) -> list[Weighed]:
        found = (Weighed(o, expect(experience, beliefs, o.option.check)) for o in offers)
        return sorted((w for w in found if w.expected.told >= LEAST_TOLD), key=_best_first)

    offered, held, beyond = weighed(now.offered), weighed(now.held), weighed(now.beyond)
    first = [
        _proposed(
            beliefs,
            option,
            expect(experience, beliefs, option.check),
            first=True,
            said=_again(now.alarming.get(option.check)),
        )
        for option in now.leading
    ]
    labels = {option.check: option.label for option in bench.options}
    notes = [
        *now.notes,
        *(
            f"“{labels[check]}” came out as “{outcome}”: that has to be put right, and the check "
            "made again, before anything that applies power is proposed."
            for check, outcome in now.alarming.items()
        ),
    ]
    if held:
        notes.append(
            f"Held back until what must come first is done, because they apply power: "
            f"{_names(held)}."
        )
    notes += [
        f"Not proposed, because it takes access “{access}”: {_names(there)}."
        for access, there in _by_access(beyond)
    ]
    return Proposal(
        checks=(*first, *(_of_offer(beliefs, w, bench) for w in offered[:limit])),
        notes=tuple(notes),
        stop=None if now.pending else stop_point(beliefs, bench, offered, now.closed),
        further=tuple(_further(w) for _, there in _by_access(beyond) for w in there[:NAMED]),
    )


def _of_offer(beliefs: Beliefs, weighed: Weighed, bench: Bench) -> NextCheck:
    offer = weighed.offer
    said = tuple(f"Make “{needed.label}” first." for needed in offer.before)
    if bench.intermittent and bench.prove and offer.option.disturbs:
        said = (*said, PROVE.format(bench.prove))
    return _proposed(beliefs, offer.option, weighed.expected, said=said)


def _proposed(
    beliefs: Beliefs,
    option: CheckOption,
    expected: Expectation,
    *,
    first: bool = False,
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
        cautions=said,
        then={o: leading_after(beliefs, after) for o, after in expected.after.items()},
        then_unseen={o: unseen_after(beliefs, after) for o, after in expected.after.items()},
    )


def _again(outcome: str | None) -> tuple[str, ...]:
    return (AGAIN.format(outcome),) if outcome else ()


def _further(weighed: Weighed) -> Further:
    offer, option = weighed.offer, weighed.offer.option
    return Further(
        check=option.check,
        label=option.label,
        access=offer.access,
        minutes=offer.spent,
        cover=COVER_MINUTES if offer.opens else 0.0,
        bits=weighed.expected.told,
        hazards=tuple(dict.fromkeys(h for step in offer.steps for h in step.hazards)),
        wait=sum(step.wait for step in offer.steps),
        caution=FURTHER.format(offer.access),
    )


def _by_access(beyond: Sequence[Weighed]) -> list[tuple[str, list[Weighed]]]:
    """The checks beyond the allowed access, nearest access first, best first within each."""
    each = [(access, [w for w in beyond if w.offer.access == access]) for access in ACCESS]
    return [(access, there) for access, there in each if there]


def _names(weighed: Sequence[Weighed]) -> str:
    named = ", ".join(
        f"“{w.offer.option.label}” ({w.expected.told:.2f} bits)" for w in weighed[:NAMED]
    )
    more = len(weighed) - NAMED
    return f"{named} and {more} more" if more > 0 else named


def _best_first(weighed: Weighed) -> tuple[float, str]:
    return (-weighed.expected.told / weighed.offer.minutes, weighed.offer.option.check)
