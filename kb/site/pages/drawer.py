"""The spares that would have served the last year's repairs: a page to shop by, and a family's."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from msgspec import Struct

from kb.site import wording
from kb.site.material import Material
from kb.site.names import Link
from kb.site.render import Page
from kb.values_history import Drawer, Spare

PAGE = "drawer.html"
_MOST, _OF_FAMILY = 100, 8
"""so many are listed, and on the page of a family of those that serve most repairs"""
_CAUSES, _FAMILIES = 2, 3


class SpareView(Struct, frozen=True):
    """A part for the drawer; `level` is how much of a bar is filled by what is served so far."""

    spare: Spare
    causes: tuple[str, ...]
    families: tuple[Link, ...]
    others: int
    level: str


class Spares(Struct, frozen=True):
    """The spares of some repairs: those that serve most of them, and those beyond."""

    answer: Drawer
    said: str
    enough: tuple[SpareView, ...]
    beyond: tuple[SpareView, ...]
    more: int


def pages(material: Material) -> Iterator[Page]:
    """The page of all families, where a repair of the last year used a part."""
    if material.drawer() is None:
        return
    yield Page(
        path=PAGE,
        template="drawer.html",
        title="Spares",
        description="The spares that would have served most of the last year’s repairs.",
        section="drawer",
        values=partial(_values, material),
    )


def of_family(material: Material, family: str) -> Spares | None:
    """The few that serve most repairs of a family or line; None where nothing was fitted."""
    answer = material.drawer(family)
    if answer is None:
        return None
    return _spares(material, answer, min(answer.enough, _OF_FAMILY))


def _values(material: Material) -> Mapping[str, object]:
    answer = material.drawer()
    assert answer is not None  # there would be no page
    return {"spares": _spares(material, answer, _MOST)}


def _spares(material: Material, answer: Drawer, most: int) -> Spares:
    views = [_view(material, one) for one in answer.spares[:most]]
    enough, beyond = tuple(views[: answer.enough]), tuple(views[answer.enough :])
    return Spares(
        answer=answer,
        said=_said(answer, len(enough), "The first" if beyond else "These"),
        enough=enough,
        beyond=beyond,
        more=len(answer.spares) - len(views),
    )


def _said(answer: Drawer, shown: int, these: str) -> str:
    repairs = wording.counted(answer.repairs, "repair")
    said = f"{repairs} used parts, {answer.without_parts or 'none'} did without."
    last = answer.spares[shown - 1]
    serve = "The first serves" if shown == 1 else f"{these} {shown} serve"
    return f"{said} {serve} {last.served} of them ({wording.percent(last.coverage)})."


def _view(material: Material, one: Spare) -> SpareView:
    return SpareView(
        spare=one,
        causes=one.causes[:_CAUSES],
        families=material.links("family", one.families[:_FAMILIES]),
        others=max(0, len(one.families) - _FAMILIES),
        level=f"{100 * one.coverage:.1f}%",
    )
