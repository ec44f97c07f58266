"""What else is worth a look while a unit is open: minutes now against a second visit later."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from statistics import median
from typing import NamedTuple

from kb.faults.mishaps import MISHAPS
from kb.values import Interval
from kb.values_history import Visit, WorthLooking

# How often a unit fails in a year cannot be had from a service book, so these stand in for what is
# not known. Judgement of the trade, no source.
SECOND_VISIT = 45.0
"""minutes that any further visit costs: taking it in, opening, proving, closing, handing back"""
SEEN = 0.5
"""how often what will bring a unit back can be seen beforehand, by whoever looks for it"""
LOOK = 2.0
"""minutes that a look takes at a place that is open already"""
COVER = 10.0
"""minutes to take another cover off and put it back"""
LEAN = 6.0
"""for how many visits the comparable units speak"""
LEAST = 1.0
"""minutes saved below which a look is not worth saying"""
FINDING = 30.0
"""minutes to find a cause of which no note says how long the checks took"""

ASSUMED = (
    "The unit comes to the bench once more, and then for one of the causes that brought the "
    "family's units so far. How often a unit fails in a year cannot be had from a service book.",
    f"Of what will bring it back, {100 * SEEN:.0f} % can be seen beforehand by whoever looks.",
    f"A second visit costs {SECOND_VISIT:.0f} minutes more than putting it right now, and finding "
    "the cause again, which takes as long as the checks took in the notes "
    f"({FINDING:.0f} minutes where none says).",
    f"A look takes {LOOK:.0f} minutes, and {COVER:.0f} more if another cover has to come off.",
    "Comparable units are those of the same line, else of the same kind, else all that have the "
    f"item. They speak for {LEAN:.0f} visits; where there are none, {LEAN:.0f} visits without the "
    "cause are put in their place, so that a single case does not make a rule.",
)


class CauseFacts(NamedTuple):
    """What the vocabulary says of a cause, for the family in question."""

    label: str
    comparable: frozenset[str] = frozenset()
    """the families that are leaned on for this cause, without the one in question"""
    cover: str | None = None
    confirm: str | None = None
    cautions: tuple[str, ...] = ()


class _Counted(NamedTuple):
    """Finished visits of a family, and in how many of them each cause was found."""

    visits: int
    causes: Counter[str]


_NONE = _Counted(0, Counter())


class Tally(NamedTuple):
    """What the visits of a book say of causes, counted once for every family."""

    families: Mapping[str, _Counted]
    finding: Mapping[str, Mapping[str, float]]
    """family -> cause -> median minutes of the checks that led to it there"""
    finding_anywhere: Mapping[str, float]
    """the same over all families"""


def worth_looking(
    tally: Tally,
    family: str,
    causes: Mapping[str, CauseFacts],
    doing: Collection[str] = (),
    off: str | None = None,
) -> tuple[WorthLooking, ...]:
    """The causes at which a look saves a minute or more on average, most first.

    With k of n visits of the family, and a rate r among comparable units (0 if there are none)
    that speaks for s visits, the next visit has the cause with share q = (k + s·r) / (n + s). A
    look saves

        q · SEEN · (SECOND_VISIT + finding) - look

    minutes, `finding` being the median of what the checks took when the cause was found. Visits
    that a mishap brought on do not count for the cause. The repair itself takes as long now as
    later and drops out.

    Args:
        tally: all visits of the book, counted.
        family: the family of the unit.
        causes: the causes that such a unit can have.
        doing: causes that are being put right anyway.
        off: what is off, in the vocabulary's words; None if nobody said: then each cause is
            weighed as if its own cover were off.

    Source: the interval is that of the Beta posterior whose prior has mean r and weight s; see
    A. Gelman et al., Bayesian Data Analysis, 3rd edition (2013), section 2.4.
    """
    counted = tally.families
    own = counted.get(family, _NONE)
    finding = {**tally.finding_anywhere, **tally.finding.get(family, {})}
    found = []
    for cause, facts in causes.items():
        others = [counted[f] for f in facts.comparable if f in counted]
        k, m = own.causes[cause], sum(o.causes[cause] for o in others)
        if cause in doing or not k + m:
            continue
        other_visits = sum(o.visits for o in others)
        rate = m / other_visits if other_visits else 0.0
        share = (k + LEAN * rate) / (own.visits + LEAN)
        free = off is None or _taken_off(facts.cover) <= _taken_off(off)
        look = LOOK if free else LOOK + COVER
        again = finding.get(cause, FINDING)
        saved = share * SEEN * (SECOND_VISIT + again) - look
        if saved < LEAST:
            continue
        found.append(
            WorthLooking(
                cause=cause,
                label=facts.label,
                cover=facts.cover,
                free=free,
                count=k,
                visits=own.visits,
                comparable_count=m,
                comparable_visits=other_visits,
                share=share,
                interval=_interval(k, own.visits, rate),
                finding=again,
                look=look,
                saved=saved,
                why=_why(k, own.visits, m, other_visits, share, again, look, facts.cover, off),
                confirm=facts.confirm,
                cautions=facts.cautions,
            )
        )
    return tuple(sorted(found, key=lambda w: (-w.saved, w.cause)))


def tally_of(visits: Sequence[Visit]) -> Tally:
    """Count all visits of a book, for `worth_looking`."""
    here, anywhere = _finding(visits)
    return Tally(_counted(visits), here, anywhere)


def _counted(visits: Sequence[Visit]) -> dict[str, _Counted]:
    """The counts of each family; cases that a mishap brought on are left out."""
    totals: Counter[str] = Counter()
    causes: dict[str, Counter[str]] = defaultdict(Counter)
    for visit in visits:
        if visit.finished is not None:
            totals[visit.family] += 1
            causes[visit.family].update(
                {
                    f.root_cause
                    for f in visit.faults
                    if f.root_cause and f.brought_on_by not in MISHAPS
                }
            )
    return {family: _Counted(total, causes[family]) for family, total in totals.items()}


def _finding(
    visits: Sequence[Visit],
) -> tuple[dict[str, dict[str, float]], dict[str, float]]:
    """cause -> median minutes of the checks that led to it: in each family, and in all."""
    here: dict[tuple[str, str], list[float]] = defaultdict(list)
    anywhere: dict[str, list[float]] = defaultdict(list)
    for visit in visits:
        for fault in visit.faults:
            minutes = sum(c.minutes for c in fault.checks if c.minutes is not None)
            if fault.root_cause and minutes:
                anywhere[fault.root_cause].append(minutes)
                here[visit.family, fault.root_cause].append(minutes)
    families: dict[str, dict[str, float]] = defaultdict(dict)
    for (family, cause), of_cause in here.items():
        families[family][cause] = median(of_cause)
    return dict(families), {cause: median(all_) for cause, all_ in anywhere.items()}


def _taken_off(cover: str | None) -> frozenset[str]:
    """What is off when this is: "lid and harp tilted" has the lid off too; "none …" nothing."""
    words = (cover or "none").strip().casefold()
    if words.partition(" ")[0] == "none":
        return frozenset()
    return frozenset(part.strip() for part in words.split(" and "))


def _interval(count: int, visits: int, rate: float) -> Interval:
    from scipy.special import betaincinv

    a, b = count + LEAN * rate, visits - count + LEAN * (1 - rate)
    high = float(betaincinv(a, b, 0.975)) if b > 0 else 1.0
    return (float(betaincinv(a, b, 0.025)) if b > 0 else 1.0, high)


def _why(
    count: int,
    visits: int,
    others: int,
    other_visits: int,
    share: float,
    finding: float,
    look: float,
    cover: str | None,
    off: str | None,
) -> str:
    seen = f"{count} of {visits} visits of this family"
    if other_visits:
        seen += f" and {others} of {other_visits} of comparable units had it"
    else:
        seen += " had it; no comparable unit was ever here"
    if not _taken_off(cover):
        reach = "nothing has to come off for a look"
    elif look > LOOK:
        reach = f"a look needs more off ({cover})"
    elif off is None:
        reach = f"with {cover} a look is cheap"
    else:
        reach = f"it is in reach already ({cover})"
    return (
        f"{seen}: about {100 * share:.0f} % of its next visits. Finding it then takes about "
        f"{finding:.0f} min, and the visit {SECOND_VISIT:.0f} more; {reach}, {look:.0f} min."
    )
