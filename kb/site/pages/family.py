"""The page of a model family, or of a line that families belong to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import partial

from msgspec import Struct

from kb.notes.vocabulary import Family
from kb.site import wording
from kb.site.addresses import term_page
from kb.site.material import Material
from kb.site.pages import drawer, weak_points
from kb.site.pages.chart import charts_of_family
from kb.site.pages.family_history import looks, repairs
from kb.site.pages.family_readings import point_table
from kb.site.render import Page


class NominalView(Struct, frozen=True):
    """What a test point of a healthy unit should read."""

    at: str
    value: str
    state: str


def pages(material: Material) -> Iterator[Page]:
    """One page per family and line."""
    for family in material.vocabulary.families.values():
        kind = wording.words(material.vocabulary.kind_of(family.key) or "")
        count = wording.counted(len(material.ledger.by_family[family.key]), "case")
        yield Page(
            path=term_page("family", family.key),
            template="family.html",
            title=family.label,
            description=f"{', '.join(filter(None, (family.label, kind)))}: {count} in this book.",
            section="families",
            values=partial(_values, material, family),
        )


def _values(material: Material, family: Family) -> Mapping[str, object]:
    chain = material.vocabulary.family_chain(family.key)
    points = material.weak_points.get(family.key)
    if not points or not points.cases:
        # A line is no family that ever came in; what keeps failing in it is its families' together.
        points = material.lines.get(family.key, points)
    writeup = material.writeup(family.key)
    page = term_page("family", family.key)
    note = f"families/{family.key}.md"
    access = {check: level for f in reversed(chain) for check, level in f.access.items()}
    covers = {item: cover for f in reversed(chain) for item, cover in f.covers.items()}
    dangers = material.hazard_cautions(material.vocabulary.hazards_of(family.key))
    measured, while_open = material.readings(family.key), material.while_open(family.key)
    table = point_table(material, measured, chain)
    worth = looks(material, while_open)
    cases = material.ledger.by_family[family.key]
    return {
        "family": family,
        "maker": material.vocabulary.maker_of(family.key),
        "kind": material.vocabulary.kind_of(family.key),
        "made": "–".join(map(str, family.made)),
        "items": [wording.words(item) for item in sorted(material.vocabulary.items_of(family.key))],
        "line": material.links("family", [f.key for f in chain[1:2]]),
        "narrower": material.links("family", material.names.narrower("family", family.key)),
        "writeup": material.prose.html(writeup, note, page, title=family.label) if writeup else "",
        "chart": weak_points.chart(material, points) if points and points.causes else None,
        "too_few": bool(points and points.too_few),
        "members": material.links("family", points.members) if points else (),
        "visits": points.cases if points else 0,
        "fault_charts": charts_of_family(material, family.key),
        "test_points": table,
        "looks": worth,
        "rules": _rules(
            [caution.text for caution in dangers],
            while_open.cautions if while_open and worth else (),
            measured.cautions if measured and table else (),
        ),
        "repairs": repairs(material, family.key),
        "spares": drawer.of_family(material, family.key),
        "spares_page": drawer.PAGE,
        "nominal": () if table else _nominal(chain),
        "access_here": [
            (material.names.term("check", check), level) for check, level in sorted(access.items())
        ],
        "covers": [(wording.words(item), cover) for item, cover in sorted(covers.items())],
        "cautions_here": dangers,
        "cases": material.listed(cases),
    }


def _rules(
    told: list[str], opening: Iterable[str], measuring: Iterable[str]
) -> list[tuple[str, list[str]]]:
    """What to read before the cover comes off and before power goes on, each sentence once."""
    rules = []
    for head, texts in (
        ("Before you open it", opening),
        ("Before you measure with power on", measuring),
    ):
        new = [text for text in texts if text not in told]
        told = [*told, *new]
        if new:
            rules.append((head, new))
    return rules


def _nominal(chain: tuple[Family, ...]) -> list[NominalView]:
    """The nominal readings, a family's own before its line's for the same point and state."""
    found = {(entry.at, entry.state): entry for f in reversed(chain) for entry in f.nominal}
    return [
        NominalView(entry.at, wording.nominal(entry), wording.words(entry.state or ""))
        for entry in found.values()
    ]
