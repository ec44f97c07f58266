"""The fault-finding chart of a family and a symptom: which check, what it means, where it ends.

A tree of checks, drawn beforehand from the ranking that `diagnose` gives at every point of it. It
goes only as far as the past does: a check needs past faults that tell how it comes out, and below
an outcome it goes on only where past faults with the symptom came, however sure the ranking is.
Why a way ends:

- `clear`: one cause is as likely as `Limits.clear`;
- `thin`: too few past faults came here, or had any check made that might tell something;
- `untold`: checks were made, but none is expected to tell `Limits.bits`;
- `held`: what must come first can't be made on this unit, and all else applies power;
- `page`: there may be more to check than the chart has room for;
- `alarm`: what must come first did not clear the unit; it stays off.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping, Sequence
from itertools import count

from msgspec import Struct
from msgspec.structs import replace

from kb.faults.bench import Bench, Offer, applies_power, is_closed, rank_of, survey
from kb.faults.costs import COVER_MINUTES
from kb.faults.experience import Experience
from kb.faults.information import Beliefs, Expectation, expect
from kb.faults.next_checks import PROVE
from kb.faults.ranking import Ranking, rank
from kb.notes.vocabulary import ACCESS
from kb.values import CheckOption, Evidence, FaultRecord
from kb.values_chart import Chart, ChartStep, Elsewhere, Limits, Made, Passed, Point, Suspect, Way

LIMITS = Limits()
NAMED = 2
"""causes named at a point"""
CLOSE = "Put the cover back on first: this check is made with it on."
MADE = "made"
"""how a check came out of which neither the book nor the vocabulary knows an outcome"""


class PastFault(Struct, frozen=True):
    """A past fault as the charts count it; `outcomes` is check -> how it came out."""

    family: str
    cause: str
    outcomes: Mapping[str, str]

    @classmethod
    def of(cls, record: FaultRecord) -> PastFault:
        """What counts of a record."""
        return cls(record.family, record.cause, {c: o for c, o in record.checks if o})


class _Draft(Struct):
    """A point that is being drawn.

    `cleared` says that it is the top, or that all checks above it came first and cleared the unit
    as they are likeliest to: what must come first here is drawn whatever else there is room for.
    """

    made: Made
    past: Sequence[PastFault]
    reach: float
    level: int = 0
    depth: int = 0
    cleared: bool = False
    end: str | None = None
    ranking: Ranking | None = None
    step: ChartStep | None = None
    ways: list[tuple[str, float, _Draft]] = []
    elsewhere: Elsewhere | None = None
    unmade: Passed = Passed()


def pairs_of(records: Iterable[FaultRecord], most: int) -> list[tuple[str, str]]:
    """The (family, symptom) with enough past faults of known cause, the best supported first."""
    found: dict[tuple[str, str], int] = {}
    for record in records:
        for symptom in record.symptoms if record.cause else ():
            found[record.family, symptom] = found.get((record.family, symptom), 0) + 1
    enough = [pair for pair, faults in found.items() if faults >= LIMITS.faults]
    return sorted(enough, key=lambda pair: (-found[pair], pair))[:most]


def draw(
    experience: Experience,
    family: str,
    symptom: str,
    bench: Bench,
    past: Sequence[PastFault],
) -> Chart:
    """Draw the chart; `past` are all faults of the book with this symptom and a known cause.

    What must come first stands at the top, whatever it would tell. Below it the checks that can
    be made with the cover on come first, then those with the cover off and no power, then the
    live ones: on no way does a check take less access than the one before. Of the checks of one
    access that enough past faults made, and that tell enough, the one with most bits per minute
    is drawn, with what it needs before it. The likeliest situations are drawn on first. A fault
    whose note tells nothing of what must come first is counted along the likeliest way on.
    """
    drawing = _Drawing(experience, Evidence(family, (symptom,)), bench)
    root = drawing.drawn(past)
    return Chart(
        family=family,
        symptom=symptom,
        root=root,
        intermittent=bench.intermittent,
        notes=survey(drawing.bench, ()).notes,
    )


class _Chosen(Struct, frozen=True):
    """A check to draw, with how it may come out."""

    option: CheckOption
    expected: Expectation
    first: bool = False


class _Drawing:
    """One chart in the making."""

    def __init__(self, experience: Experience, evidence: Evidence, bench: Bench) -> None:
        self.experience = experience
        self.evidence = evidence
        self.bench = replace(bench, allowed=ACCESS[-1], made=())
        self.options = {option.check: option for option in bench.options}

    def drawn(self, past: Sequence[PastFault]) -> Point:
        """The whole tree."""
        number = count()
        root = _Draft(made=(), past=past, reach=1.0, cleared=True)
        waiting = [(False, 0.0, next(number), root)]
        ends = 1
        while waiting:
            _, _, _, draft = heapq.heappop(waiting)
            draft.ranking = rank(self.experience, replace(self.evidence, checks=draft.made))
            if draft.end:
                continue
            beliefs = Beliefs.of(draft.ranking)
            chosen, draft.end = self._choose(draft, beliefs)
            if chosen is None:
                continue
            self._fork(draft, chosen)
            more = len(draft.ways) + (draft.elsewhere is not None) - 1
            forced = chosen.first and draft.cleared
            if not forced and ends + more > LIMITS.ends:
                draft.step, draft.ways, draft.elsewhere, draft.end = None, [], None, "page"
                draft.unmade = Passed()
                continue
            ends += more
            for _, _, following in draft.ways:
                turn = (not following.cleared, -following.reach, next(number), following)
                heapq.heappush(waiting, turn)
        return self._point(root)

    def _choose(self, draft: _Draft, beliefs: Beliefs) -> tuple[_Chosen | None, str | None]:
        """The check to make here, or None and why there is none."""
        now = survey(self.bench, draft.made)
        if now.leading:
            option = now.leading[0]
            return _Chosen(option, expect(self.experience, beliefs, option.check), True), None
        if max(beliefs.causes.values(), default=0.0) >= LIMITS.clear:
            return None, "clear"
        if draft.depth >= LIMITS.checks:
            return None, "page"
        if len(draft.past) < LIMITS.came:
            return None, "thin"
        supported = False
        for level in range(draft.level, len(ACCESS)):
            best: tuple[tuple[float, str], CheckOption] | None = None
            for offer in now.offered:
                if rank_of(offer.access) != level or not self._supported(draft, beliefs, offer):
                    continue
                supported = True
                told = expect(self.experience, beliefs, offer.option.check).told
                if told < LIMITS.bits:
                    continue
                key = (-told / offer.minutes, offer.option.check)
                if best is None or key < best[0]:
                    best = key, offer.steps[0]
            if best:
                option = best[1]
                return _Chosen(option, expect(self.experience, beliefs, option.check)), None
        if now.pending and now.held:
            return None, "held"
        return None, "untold" if supported else "thin"

    def _supported(self, draft: _Draft, beliefs: Beliefs, offer: Offer) -> bool:
        """Whether enough past faults tell how the check, and what it needs before it, comes out."""
        if any(rank_of(step.access) < draft.level for step in offer.steps):
            return False
        for step in offer.steps:
            rows = self.experience.counts.checks.get(step.check, {})
            behind = sum(
                faults
                for row in rows.values()
                for cause, faults in row.items()
                if beliefs.causes.get(cause, 0.0) >= LIMITS.in_play
            )
            if behind < LIMITS.made:
                return False
        return sum(sum(row.values()) >= LIMITS.way for row in rows.values()) > 1

    def _fork(self, draft: _Draft, chosen: _Chosen) -> None:
        """Part the past faults by how the check came out in them."""
        option, first = chosen.option, chosen.first
        closed = is_closed(self.options, {check for check, _ in draft.made})
        opens = closed and option.access != ACCESS[0]
        said: tuple[str, ...] = ()
        if not closed and option.access == ACCESS[0] and applies_power(option):
            said = (CLOSE,)
        if self.bench.intermittent and self.bench.prove and option.disturbs:
            said = (*said, PROVE.format(self.bench.prove))
        draft.step = ChartStep(
            option=option,
            minutes=option.minutes + (COVER_MINUTES if opens else 0.0),
            bits=chosen.expected.told,
            first=first,
            opens=opens,
            said=said,
        )
        chances = chosen.expected.outcomes
        names = list(dict.fromkeys((*chances, *option.outcomes))) or [MADE]
        alarms = [o for o in names if first and option.clears and o not in option.clears]
        rows = self.experience.counts.checks.get(option.check, {})
        drawn = [o for o in names if o in alarms or sum(rows.get(o, {}).values()) >= LIMITS.way]
        if first and not set(drawn).difference(alarms):
            # The way on must not be missing where what comes first has cleared the unit.
            going = [o for o in names if o not in alarms]
            drawn += sorted(going, key=lambda o: (-chances.get(o, 0.0), o))[:1]
        drawn.sort(key=lambda o: (o in alarms, -chances.get(o, 0.0), o))
        unmade = [p for p in draft.past if option.check not in p.outcomes]
        # Where a note says nothing of what must come first, the work went on all the same.
        going_on = drawn[0] if first and drawn[0] not in alarms else None
        draft.unmade = Passed() if going_on else self._passed(unmade)
        for outcome in drawn:
            chance = chances.get(outcome, 0.0)
            following = _Draft(
                made=(*draft.made, (option.check, outcome)),
                past=[
                    *(p for p in draft.past if p.outcomes.get(option.check) == outcome),
                    *(unmade if outcome == going_on else ()),
                ],
                reach=draft.reach * chance,
                level=draft.level if first else rank_of(option.access),
                depth=draft.depth + (not first),
                cleared=draft.cleared and outcome == going_on,
                end="alarm" if outcome in alarms else None,
            )
            draft.ways.append((outcome, chance, following))
        others = tuple(o for o in names if o not in drawn)
        if others:
            draft.elsewhere = Elsewhere(
                outcomes=others,
                chance=sum(chances.get(o, 0.0) for o in others),
                came=self._passed(p for p in draft.past if p.outcomes.get(option.check) in others),
            )

    def _passed(self, past: Iterable[PastFault]) -> Passed:
        here = book = 0
        for fault in past:
            here += fault.family == self.evidence.family
            book += 1
        return Passed(here, book)

    def _point(self, draft: _Draft) -> Point:
        assert draft.ranking is not None, "every point has been asked for"
        return Point(
            made=draft.made,
            came=self._passed(draft.past),
            suspects=tuple(
                Suspect(
                    cause=likely.cause,
                    probability=likely.probability,
                    interval=likely.interval,
                    found=self._passed(p for p in draft.past if p.cause == likely.cause),
                )
                for likely in draft.ranking.causes[:NAMED]
            ),
            unseen=draft.ranking.unseen,
            end=draft.end,
            step=draft.step,
            ways=tuple(Way(o, chance, self._point(after)) for o, chance, after in draft.ways),
            elsewhere=draft.elsewhere,
            unmade=draft.unmade,
        )
