"""The page of a check: how it is made, what it showed, and everything to beware of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from statistics import median

from msgspec import Struct

from kb.notes.vocabulary import STATES, CheckTerm
from kb.site import wording
from kb.site.addresses import term_page
from kb.site.ledger import ranked
from kb.site.material import Material
from kb.site.names import Link
from kb.site.pages.rules import rules_of, stricter, topics_of
from kb.site.render import Page


class OutcomeView(Struct, frozen=True):
    """One outcome of a check: how often it was seen, and the causes found after it."""

    outcome: str
    count: int
    causes: tuple[tuple[Link, int], ...]


def pages(material: Material) -> Iterator[Page]:
    """One page per check."""
    for check in material.vocabulary.checks.values():
        access = wording.ACCESS.get(check.access, check.access).lower()
        yield Page(
            path=term_page("check", check.key),
            template="check.html",
            title=check.label,
            description=f"Check: {check.label}, {access}. How to make it and what it showed.",
            section="checks",
            values=partial(_values, material, check),
        )


def _values(material: Material, check: CheckTerm) -> Mapping[str, object]:
    families = {
        key: level
        for key, family in material.vocabulary.families.items()
        if (level := family.access.get(check.key))
    }
    page = term_page("check", check.key)
    spent = material.ledger.minutes_of_check[check.key]
    return {
        "check": check,
        "how": material.prose.html(check.how, "vocabulary/checks.yaml", page) if check.how else "",
        "broader": material.links("check", [check.parent] if check.parent else []),
        "narrower": material.links("check", material.names.narrower("check", check.key)),
        "needs": [
            Link(wording.words(need)) if need in STATES else material.names.term("check", need)
            for need in check.needs
        ],
        "stricter": stricter(material, check),
        "families": [(material.names.term("family", k), v) for k, v in sorted(families.items())],
        "first_for": material.links(
            "symptom",
            sorted(k for k, s in material.vocabulary.symptoms.items() if check.key in s.first),
        ),
        "spent": median(spent) if spent else None,
        "spent_times": len(spent),
        "outcomes": _outcomes(material, check),
        "cautions_here": material.hazard_cautions(check.hazards),
        "rules": list(rules_of(material, check)),
        "topics": topics_of(material, check),
        "cases": material.listed(material.ledger.by_check[check.key]),
    }


def _outcomes(material: Material, check: CheckTerm) -> list[OutcomeView]:
    seen = material.ledger.outcomes_of_check[check.key]
    unseen = [(outcome, 0) for outcome in check.outcomes if outcome not in seen]
    return [
        OutcomeView(
            outcome=wording.sentence(wording.words(outcome)),
            count=count,
            causes=tuple(
                (material.names.term("cause", key), n)
                for key, n in ranked(material.ledger.causes_of_outcome[check.key, outcome])
            ),
        )
        for outcome, count in (*ranked(seen), *unseen)
    ]
