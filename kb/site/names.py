"""What each term and each case is called, and which page it has."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct

from kb.notes.case import Case
from kb.notes.vocabulary import Term, Vocabulary
from kb.site.addresses import case_page, term_page


class Link(Struct, frozen=True):
    """Words that lead to a page of the site; `page` is None where there is none."""

    text: str
    page: str | None = None


class Names:
    """Labels and pages of a book's terms and cases. A key that is unknown is its own label."""

    def __init__(self, vocabulary: Vocabulary, cases: Iterable[Case]) -> None:
        self._terms: dict[str, Mapping[str, Term]] = {
            "family": vocabulary.families,
            "symptom": vocabulary.symptoms,
            "cause": vocabulary.causes,
            "check": vocabulary.checks,
        }
        self._cases = {case.case: case for case in cases}
        self._links: dict[tuple[str, str], Link] = {}
        self.numbers = self._cases.keys()
        """of the cases that have a page"""
        self.page_of_note = {case.path: case_page(case.case) for case in self._cases.values()}
        self.page_of_note |= {
            f"families/{key}.md": term_page("family", key) for key in vocabulary.families
        }

    def term(self, kind: str, key: str) -> Link:
        """A term of one of `kb.site.addresses.KINDS`, with its label."""
        if (kind, key) not in self._links:
            term = self._terms[kind].get(key)
            page = term_page(kind, key) if term else None
            self._links[kind, key] = Link(term.label if term else key, page)
        return self._links[kind, key]

    def case(self, number: str) -> Link:
        """A case by its number."""
        return Link(number, case_page(number) if number in self._cases else None)

    def narrower(self, kind: str, key: str) -> list[str]:
        """The keys whose parent is `key`, by label."""
        found = [term for term in self._terms[kind].values() if term.parent == key]
        return [term.key for term in sorted(found, key=lambda term: (term.label.lower(), term.key))]
