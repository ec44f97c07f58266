"""What is asked about by the name of a family, a line, a maker or a kind."""

from __future__ import annotations

from collections.abc import Collection

from msgspec.structs import replace

from kb.errors import QuestionError
from kb.notes.vocabulary import Vocabulary
from kb.terms import did_you_mean, with_kinds
from kb.values_weak import FamilyGroup, WeakPoints

FEWEST_MEMBERS = 2
"""A group of which only one family was ever here says nothing that the family doesn't."""


class Asked:
    """What a name means: families to answer for, and groups."""

    def __init__(self, families: Collection[str], groups: list[FamilyGroup]) -> None:
        self.families = frozenset(families)
        self.groups = groups


def meant(words: Vocabulary, name: str) -> Asked:
    """Everything that goes by this name; letter case aside for makers and kinds.

    Raises QuestionError for a name of nothing.
    """
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
    return Asked(families, found)


def wanted(words: Vocabulary, here: Collection[str], asked: Asked | None) -> list[FamilyGroup]:
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


def shown(answer: WeakPoints, asked: Asked | None) -> WeakPoints:
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
