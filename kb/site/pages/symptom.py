"""The page of a symptom: what to do first, and what it turned out to be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from kb.notes.vocabulary import Symptom
from kb.site import wording
from kb.site.addresses import term_page
from kb.site.ledger import ranked
from kb.site.material import Caution, Material
from kb.site.names import Link
from kb.site.pages.chart import charts_of_symptom
from kb.site.render import Page


def pages(material: Material) -> Iterator[Page]:
    """One page per symptom."""
    for symptom in material.vocabulary.symptoms.values():
        count = wording.counted(len(material.ledger.by_symptom[symptom.key]), "case")
        yield Page(
            path=term_page("symptom", symptom.key),
            template="symptom.html",
            title=symptom.label,
            description=f"Symptom: {symptom.label}. First checks, and the causes of {count}.",
            section="symptoms",
            values=partial(_values, material, symptom),
        )


def _values(material: Material, symptom: Symptom) -> Mapping[str, object]:
    causes = material.ledger.causes_of_symptom[symptom.key]
    return {
        "symptom": symptom,
        "broader": material.links("symptom", [symptom.parent] if symptom.parent else []),
        "narrower": material.links("symptom", material.names.narrower("symptom", symptom.key)),
        "first": [_first_check(material, check) for check in symptom.first],
        "causes": [(material.names.term("cause", key), count) for key, count in ranked(causes)],
        "total": causes.total(),
        "fault_charts": charts_of_symptom(material, symptom.key),
        "cases": material.listed(material.ledger.by_symptom[symptom.key]),
    }


def _first_check(material: Material, check: str) -> tuple[Link, str, tuple[Caution, ...]]:
    term = material.vocabulary.checks.get(check)
    return (
        material.names.term("check", check),
        term.access if term else "outside",
        material.hazard_cautions(term.hazards if term else ()),
    )
