"""The fault-finding chart of a family and a symptom: one page, on the bench or on paper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import partial
from urllib.parse import quote

from msgspec import Struct

from kb import cautions
from kb.notes.vocabulary import ACCESS, STATES
from kb.site import wording
from kb.site.addresses import chart_page, term_page
from kb.site.material import Caution, Material
from kb.site.names import Link
from kb.site.pages.rules import levels_of
from kb.site.render import Page
from kb.values_chart import Chart, ChartStep, Passed, Point, Suspect, Way

LEAST_NAMED = 0.05
"""a cause less likely than this is not named at an end, unless it leads"""
_ENDS = {
    "clear": "Likely enough: prove it, then put it right.",
    "thin": "Too few past faults to go on.",
    "untold": "No other check is expected to tell enough.",
    "held": "What must come first can’t be made on this unit, so nothing that applies power "
    "stands here.",
    "page": "There may be more to check than this page has room for.",
    "alarm": "Leave it off and unplugged. Put this right, then begin again at the top.",
}
_ON = frozenset({"thin", "untold", "page"})


class Tally(Struct, frozen=True):
    """Past faults of the family, and of the whole book, out of so many."""

    came: Passed
    of: Passed


class StepView(Struct, frozen=True):
    """A check to make."""

    number: int
    check: Link
    access: str
    minutes: float
    bits: float
    first: bool
    opens: bool
    dangers: tuple[Caution, ...]
    needs: tuple[str, ...]
    said: tuple[str, ...]


class SuspectView(Struct, frozen=True):
    """A cause that may be behind it; `found` is of those that came to this end."""

    cause: Link
    probability: float
    low: float
    high: float
    found: Passed


class ElsewhereView(Struct, frozen=True):
    """Outcomes of which the book can't say what they mean."""

    outcomes: str
    chance: float
    tally: Tally


class PointView(Struct, frozen=True):
    """A point of the chart: the check with its ways, or the end with what it is likely to be."""

    tally: Tally
    step: StepView | None
    ways: tuple[WayView, ...]
    elsewhere: ElsewhereView | None
    unmade: Tally | None
    verdict: str
    suspects: tuple[SuspectView, ...]
    unseen: float
    end: str
    why: str
    bench: str


class WayView(Struct, frozen=True):
    """One outcome and where it leads."""

    outcome: str
    chance: float
    point: PointView


def pages(material: Material) -> Iterator[Page]:
    """One page per chart."""
    for chart in material.charts:
        family, symptom = _names(material, chart)
        yield Page(
            path=chart_page(chart.family, chart.symptom),
            template="chart.html",
            title=f"{family.text}: {symptom.text}",
            description=f"Fault-finding chart, {family.text}, {symptom.text}: what to check, what "
            "it means, and where the book does not know.",
            section="families",
            values=partial(_values, material, chart),
        )


def charts_of_family(material: Material, family: str) -> list[tuple[Link, int]]:
    """Links to the charts of a family, or of a line's families, with the past faults behind each.

    A family's own are called by the symptom alone.
    """
    return [
        (_link(material, chart, family=chart.family != family), chart.root.came.here)
        for chart in material.charts
        if any(f.key == family for f in material.vocabulary.family_chain(chart.family))
    ]


def charts_of_symptom(material: Material, symptom: str) -> list[tuple[Link, int]]:
    """Links to the charts of a symptom, with the past faults behind each."""
    return [
        (Link(_names(material, chart)[0].text, chart_page(chart.family, chart.symptom)),
         chart.root.came.here)
        for chart in material.charts
        if chart.symptom == symptom
    ]  # fmt: skip


def _link(material: Material, chart: Chart, family: bool) -> Link:
    named, symptom = _names(material, chart)
    text = f"{named.text}: {symptom.text}" if family else symptom.text
    return Link(text, chart_page(chart.family, chart.symptom))


def _names(material: Material, chart: Chart) -> tuple[Link, Link]:
    return (
        material.names.term("family", chart.family),
        material.names.term("symptom", chart.symptom),
    )


def _values(material: Material, chart: Chart) -> Mapping[str, object]:
    family, symptom = _names(material, chart)
    steps = [point.step for point in chart.root.points() if point.step]
    most = max((step.option.access for step in steps), key=ACCESS.index, default=ACCESS[0])
    inside = _inside(material, chart.family)
    hazards = {hazard for step in steps for hazard in _hazards(material, chart.family, step)}
    items = material.vocabulary.items_of(chart.family)
    told = set(cautions.topics_for(most, items, inside))
    first = any(step.first for step in steps)
    danger = (
        f"{symptom.text}: leave it off and unplugged until everything marked FIRST is done and "
        "has cleared it."
    )
    return {
        "chart": chart,
        "family": family,
        "symptom": symptom,
        "point": _point(material, chart, chart.root, 1),
        "danger": danger if first else cautions.ASK_DANGER,
        "first": first,
        "closed": cautions.KEEP_CLOSED if most == ACCESS[0] else "",
        "levels": [(level, material.cautions.access.get(level, ())) for level in levels_of(most)],
        "dangers": material.hazard_cautions(hazards),
        "topics": [
            (wording.words(key), texts)
            for key, texts in material.cautions.topics.items()
            if told.issuperset(cautions.TOPICS.get(key, ("",)))
        ],
        "local_codes": cautions.LOCAL_CODES,
        "bench": _bench(chart, ()),
        "family_page": term_page("family", chart.family),
    }


def _inside(material: Material, family: str) -> tuple[str, ...]:
    """The hazards behind the cover; where none was noted, the worst."""
    return material.vocabulary.hazards_of(family) or cautions.WORST


def _hazards(material: Material, family: str, step: ChartStep) -> tuple[str, ...]:
    inside = _inside(material, family) if step.option.access != ACCESS[0] else ()
    return tuple(dict.fromkeys((*step.option.hazards, *inside)))


def _point(material: Material, chart: Chart, point: Point, number: int) -> PointView:
    root, step = chart.root.came, point.step
    others = point.elsewhere
    return PointView(
        tally=Tally(point.came, root),
        step=_step(material, chart, step, number) if step else None,
        ways=tuple(_way(material, chart, way, number + 1) for way in point.ways),
        elsewhere=ElsewhereView(
            wording.listed([wording.words(outcome) for outcome in others.outcomes]),
            others.chance,
            Tally(others.came, root),
        )
        if others
        else None,
        unmade=Tally(point.unmade, point.came) if step else None,
        verdict=_verdict(point),
        suspects=tuple(
            _suspect(material, suspect)
            for place, suspect in enumerate(point.suspects)
            if not place or (suspect.probability >= LEAST_NAMED and point.end != "alarm")
        ),
        unseen=point.unseen,
        end=point.end or "",
        why=_ENDS.get(point.end or "", ""),
        bench=_bench(chart, point.made) if point.end in _ON else "",
    )


def _way(material: Material, chart: Chart, way: Way, number: int) -> WayView:
    return WayView(
        outcome=wording.sentence(wording.words(way.outcome)),
        chance=way.chance,
        point=_point(material, chart, way.point, number),
    )


def _step(material: Material, chart: Chart, step: ChartStep, number: int) -> StepView:
    option = step.option
    return StepView(
        number=number,
        check=material.names.term("check", option.check),
        access=option.access,
        minutes=step.minutes,
        bits=step.bits,
        first=step.first,
        opens=step.opens,
        dangers=tuple(material.hazard_cautions(_hazards(material, chart.family, step))),
        needs=tuple(wording.words(need) for need in option.needs if need in STATES),
        said=step.said,
    )


def _suspect(material: Material, suspect: Suspect) -> SuspectView:
    low, high = suspect.interval
    cause = material.names.term("cause", suspect.cause)
    return SuspectView(cause, suspect.probability, low, high, suspect.found)


def _verdict(point: Point) -> str:
    """How sure the book is here, in a word or two."""
    if point.end == "alarm":
        return "Leave it off"
    leads = point.suspects[0].probability if point.suspects else 0.0
    if point.unseen >= leads:
        return "Not known"
    if leads >= 0.5:
        return "Most likely"
    return "Not settled"


def _bench(chart: Chart, made: Iterable[tuple[str, str]]) -> str:
    """The bench page with what is known at a point filled in."""
    words = [f"unit={quote(chart.family, safe='')}", f"there={quote(chart.symptom, safe='')}"]
    pairs = ",".join(f"{quote(c, safe='')}:{quote(o, safe='')}" for c, o in made)
    if pairs:
        words.append(f"made={pairs}")
    return f"bench.html#{'&'.join(words)}"
