"""The pages that belong to no term: home, search and safety."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from msgspec import Struct

from kb.notes.vocabulary import HAZARDS
from kb.site import telling, wording
from kb.site.material import Material
from kb.site.names import Link
from kb.site.pages import drawer, how_good
from kb.site.pages.weak_points import standing_out
from kb.site.render import Page
from kb.values_weak import NewTrend, NewWeakPoint

HOME = "index.html"
_RECENT = 8
_LISTED_FOR_SEARCH = 60
_STANDING_OUT = 6
_NEW = 8


class NewView(Struct, frozen=True):
    """A pair of which something is new: `where` is a family, a line, a maker or a kind."""

    cause: Link
    where: Link
    sort: str
    said: tuple[str, ...]


def pages(material: Material) -> Iterator[Page]:
    """Search, safety and, last of all pages, home."""
    yield Page(
        path="search.html",
        template="search.html",
        title="Search",
        description="Search the cases by any word of theirs.",
        section="search",
        values=partial(_search, material),
    )
    yield Page(
        path="safety.html",
        template="safety.html",
        title="Safety",
        description="What to know before a cover comes off, before power goes on, and after.",
        section="safety",
        values=partial(_safety, material),
    )
    count = wording.counted(len(material.ledger.cases), "case")
    yield Page(
        path=HOME,
        template="home.html",
        title=material.title,
        description=f"{material.title}: {count}, what is on the bench, what keeps failing.",
        section="home",
        values=partial(_home, material),
    )


def _home(material: Material) -> Mapping[str, object]:
    cases = material.ledger.cases
    families = sorted(
        material.vocabulary.families.values(),
        key=lambda family: (family.label.lower(), family.key),
    )
    return {
        "open_cases": material.rows(case for case in cases if case.is_open),
        "recent": material.rows([case for case in cases if not case.is_open][:_RECENT]),
        "families": [
            (
                material.names.term("family", family.key),
                material.vocabulary.kind_of(family.key),
                len(material.ledger.by_family[family.key]),
            )
            for family in families
            if not material.names.narrower("family", family.key)
        ],
        "standing_out": standing_out(material, _STANDING_OUT),
        "new": _new(material),
        "rising": _rising(material),
        "since": material.since,
        "how_good": how_good.summary(material.replay),
        "how_good_page": how_good.PAGE,
        "drawer_page": drawer.PAGE if material.drawer() else "",
        "study_count": len(material.study.cases),
    }


def _new(material: Material) -> list[NewView]:
    """What became a weak point; with its trend where that is new as well."""
    began = {_key(one) for one in material.new_trends}
    return [
        _told(
            material,
            new,
            f"{wording.against_comparable(new.point, new.cases)}.",
            telling.before(new),
            telling.course(new.point.trend) if _key(new) in began else "",
        )
        for new in material.new_weak_points[:_NEW]
    ]


def _rising(material: Material) -> list[NewView]:
    """What began to come more often, and is not told of as a new weak point."""
    told = {_key(one) for one in material.new_weak_points}
    others = [one for one in material.new_trends if _key(one) not in told]
    return [
        _told(material, new, telling.course(new.point.trend), telling.before_it_rose(new))
        for new in others[:_NEW]
    ]


def _key(new: NewWeakPoint | NewTrend) -> tuple[str, str, str]:
    return new.sort, new.family, new.point.cause


def _told(material: Material, new: NewWeakPoint | NewTrend, *said: str) -> NewView:
    of_pages = new.sort in ("family", "line")
    return NewView(
        cause=material.names.term("cause", new.point.cause),
        where=material.names.term("family", new.family) if of_pages else Link(new.family_label),
        sort="" if new.sort == "family" else new.sort,
        said=tuple(filter(None, said)),
    )


def _search(material: Material) -> Mapping[str, object]:
    return {
        "cases": material.rows(material.ledger.cases[:_LISTED_FOR_SEARCH]),
        "shown": _LISTED_FOR_SEARCH,
    }


def _safety(material: Material) -> Mapping[str, object]:
    cautions = material.cautions
    hazards = (*HAZARDS, *sorted(set(cautions.hazards).difference(HAZARDS)))
    return {
        "access": [(level, cautions.access.get(level, ())) for level in ("open", "live")],
        "topics": [
            (key, wording.sentence(wording.words(key)), paragraphs)
            for key, paragraphs in cautions.topics.items()
        ],
        "hazards": material.hazard_cautions(h for h in hazards if h in cautions.hazards),
    }
