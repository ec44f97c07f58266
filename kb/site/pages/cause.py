"""The page of a cause: how to prove it, where it was found, and how it showed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from kb.notes.vocabulary import Cause
from kb.site import wording
from kb.site.addresses import term_page
from kb.site.ledger import ranked
from kb.site.material import Material
from kb.site.names import Link
from kb.site.pages.rules import levels_for
from kb.site.render import Page


def pages(material: Material) -> Iterator[Page]:
    """One page per cause."""
    for cause in material.vocabulary.causes.values():
        count = wording.counted(len(material.ledger.by_cause[cause.key]), "case")
        yield Page(
            path=term_page("cause", cause.key),
            template="cause.html",
            title=cause.label,
            description=f"Cause: {cause.label}. How to prove it, and {count} that had it.",
            section="causes",
            values=partial(_values, material, cause),
        )


def _values(material: Material, cause: Cause) -> Mapping[str, object]:
    ledger, names = material.ledger, material.names
    cases = ledger.by_cause[cause.key]
    return {
        "cause": cause,
        "broader": material.links("cause", [cause.parent] if cause.parent else []),
        "narrower": [
            (names.term("cause", key), len(ledger.by_cause[key]))
            for key in names.narrower("cause", cause.key)
        ],
        "covers": _covers(material, cause),
        "cautions_here": material.hazard_cautions(cause.hazards),
        "rules": [
            (level, material.cautions.access.get(level, ())) for level in levels_for(cause.hazards)
        ],
        "families": [
            (names.term("family", key), count, len(ledger.by_family[key]))
            for key, count in ranked(ledger.families_of_cause[cause.key])
        ],
        "symptoms": [
            (names.term("symptom", key), count)
            for key, count in ranked(ledger.symptoms_of_cause[cause.key])
        ],
        "cases": material.listed(cases),
        "as_damage": material.listed(ledger.as_damage[cause.key]),
        "found_too": material.listed(ledger.found_too[cause.key]),
    }


def _covers(material: Material, cause: Cause) -> list[tuple[Link, str]]:
    """Families in which something else has to come off than the vocabulary says in general."""
    special = []
    for family in material.vocabulary.families:
        cover = material.vocabulary.cover_of(cause.key, family)
        if cover and cover != cause.cover:
            special.append((material.names.term("family", family), cover))
    return special
