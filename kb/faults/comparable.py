"""Which units are comparable, and how a cause stands here beside there.

Comparable are, for a cause whose item a family `has`, all families that have it; for any other
cause, all families of the same kind. What is asked about (one family, or several taken together)
never counts among its own comparables.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from kb.faults.mishaps import MISHAPS
from kb.faults.shrinkage import Pair
from kb.values_weak import FamilyVisits

# "Never seen in comparable units" must not read as "cannot happen", and few comparable units must
# not be taken at their word. So they count as a quarter more than they are, at the rate of the
# rest of the book, but no more than ten visits more; and as having had a twentieth of a case more.
EXTRA_PART = 0.25
EXTRA_VISITS = 10.0
EXTRA_CASES = 0.05


class Standing(NamedTuple):
    """A cause's own cases beside those of comparable units; `pair` is None if there are none."""

    own: int
    comparable_count: int = 0
    comparable_cases: int = 0
    pair: Pair | None = None


class _Pool(NamedTuple):
    """Families that are comparable to each other: their visits, and cause -> own cases."""

    families: frozenset[int]
    visits: int
    cases: Counter[str]


class Comparables:
    """The families of a book, each known by its place in the list."""

    def __init__(self, families: Sequence[FamilyVisits]) -> None:
        self._families = families
        self._own = [own_cases(f) for f in families]
        self._visits = [f.total for f in families]
        self._by_item = [_by_item(own) for own in self._own]
        everyone = range(len(families))
        self._book = self._together(everyone)
        self._kinds = {
            kind: self._together(i for i in everyone if families[i].kind == kind)
            for kind in {f.kind for f in families if f.kind is not None}
        }
        self._items = {
            item: self._together((i for i in everyone if item in families[i].has), item)
            for item in {item for f in families for item in f.has}
        }

    def causes(self, family: int) -> set[str]:
        """Every cause that was found in this family or in units comparable to it."""
        return set(self._candidates(self._families[family]))

    def own(self, family: int, cause: str) -> int:
        """The family's cases of a cause without those that a mishap brought on."""
        return self._own[family][cause]

    def standing(self, members: Collection[int], cause: str) -> Standing:
        """How the cause stands in these families together beside units comparable to them.

        Each family is held against its own comparables and what is expected of them is added up;
        families without comparables are left out on both sides.
        """
        if len(members) == 1:
            return self._alone(next(iter(members)), cause)
        pools: dict[int, tuple[_Pool, list[int]]] = {}
        for family in members:
            pool = self._pool(family, cause)
            if pool is not None:
                pools.setdefault(id(pool), (pool, []))[1].append(family)
        found, everywhere = self._sum(members, cause)
        own = visits = 0
        expected = spread = 0.0
        others: set[int] = set()
        for pool, of_pool in pools.values():
            inside_count, inside_cases = self._sum(pool.families.intersection(members), cause)
            count, cases = pool.cases[cause] - inside_count, pool.visits - inside_cases
            if not cases:
                continue
            elsewhere = (self._book.cases[cause] - found) / (self._book.visits - everywhere)
            backing, rate = _rate(count, cases, elsewhere)
            mine, here = self._sum(of_pool, cause)
            own += mine
            visits += here
            expected += here * rate
            spread += (here * rate) ** 2 / backing
            others |= pool.families.difference(members)
        counted = self._sum(others, cause)
        if not others:
            return Standing(found)
        if own + counted[0] == 0 or not visits:
            return Standing(own, *counted)
        # A sum of gamma distributed rates, taken for one with the same mean and variance.
        return Standing(own, *counted, Pair(own, expected, expected * expected / spread))

    def _alone(self, family: int, cause: str) -> Standing:
        """The same of one family, as the fit asks it of thousands of pairs."""
        own, visits = self._own[family].get(cause, 0), self._visits[family]
        pool = self._pool(family, cause)
        if pool is None or pool.visits == visits:
            return Standing(own)
        count, cases = pool.cases[cause] - own, pool.visits - visits
        if own + count == 0 or not visits:
            return Standing(own, count, cases)
        elsewhere = (self._book.cases[cause] - own) / (self._book.visits - visits)
        backing, rate = _rate(count, cases, elsewhere)
        return Standing(own, count, cases, Pair(own, visits * rate, backing))

    def _sum(self, families: Collection[int], cause: str) -> tuple[int, int]:
        """The own cases of some families, and their visits."""
        cases = visits = 0
        for i in families:
            cases += self._own[i].get(cause, 0)
            visits += self._visits[i]
        return cases, visits

    def _pool(self, family: int, cause: str) -> _Pool | None:
        known = self._families[family]
        item = _item(cause)
        if item in known.has:
            return self._items[item]
        return None if known.kind is None else self._kinds[known.kind]

    def _candidates(self, family: FamilyVisits) -> Iterator[str]:
        yield from family.found
        if family.kind is not None:
            yield from self._kinds[family.kind].cases
        for item in family.has:
            yield from self._items[item].cases

    def _together(self, members: Iterator[int] | range, item: str | None = None) -> _Pool:
        """Add up families, and their cases of all causes or of those of one item."""
        families = frozenset(members)
        cases: Counter[str] = Counter()
        for i in families:
            own = self._own[i]
            for cause in own if item is None else self._by_item[i].get(item, ()):
                cases[cause] += own[cause]
        return _Pool(families, sum(self._visits[i] for i in families), cases)


def _rate(count: int, cases: int, elsewhere: float) -> tuple[float, float]:
    """What stands behind a rate of comparable units, and the rate, with the extra visits."""
    extra = min(EXTRA_PART * cases, EXTRA_VISITS)
    backing = count + EXTRA_CASES + extra * elsewhere
    return backing, backing / (cases + extra)


def own_cases(family: FamilyVisits) -> Counter[str]:
    """Count the cases of each cause without those that a mishap brought on."""
    cases: Counter[str] = Counter()
    for cause, by_year in family.found.items():
        brought_on = family.brought_on.get(cause, {})
        mishaps = sum(n for what, n in brought_on.items() if what in MISHAPS)
        cases[cause] = max(sum(by_year.values()) - mishaps, 0)
    return cases


def _by_item(cases: Counter[str]) -> dict[str, list[str]]:
    """What failed -> the causes in which it did."""
    found: dict[str, list[str]] = {}
    for cause in cases:
        found.setdefault(_item(cause), []).append(cause)
    return found


def _item(cause: str) -> str:
    """Give what failed: the first half of a cause key `item/mechanism`."""
    return cause.partition("/")[0]
