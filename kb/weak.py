"""Weak points: counted by the database, judged by the statistics, named by the vocabulary."""

from __future__ import annotations

from collections import Counter

from kb.faults.weak_points import MISHAPS
from kb.faults.weak_points import weak_points as judge
from kb.indexing import Index
from kb.notes.vocabulary import Vocabulary
from kb.store import visits
from kb.store.database import Connection
from kb.terms import with_kinds
from kb.values import FamilyVisits, WeakPoints


def weak_points(index: Index, words: Vocabulary, family: str | None = None) -> WeakPoints:
    """What keeps failing in `family`, in the families of a line, or in every family.

    Families that were never on the bench are left out.
    """
    with index.store.reading() as connection:
        counted = family_visits(connection, words)
    labels = {c.key: c.label for c in words.causes.values()}
    every = judge(counted, labels)
    if family is None:
        return every
    asked = with_kinds("family", family, words.families)
    return WeakPoints(tuple(f for f in every.families if f.family in asked))


def family_visits(connection: Connection, words: Vocabulary) -> list[FamilyVisits]:
    """The finished visits of each family with the causes found in them."""
    by_year = visits.visits_by_year(connection)
    found = visits.causes_by_year(connection)
    brought_on = visits.brought_on(connection)
    came_back = visits.comebacks(connection)
    return [
        FamilyVisits(
            family=key,
            label=term.label,
            kind=words.kind_of(key),
            has=words.items_of(key),
            visits=by_year.get(key, {}),
            found=found.get(key, {}),
            comebacks=came_back.get(key, {}),
            brought_on={
                cause: Counter(_one_of(bys) for bys in each)
                for cause, each in brought_on.get(key, {}).items()
            },
        )
        for key, term in words.families.items()
        if key in by_year
    ]


def _one_of(bys: list[str]) -> str:
    """What a visit counts under where several things are noted: one that is no mishap, if any."""
    return next((by for by in bys if by not in MISHAPS), bys[0])
