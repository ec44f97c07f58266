"""The test points of a family: what each should read, what healthy units read, what stood out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec import Struct

from kb.notes.vocabulary import Family, Nominal
from kb.site import telling, wording
from kb.site.material import Material
from kb.site.names import Link
from kb.site.strips import Strip, strip
from kb.values_readings import FamilyReadings, Pointer, PointReadings, Unusual

TELLING = 1.5
"""a likelihood ratio below this is not worth a line: judgement"""
_POINTED, _ODD = 3, 6


class OddReading(Struct, frozen=True):
    """A reading that stood out, and what was found with it."""

    said: str
    case: Link
    found: tuple[Link, ...]
    modified: tuple[str, ...]


class Pointed(Struct, frozen=True):
    """What a reading on one side has pointed to."""

    side: str
    cause: Link
    pointer: Pointer
    said: str


class Point(Struct, frozen=True):
    """A test point as a row of figures, with the strip that draws them."""

    name: str
    under: str
    nominal: str
    tolerance: str
    usual: str
    rests_on: str
    median: str
    strip: Strip
    ends: tuple[str, str]
    odd: tuple[OddReading, ...]
    more_odd: int
    pointed: tuple[Pointed, ...]


class PointTable(Struct, frozen=True):
    """The test points of a family, and what to know about all of them."""

    points: tuple[Point, ...]
    footing: tuple[str, ...]


def point_table(
    material: Material, answer: FamilyReadings | None, chain: tuple[Family, ...]
) -> PointTable | None:
    """The points with anything known of them; None where there are none."""
    points = tuple(_points(material, answer, chain)) if answer else ()
    return PointTable(points, tuple(_footing(answer))) if answer and points else None


def _points(
    material: Material, answer: FamilyReadings, chain: tuple[Family, ...]
) -> Iterator[Point]:
    for point in answer.points:
        drawn = strip(point)
        if drawn is None:
            continue
        rated = _rated(chain, point)
        under = wording.words(point.state) if point.state else ""
        if point.exponent:
            brought = f"brought to {answer.mains:g}{wording.KEPT}V mains"
            under = f"{under}, {brought}" if under else brought
        tolerance = rated.tolerance if rated else None
        yield Point(
            name=point.at,
            under=under,
            nominal="" if point.nominal is None else telling.measured(point, point.nominal),
            tolerance=f"±{wording.KEPT}{wording.quantity(tolerance)}" if tolerance else "",
            usual=telling.usual(point),
            rests_on=telling.rests_on(point),
            median=telling.measured(point, point.median)
            if point.median is not None and point.count > 1
            else "",
            strip=drawn,
            ends=(telling.measured(point, drawn.ends[0]), telling.measured(point, drawn.ends[1])),
            odd=tuple(_odd(material, one) for one in point.unusual[:_ODD]),
            more_odd=max(0, len(point.unusual) - _ODD),
            pointed=tuple(_pointed(material, point)),
        )


def _rated(chain: tuple[Family, ...], point: PointReadings) -> Nominal | None:
    """The nominal value as the vocabulary writes it, the family's own before its line's."""
    for family in chain:
        for entry in family.nominal:
            if entry.at == point.at and entry.state in (None, point.state):
                return entry
    return None


def _odd(material: Material, one: Unusual) -> OddReading:
    return OddReading(
        said=telling.unusual(one),
        case=material.names.case(one.case),
        found=material.links("cause", one.causes),
        modified=tuple(map(wording.words, one.modified)),
    )


def _pointed(material: Material, point: PointReadings) -> Iterator[Pointed]:
    for side in dict.fromkeys(one.side for one in point.unusual):
        telling_ones = [p for p in point.pointers if p.side == side and p.ratio > TELLING]
        for one in telling_ones[:_POINTED]:
            others = "never read with others"
            if one.others_read:
                others = f"in {one.others:.3g} of {one.others_read:.3g} with others"
            yield Pointed(
                side=side,
                cause=material.names.term("cause", one.cause),
                pointer=one,
                said=f"in {one.count:.3g} of {one.read:.3g} visits that had it, {others}",
            )


def _footing(answer: FamilyReadings) -> Iterator[str]:
    follows = [p for p in answer.points if p.exponent]
    if follows:
        names = wording.listed(_named(follows))
        yield (
            f"Rises and falls with the mains, as its readings show, and is given for "
            f"{answer.mains:g}{wording.KEPT}V: {names}."
        )
    if any(p.by == "nominal" for p in answer.points):
        yield (
            "Where only a few healthy readings are known, the lowest and highest are given, and "
            "what stands out is judged by the nominal value and its tolerance."
        )
    left_out: dict[str, int] = {}
    for point in answer.points:
        for why, count in point.left_out.items():
            left_out[why] = left_out.get(why, 0) + count
    if left_out:
        reasons = ", ".join(f"{why} {count}" for why, count in sorted(left_out.items()))
        yield f"Readings as left that do not count as healthy: {reasons}."
    if answer.unsaid:
        yield f"Of {answer.unsaid} more nobody wrote whether they are as found or as left."


def _named(points: Iterable[PointReadings]) -> list[str]:
    return [f"{p.at} ({wording.words(p.state)})" if p.state else p.at for p in points]
