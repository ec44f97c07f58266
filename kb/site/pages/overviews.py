"""The pages that list everything of one kind."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from itertools import groupby

from msgspec import Struct

from kb.notes.case import Case
from kb.notes.vocabulary import ACCESS, Term, Vocabulary
from kb.site import wording
from kb.site.material import Material
from kb.site.names import Link
from kb.site.render import Page

ON_ONE_PAGE = 400
"""with more cases than this, each year has a page of its own"""
Years = Sequence[tuple[int, Sequence[Case]]]


class Branch(Struct, frozen=True):
    """A term with the number of its cases and what is narrower."""

    term: Link
    count: int
    narrower: tuple[Branch, ...]


def pages(material: Material) -> Iterator[Page]:
    """The lists of cases, families, symptoms, causes and checks."""
    vocabulary, ledger = material.vocabulary, material.ledger
    counted = wording.counted(len(ledger.cases), "case")
    years = [(year, list(c)) for year, c in groupby(ledger.cases, lambda case: case.received.year)]
    apart = len(ledger.cases) > ON_ONE_PAGE
    yield Page(
        "cases.html", "cases.html", "Cases", f"All {counted} of this book, by year.", "cases",
        partial(_latest if apart else _cases, material, "Cases", years),
    )  # fmt: skip
    for year, cases in years if apart else ():
        of_year = wording.counted(len(cases), "case")
        yield Page(
            f"years/{year}.html", "cases.html", f"Cases of {year}", f"The {of_year} of {year}.",
            "cases", partial(_cases, material, f"Cases of {year}", [(year, cases)]),
        )  # fmt: skip
    for section, kind, about, tallies, terms in (
        ("families", "family", "Model families and lines", ledger.by_family, vocabulary.families),
        ("symptoms", "symptom", "What can be seen, heard, smelt or measured", ledger.by_symptom,
         vocabulary.symptoms),
        ("causes", "cause", "What physically failed", ledger.by_cause, vocabulary.causes),
    ):  # fmt: skip
        counts = {key: len(cases) for key, cases in tallies.items()}
        yield Page(
            f"{section}.html", "tree.html", section.capitalize(),
            f"{about}: {wording.counted(len(terms), 'entry', 'entries')}.", section,
            partial(_tree, material, kind, about, terms, counts),
        )  # fmt: skip
    yield Page(
        "checks.html", "checks.html", "Checks", "What can be tried, by what has to be open for it.",
        "checks", partial(_checks, material, vocabulary),
    )  # fmt: skip


def _cases(material: Material, heading: str, years: Years) -> Mapping[str, object]:
    shown = [(str(year), material.rows(cases)) for year, cases in years]
    return {"heading": heading, "pages": (), "years": shown}


def _latest(material: Material, heading: str, years: Years) -> Mapping[str, object]:
    """The way to the pages of the years, and the newest cases."""
    return {
        "heading": heading,
        "pages": [(year, len(cases)) for year, cases in years],
        "years": [("The latest", material.listed(material.ledger.cases).rows)],
    }


def _tree(
    material: Material,
    kind: str,
    about: str,
    terms: Mapping[str, Term],
    counts: Mapping[str, int],
) -> Mapping[str, object]:
    def branch(key: str) -> Branch:
        narrower = tuple(map(branch, material.names.narrower(kind, key)))
        return Branch(material.names.term(kind, key), counts.get(key, 0), narrower)

    tops = [term for term in terms.values() if term.parent not in terms]
    tops.sort(key=lambda term: (term.label.lower(), term.key))
    return {"about": about, "branches": [branch(term.key) for term in tops]}


def _checks(material: Material, vocabulary: Vocabulary) -> Mapping[str, object]:
    checks = sorted(vocabulary.checks.values(), key=lambda check: (check.label.lower(), check.key))
    rows = [
        (
            check,
            material.names.term("check", check.key),
            len(material.ledger.by_check[check.key]),
            material.hazard_cautions(check.hazards),
        )
        for check in checks
    ]
    return {
        "levels": [(level, [row for row in rows if row[0].access == level]) for level in ACCESS]
    }
