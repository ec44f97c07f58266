"""Weak points: counted by the database, judged by the statistics, named by the vocabulary."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from typing import TypeVar

from msgspec.structs import replace

from kb.errors import QuestionError
from kb.faults.mishaps import MISHAPS
from kb.faults.weak_points import became_flagged
from kb.faults.weak_points import weak_points as judge
from kb.indexing import Index
from kb.notes.vocabulary import Vocabulary
from kb.store import visits
from kb.store.database import Connection
from kb.terms import did_you_mean, with_kinds
from kb.values_weak import FamilyGroup, FamilyVisits, WeakPoints

_T = TypeVar("_T")
FEWEST_MEMBERS = 2
"""A group of which only one family was ever here says nothing that the family doesn't."""


def weak_points(
    index: Index,
    words: Vocabulary,
    name: str | None = None,
    since: dt.date | None = None,
) -> WeakPoints:
    """What keeps failing in a family, a line, or what one maker or of one kind was made; or in all.

    With a name that means several things the answer is of each. A family of which few visits are
    known brings its line along. Families that were never on the bench are left out. With `since`,
    also what became a weak point since the book as it stood on that date.

    Raises QuestionError for a name that is no family, line, maker or kind.
    """
    asked = None if name is None else _meant(words, name)
    with index.store.reading() as connection:
        now = family_visits(connection, words)
        then = None if since is None else family_visits(connection, words, since)
    here = [f.family for f in now if f.total]
    wanted = _wanted(words, here, asked)
    labels = {c.key: c.label for c in words.causes.values()}
    only = None if asked is None else asked.families
    answer = _shown(judge(now, labels, only, wanted), asked)
    if then is None:
        return answer
    # Of then only what has a flag now needs to be known.
    flagged = {
        (f.sort, f.family, cause.cause)
        for f in (*answer.families, *answer.groups)
        for cause in f.causes
        if cause.flag
    }
    families = {key for sort, key, _ in flagged if sort == "family"}
    sorts = {(sort, key) for sort, key, _ in flagged}
    groups = [group for group in wanted if (group.sort, group.key) in sorts]
    before = judge(then, labels, families, groups, flagged)
    return replace(answer, since=since, new=became_flagged(answer, before))


def family_visits(
    connection: Connection, words: Vocabulary, before: dt.date | None = None
) -> list[FamilyVisits]:
    """The finished visits of each family with the causes found in them; those before a date."""
    by_year = visits.visits_by_year(connection, before)
    found = visits.causes_found(connection, before)
    came_back = visits.comebacks(connection, before)
    return [
        _counted(words, key, by_year[key], found.get(key, {}), came_back.get(key, {}))
        for key in words.families
        if key in by_year
    ]


def _counted(
    words: Vocabulary,
    family: str,
    by_year: dict[int, int],
    found: dict[str, list[visits.Found]],
    came_back: dict[str, int],
) -> FamilyVisits:
    return FamilyVisits(
        family=family,
        label=words.families[family].label,
        kind=words.kind_of(family),
        has=words.items_of(family),
        visits=by_year,
        found={cause: _counts([v.year for v in each]) for cause, each in found.items()},
        comebacks=came_back,
        brought_on={
            cause: _counts([_one_of(sorted(bys)) for bys in said])
            for cause, each in found.items()
            if (said := [v.brought_on for v in each if v.brought_on])
        },
        places={cause: [v.places for v in each if v.places] for cause, each in found.items()},
    )


def _counts(what: list[_T]) -> dict[_T, int]:
    """As `Counter`, which takes several times as long to set up for the few of one cause."""
    found: dict[_T, int] = {}
    for one in what:
        found[one] = found.get(one, 0) + 1
    return found


class _Asked:
    """What a name means: families to answer for, and groups."""

    def __init__(self, families: Collection[str], groups: list[FamilyGroup]) -> None:
        self.families = frozenset(families)
        self.groups = groups


def _meant(words: Vocabulary, name: str) -> _Asked:
    """Everything that goes by this name; letter case aside for makers and kinds."""
    lines, makers, kinds = _lines(words), _makers(words), _kinds(words)
    found = [g for g in lines if g.key == name]
    found += [g for g in (*makers, *kinds) if _folded(g.key) == _folded(name)]
    families = {f for g in found for f in g.families}
    if name in words.families:
        families.add(name)
    if not families:
        known = [*words.families, *(g.key for g in (*makers, *kinds))]
        raise QuestionError(
            f"unknown family, line, maker or kind '{name}'",
            did_you_mean(name, known) or "see vocabulary/families.yaml for those it knows",
        )
    return _Asked(families, found)


def _wanted(words: Vocabulary, here: Collection[str], asked: _Asked | None) -> list[FamilyGroup]:
    """The groups to answer for: those asked for, or all with several families that were here.

    Of one family alone its lines, nearest first: they are shown where it has too few visits.
    """
    if asked is None:
        return [
            group
            for group in (*_lines(words), *_makers(words), *_kinds(words))
            if len(group.families.intersection(here)) >= FEWEST_MEMBERS
        ]
    if asked.groups or len(asked.families) != 1:
        return asked.groups
    (family,) = asked.families
    above = [term.key for term in words.family_chain(family)[1:]]
    lines = {group.key: group for group in _lines(words)}
    return [lines[key] for key in above if key in lines]


def _shown(answer: WeakPoints, asked: _Asked | None) -> WeakPoints:
    """Without a line that was not asked for, unless it takes the place of too few visits."""
    if asked is None or asked.groups:
        return answer
    known = sum(f.cases for f in answer.families)
    instead = (g for g in answer.groups if g.cases > known and not g.too_few)
    few = all(f.too_few for f in answer.families)
    return replace(answer, groups=tuple(instead)[:1] if few else ())


def _lines(words: Vocabulary) -> list[FamilyGroup]:
    parents = {term.parent for term in words.families.values()}
    return [
        FamilyGroup(key, term.label, "line", frozenset(with_kinds("family", key, words.families)))
        for key, term in words.families.items()
        if key in parents
    ]


def _makers(words: Vocabulary) -> list[FamilyGroup]:
    return _grouped("maker", {key: words.maker_of(key) for key in words.families})


def _kinds(words: Vocabulary) -> list[FamilyGroup]:
    return _grouped("kind", {key: words.kind_of(key) for key in words.families})


def _grouped(sort: str, of: dict[str, str | None]) -> list[FamilyGroup]:
    members: dict[str, set[str]] = {}
    for family, name in of.items():
        if name:
            members.setdefault(name, set()).add(family)
    return [
        FamilyGroup(name, name.replace("-", " ") if sort == "kind" else name, sort, frozenset(its))
        for name, its in sorted(members.items())
    ]


def _folded(name: str) -> str:
    return " ".join(name.replace("-", " ").split()).casefold()


def _one_of(bys: list[str]) -> str:
    """What a visit counts under where several things are noted: one that is no mishap, if any."""
    return next((by for by in bys if by not in MISHAPS), bys[0])
