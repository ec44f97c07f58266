"""When another check is worth less than trying the likeliest part.

One step ahead: the minutes to the cause if parts are tried from now on, against those of the check
and, averaged over its outcomes, of trying after it (the expected cost of repair of D. Heckerman,
J. S. Breese & K. Rommelse, Communications of the ACM 38(3) (1995) 49-57). What a check saves
counts only as far as the book knows how it comes out.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from kb.faults.bench import Bench, Offer
from kb.faults.costs import COVER_MINUTES
from kb.faults.information import Beliefs, Expectation
from kb.faults.trying import Tries, best_tries, minutes_in_order
from kb.notes.vocabulary import ACCESS
from kb.values import StopPoint

A_GAMBLE = 0.5
"""a part that is less likely than this is more often tried in vain than not, and that is said"""
CONSIDERED, MOST = 0.95, 40
"""the likeliest causes that make up this share, and at most so many, are weighed for trying"""


class Weighed(Struct, frozen=True):
    """A check that can be made, and what it is expected to tell."""

    offer: Offer
    expected: Expectation


class Parts(Struct, frozen=True):
    """The causes that may be tried, likeliest first, with their minutes, by place."""

    causes: tuple[str, ...]
    p: tuple[float, ...]
    minutes: tuple[float, ...]
    inside: tuple[bool, ...]
    search: float

    @classmethod
    def of(cls, beliefs: Beliefs, bench: Bench) -> Parts:
        """The likeliest causes of these beliefs."""
        chosen: list[str] = []
        reached = 0.0
        for cause, p in beliefs.causes.items():
            if reached >= CONSIDERED * (1.0 - beliefs.unseen) or len(chosen) == MOST:
                break
            chosen.append(cause)
            reached += p
        return cls(
            causes=tuple(chosen),
            p=tuple(beliefs.causes[c] for c in chosen),
            minutes=tuple(bench.trying_of(c) for c in chosen),
            inside=tuple(c in bench.trying.behind for c in chosen),
            search=bench.trying.search,
        )

    def tries(self, p: Sequence[float], closed: bool) -> Tries:
        """Which to try, and how long that takes, at these probabilities."""
        cover = COVER_MINUTES if closed else 0.0
        return best_tries(p, self.minutes, self.search, self.inside, cover)

    def minutes_of(
        self, order: Sequence[int], mass: Sequence[float], whole: float, closed: bool
    ) -> float:
        """How long that takes, times `whole`, if the causes have this mass of it."""
        cover = COVER_MINUTES if closed else 0.0
        return minutes_in_order(order, mass, whole, self.minutes, self.search, self.inside, cover)


def stop_point(
    beliefs: Beliefs, bench: Bench, offered: Sequence[Weighed], closed: bool
) -> StopPoint:
    """Where things stand: whether a check of those offered saves minutes, and what to try.

    One step ahead: two checks that save only together are not seen; a plan sees those.
    """
    parts = Parts.of(beliefs, bench)
    now = parts.tries(parts.p, closed)
    best, saves = None, 0.0
    for weighed in offered:
        saved = _saved(parts, now, weighed, closed)
        if best is None or saved > saves:
            best, saves = weighed.offer.option.check, saved
    return described(parts, now, bench, closed, best, saves)


def described(
    parts: Parts, now: Tries, bench: Bench, closed: bool, check: str | None, saves: float
) -> StopPoint:
    """A stop point as `StopPoint` says; `saves` is what the best `check` would save."""
    place = now.order[0] if now.order else None
    inside = place is not None and parts.inside[place]
    return StopPoint(
        now=place is not None and (check is None or saves <= 0.0),
        cause=None if place is None else parts.causes[place],
        label=None if place is None else parts.causes[place],
        probability=0.0 if place is None else parts.p[place],
        minutes=0.0
        if place is None
        else parts.minutes[place] + (COVER_MINUTES if inside and closed else 0.0),
        access=ACCESS[1] if inside else ACCESS[0],
        expected=now.minutes,
        search=parts.search,
        check=check,
        saves=saves,
        prove=bench.prove if bench.intermittent else 0.0,
    )


def sentences(stop: StopPoint, allowed: str, checks: int = 0) -> tuple[str, ...]:
    """The stop point in words; `checks` is how many of a plan come before it."""
    start = (
        "From here"
        if not checks
        else f"After {'this check' if checks == 1 else f'these {checks} checks'}"
    )
    if stop.cause is None:
        said = [f"{start} no part is likely enough to be tried blind."]
        if stop.saves > 0:
            said.append(f"Another check saves about {stop.saves:.0f} min on average.")
        else:
            said.append(
                "No check changes that by itself: those that tell most for their time lead."
            )
        return tuple(said)
    if not stop.now:
        return (
            f"{start} another check is worth more than trying a part: the best saves about "
            f"{stop.saves:.0f} min on average.",
        )
    if stop.probability < A_GAMBLE:
        vain = 1.0 - stop.probability
        said = [
            f"{start} no check is expected to save more time than it takes: the book knows too "
            f"little. If a part is tried, begin with “{stop.label}” (about {stop.minutes:.0f} "
            f"min); {round(10 * vain)} times in 10 that is in vain."
        ]
    else:
        said = [
            f"{start} trying “{stop.label}” (about {stop.minutes:.0f} min, "
            f"{100 * stop.probability:.0f} % likely) is worth more than another check."
        ]
    if ACCESS.index(stop.access) > ACCESS.index(allowed):
        said.append(
            f"It takes access “{stop.access}”, more than is allowed here: leave it closed and hand "
            "it on, or go by all cautions of that access."
        )
    elif stop.access != ACCESS[0]:
        said.append(f"It takes access “{stop.access}”: all cautions of that access hold.")
    if stop.prove:
        said.append(
            f"The fault comes and goes: it is cured only once it has stayed away for "
            f"{stop.prove:.0f} min of running."
        )
    return tuple(said)


def _saved(parts: Parts, now: Tries, weighed: Weighed, closed: bool) -> float:
    offer, expected = weighed.offer, weighed.expected
    opened = parts.tries(parts.p, closed=False).minutes if offer.opens else now.minutes
    shut = closed and not offer.opens
    later = 0.0
    for after in expected.after.values():
        # Which parts are tried then goes by what would be believed; how likely each cause is to
        # come with this outcome, by the rates: with the weights the two would not add up.
        believed = [
            p * after.likelihood(cause) / after.total
            for p, cause in zip(parts.p, parts.causes, strict=True)
        ]
        mass = [p * after.rate(cause) for p, cause in zip(parts.p, parts.causes, strict=True)]
        order = parts.tries(believed, shut).order
        later += parts.minutes_of(order, mass, after.chance, shut)
    told = expected.known * later + (1.0 - expected.known) * opened
    return now.minutes - told - offer.minutes
