"""Which units are comparable, and how a cause stands here beside there.

Comparable are, for a cause whose item a family `has`, all families that have it; for any other
cause, all families of the same kind. What is asked about (one family, or several taken together)
never counts among its own comparables.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
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
_NOWHERE: Mapping[int, int] = {}


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


class _Side(NamedTuple):
    """Families that are held against one pool, with their visits; and what of the pool is theirs.

    `inside` are all families of the pool that are asked about, whether held against it or not.
    """

    pool: _Pool
    held: frozenset[int]
    visits: int
    inside: frozenset[int]
    inside_visits: int


class _Sides(NamedTuple):
    """Several families together, what each of them is held against, and all of that together."""

    members: frozenset[int]
    visits: int
    each: tuple[_Side, ...]
    others: frozenset[int]
    others_visits: int


class Comparables:
    """The families of a book, each known by its place in the list."""

    def __init__(self, families: Sequence[FamilyVisits]) -> None:
        self._families = families
        self._own = [own_cases(f) for f in families]
        self._visits = [f.total for f in families]
        self._by_cause: dict[str, dict[int, int]] = defaultdict(dict)
        for i, own in enumerate(self._own):
            for cause, n in own.items():
                self._by_cause[cause][i] = n
        self._known_sides: dict[tuple[tuple[int, ...], str], _Sides] = {}
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

    def visits(self, families: Iterable[int]) -> int:
        """The visits of these families together."""
        return sum(self._visits[i] for i in families)

    def showing(self, members: Collection[int], cause: str) -> int:
        """How many of these families have a case of a cause that no mishap brought on."""
        return sum(1 for i in members if self._own[i].get(cause))

    def standing(self, members: Collection[int], cause: str) -> Standing:
        """How the cause stands in these families together beside units comparable to them.

        Each family is held against its own comparables and what is expected of them is added up;
        families without comparables are left out on both sides.
        """
        if len(members) == 1:
            return self._alone(next(iter(members)), cause)
        sides = self._sides(tuple(sorted(members)), _item(cause))
        here = self._by_cause.get(cause, _NOWHERE)
        found = sum(n for i, n in here.items() if i in sides.members)
        own = 0
        expected = spread = 0.0
        for side in sides.each:
            inside = sum(n for i, n in here.items() if i in side.inside)
            count, cases = side.pool.cases[cause] - inside, side.pool.visits - side.inside_visits
            elsewhere = (self._book.cases[cause] - found) / (self._book.visits - sides.visits)
            backing, rate = _rate(count, cases, elsewhere)
            own += sum(n for i, n in here.items() if i in side.held)
            expected += side.visits * rate
            spread += (side.visits * rate) ** 2 / backing
        if not sides.others:
            return Standing(found)
        counted = sum(n for i, n in here.items() if i in sides.others), sides.others_visits
        if own + counted[0] == 0 or not any(side.visits for side in sides.each):
            return Standing(own, *counted)
        # A sum of gamma distributed rates, taken for one with the same mean and variance.
        return Standing(own, *counted, Pair(own, expected, expected * expected / spread))

    def _sides(self, members: tuple[int, ...], item: str) -> _Sides:
        """What these families are held against, the same for all causes of an item."""
        known = self._known_sides.get((members, item))
        if known is not None:
            return known
        pools: dict[int, tuple[_Pool, list[int]]] = {}
        for family in members:
            pool = self._pool(family, item)
            if pool is not None:
                pools.setdefault(id(pool), (pool, []))[1].append(family)
        group = frozenset(members)
        each = []
        others: set[int] = set()
        for pool, held in pools.values():
            inside = pool.families & group
            visits = self.visits(inside)
            if pool.visits == visits:
                continue  # none of another family's
            each.append(_Side(pool, frozenset(held), self.visits(held), inside, visits))
            others |= pool.families - group
        sides = self._known_sides[members, item] = _Sides(
            members=group,
            visits=self.visits(group),
            each=tuple(each),
            others=frozenset(others),
            others_visits=each[0].pool.visits - each[0].inside_visits
            if len(each) == 1
            else self.visits(others),
        )
        return sides

    def _alone(self, family: int, cause: str) -> Standing:
        """The same of one family, as the fit asks it of thousands of pairs."""
        own, visits = self._own[family].get(cause, 0), self._visits[family]
        pool = self._pool(family, _item(cause))
        if pool is None or pool.visits == visits:
            return Standing(own)
        count, cases = pool.cases[cause] - own, pool.visits - visits
        if own + count == 0 or not visits:
            return Standing(own, count, cases)
        elsewhere = (self._book.cases[cause] - own) / (self._book.visits - visits)
        backing, rate = _rate(count, cases, elsewhere)
        return Standing(own, count, cases, Pair(own, visits * rate, backing))

    def _pool(self, family: int, item: str) -> _Pool | None:
        known = self._families[family]
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
