"""The owner's sheet of a case: one page, printable, for the person whose unit it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from kb.notes.case import Case
from kb.site.addresses import case_page, sheet_page
from kb.site.material import Material
from kb.site.render import Page


def pages(material: Material) -> Iterator[Page]:
    """One sheet per closed case; that of a case on the bench would be out of date by evening."""
    for case in material.ledger.cases:
        if case.is_open:
            continue
        family = material.names.term("family", case.family).text
        yield Page(
            path=sheet_page(case.case),
            template="owner-sheet.html",
            title=f"Owner’s sheet {case.case}",
            description=f"Owner’s sheet of case {case.case}: {family}, in plain words.",
            section="cases",
            values=partial(_values, material, case),
            basis=partial(_basis, material, case),
        )


def _basis(material: Material, case: Case) -> object:
    return case, material.owner_checks(case)


def _values(material: Material, case: Case) -> Mapping[str, object]:
    return {
        "layout": "base.html",
        "sheet": material.owner_sheet(case),
        "case_page": case_page(case.case),
    }
