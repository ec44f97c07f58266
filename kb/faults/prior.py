"""How likely each cause is before any evidence: family, backed off to line, kind and book.

One formula serves known and unknown causes (the two-parameter family of Pitman & Yor 1997, in
the hierarchical form of Teh 2006, every table counted once). At each level, from the book down,

    P(c) = max(n_c - d, 0) / (N + theta) + (theta + d T) / (N + theta) * P_above(c)

where N = sum of n_c and T is the number of causes known there. A family counts faults; a level
above counts for c how many of its children know c. Above the book everything is unseen.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from msgspec import Struct

from kb.faults.strengths import Strengths

Level = Literal["kind", "line", "family"]
Node = tuple[tuple[Level, str], ...]
"""A place in the tree, as the way down to it; the book itself is the empty way."""
Tree = Mapping[Node, Mapping[str, float]]
"""node -> cause -> faults (a family) or children that know the cause (any other)"""


class Place(Struct, frozen=True):
    """Where a family stands: the lines it belongs to, nearest first, and its kind of unit."""

    lines: tuple[str, ...] = ()
    kind: str | None = None


Lineage = Mapping[str, Place]
"""family -> its place; a family that is missing hangs directly below the book"""


class Prior(Struct, frozen=True):
    """Probabilities before the evidence; with `unseen` they sum to 1.

    `size` is N + theta of the level that was asked: how many faults the prior is worth there.
    """

    causes: Mapping[str, float]
    unseen: float
    size: float


def way_down(family: str | None, lineage: Lineage) -> list[Node]:
    """The nodes from the book down to the family; without a family only the book."""
    if family is None:
        return [()]
    place = lineage.get(family, Place())
    steps: list[tuple[Level, str]] = [("kind", place.kind)] if place.kind else []
    steps += [("line", line) for line in reversed(place.lines)]
    steps.append(("family", family))
    return [tuple(steps[:depth]) for depth in range(len(steps) + 1)]


def grow(faults: Mapping[str, Mapping[str, float]], lineage: Lineage) -> Tree:
    """The tables of every level from family -> cause -> faults."""
    tree: dict[Node, dict[str, float]] = {(): {}}
    for family, causes in faults.items():
        nodes = way_down(family, lineage)
        for cause, count in causes.items():
            step = count
            for node in reversed(nodes):
                table = tree.setdefault(node, {})
                known = cause in table
                table[cause] = table.get(cause, 0.0) + step
                if known:
                    break
                step = 1.0
    return tree


def prune(tree: Tree, family: str, cause: str, lineage: Lineage, weight: float = 1.0) -> Tree:
    """The same tree as if one fault with this cause in this family had never come in.

    `weight` is what the fault counted.
    """
    pruned = {**tree}
    less = weight
    for node in reversed(way_down(family, lineage)):
        table = {**pruned[node]}
        table[cause] -= less
        pruned[node] = table
        if table[cause] > 0:
            break
        del table[cause]
        less = 1.0
    return pruned


def prior(tree: Tree, family: str | None, lineage: Lineage, strengths: Strengths) -> Prior:
    """The back-off prior for a family, or for the whole book if `family` is None."""
    causes: dict[str, float] = {}
    unseen = 1.0
    size = strengths.book.theta
    for node in way_down(family, lineage):
        table = tree.get(node, {})
        level = getattr(strengths, node[-1][0]) if node else strengths.book
        theta, discount = level.theta, level.discount
        size = sum(table.values()) + theta
        taken = [discount if count > discount else count for count in table.values()]
        passed_up = (theta + sum(taken)) / size
        causes = {cause: passed_up * p for cause, p in causes.items()}
        unseen *= passed_up
        for (cause, count), less in zip(table.items(), taken, strict=True):
            causes[cause] = causes.get(cause, 0.0) + (count - less) / size
    return Prior(causes=causes, unseen=unseen, size=size)


def good_turing_unseen(counts: Iterable[float]) -> float:
    """The Good-Turing estimate that the next fault has a new cause: singletons over faults.

    A cross-check on `Prior.unseen`, not used by the ranking: in small families it is far too
    small. An empty book gives 1. Source: Good, Biometrika 40 (1953) 237-264.
    """
    seen = list(counts)
    total = sum(seen)
    return sum(1 for count in seen if count == 1) / total if total else 1.0
