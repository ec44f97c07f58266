"""Weak points: as drawn on a family's page, and all families on a page of their own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from msgspec import Struct

from kb.site import telling, wording
from kb.site.charts import Bar, Scale, bar, scale_for
from kb.site.material import Material
from kb.site.names import Link
from kb.site.pages import drawer
from kb.site.render import Page
from kb.site.years import Years, years
from kb.values_weak import FEWEST_FOR_TREND, FamilyWeakPoints, WeakPoint, quietly_rising

_MOST_DRAWN, _MOST_NAMED, _MOST_RISING = 16, 40, 12
"""a page of a family with hundreds of causes stays light; the most telling come first"""


class WeakPointView(Struct, frozen=True):
    """A cause of a family as the chart and the sentence beside it show it."""

    cause: Link
    family: Link
    weak: WeakPoint
    bar: Bar
    said: str
    compared: str
    drawn: str
    brought_on: tuple[str, ...]
    place: str
    course: str
    years: Years | None


class Rising(Struct, frozen=True):
    """What is coming more often: rows, how many more, and of how many pairs found how often."""

    rows: tuple[WeakPointView, ...]
    more: int
    tested: int
    fewest: int


class Chart(Struct, frozen=True):
    """The weak points of one family or line on one scale; `once` are the causes seen once."""

    family: Link
    visits: int
    scale: Scale
    rows: tuple[WeakPointView, ...]
    once: tuple[Link, ...]
    more: tuple[tuple[Link, int], ...]
    """what is left undrawn in a family of very many causes, each with its count"""
    unnamed: int


class Standing(Struct, frozen=True):
    """Weak points of several families on one scale."""

    scale: Scale
    rows: tuple[WeakPointView, ...]


def chart(material: Material, points: FamilyWeakPoints, scale: Scale | None = None) -> Chart:
    """What keeps failing in a family, drawn; a cause seen once is named and not drawn."""
    several = _drawn(points)
    drawn, left = several[:_MOST_DRAWN], several[_MOST_DRAWN:]
    scale = scale or scale_for(several)
    once = [weak.cause for weak in points.causes if weak.count == 1 and not weak.flag]
    unnamed = max(0, len(left) - _MOST_NAMED) + max(0, len(once) - _MOST_NAMED)
    return Chart(
        family=material.names.term("family", points.family),
        visits=points.cases,
        scale=scale,
        rows=tuple(_view(material, points, weak, scale) for weak in drawn),
        once=material.links("cause", once[:_MOST_NAMED]),
        more=tuple((material.names.term("cause", w.cause), w.count) for w in left[:_MOST_NAMED]),
        unnamed=unnamed,
    )


def standing_out(material: Material, most: int | None = None) -> Standing:
    """The flagged weak points of all families, the most telling first, `most` of them if given."""
    flagged = [
        (points, weak)
        for points in material.weak_points.values()
        for weak in points.causes
        if weak.flag
    ]
    flagged.sort(key=lambda pair: (-pair[1].ratio_low, pair[0].family, pair[1].cause))
    flagged = flagged[:most]
    scale = scale_for([weak for _, weak in flagged])
    rows = tuple(_view(material, points, weak, scale) for points, weak in flagged)
    return Standing(scale, rows)


def rising(material: Material) -> Rising:
    """What comes more often in a family without standing out, the least likely by chance first."""
    found, looked_at = quietly_rising(material.weak_points.values())
    scale = scale_for([weak for _, weak in found])
    rows = tuple(_view(material, points, weak, scale) for points, weak in found[:_MOST_RISING])
    return Rising(rows, max(0, len(found) - _MOST_RISING), looked_at, FEWEST_FOR_TREND)


def pages(material: Material) -> Iterator[Page]:
    """The page with the weak points of every family."""
    yield Page(
        path="weak-points.html",
        template="weak-points.html",
        title="Weak points",
        description="What keeps failing in each family, against comparable units.",
        section="weak-points",
        values=partial(_values, material),
    )


def _values(material: Material) -> Mapping[str, object]:
    families = [points for points in material.weak_points.values() if points.causes]
    # One scale for all, so that a bar means the same wherever it stands on the page.
    scale = scale_for([weak for points in families for weak in _drawn(points)])
    charts = [chart(material, points, scale) for points in families]
    return {
        "standing_out": standing_out(material),
        "rising": rising(material),
        "drawer_page": drawer.PAGE if material.drawer() else "",
        "charts": sorted(charts, key=lambda one: (one.family.text.lower(), one.family.page or "")),
    }


def _drawn(points: FamilyWeakPoints) -> list[WeakPoint]:
    return [weak for weak in points.causes if weak.count > 1 or weak.flag]


def _view(
    material: Material, points: FamilyWeakPoints, weak: WeakPoint, scale: Scale
) -> WeakPointView:
    low, high = map(wording.percent, weak.share_interval)
    drawn = f"{wording.percent(weak.share)} of visits, interval {low} to {high}"
    if weak.comparable_cases:
        elsewhere = weak.comparable_count / weak.comparable_cases
        drawn += f"; {wording.percent(elsewhere)} in comparable units"
    brought_on = sorted(weak.brought_on.items(), key=lambda entry: (-entry[1], entry[0]))
    return WeakPointView(
        cause=material.names.term("cause", weak.cause),
        family=material.names.term("family", points.family),
        weak=weak,
        bar=bar(weak, scale),
        said=wording.against_comparable(weak, points.cases),
        compared=wording.compared(weak, points.cases),
        drawn=drawn,
        brought_on=tuple(f"{wording.words(key)}{wording.KEPT}{count}" for key, count in brought_on),
        place=telling.place(weak.place),
        course=telling.course(weak.trend),
        # The years of a cause that neither stands out nor changes say nothing.
        years=years(points.visits, weak.by_year)
        if weak.flag or weak.trend.direction != "steady"
        else None,
    )
