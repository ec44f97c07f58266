"""Which spares would have served the repairs of the last year."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from heapq import heapify, heappop, heappush
from typing import NamedTuple

from kb.faults.part_names import named
from kb.faults.returns import latest_date
from kb.values_history import Drawer, Spare, Visit

AIM = 0.8
"""The part of the repairs that counts as "most": judgement, no source."""
YEAR = dt.timedelta(days=365)


class _Repair(NamedTuple):
    """One visit that was repaired: how many of each part, by the part's key, and what for.

    `spelt` is how the note writes each part.
    """

    family: str
    parts: Counter[str]
    spelt: Mapping[str, str]
    causes: Mapping[str, set[str]]


def drawer(visits: Sequence[Visit], families: Collection[str], labels: Mapping[str, str]) -> Drawer:
    """Choose the spares that would have served most of the last year's repairs.

    A repair is served once every part it needed is in the drawer, so a drawer is more than a list
    of the commonest parts. The next part is the one that brings the open repairs furthest: each of
    them gives one vote, shared among the parts it still lacks. That is greedy, as for the covering
    of sets; on even votes the part used by more repairs comes first, then the first by name.

    Args:
        visits: all visits of the book. The year ends on the book's latest date.
        families: only these families; all if empty.
        labels: cause -> what to call it.

    Source of the greedy rule: V. Chvatal, "A greedy heuristic for the set-covering problem",
    Mathematics of Operations Research 4 (1979) 233-235; the shared vote is ours.
    """
    return Drawers(visits, labels).of(families)


class Drawers:
    """The repairs of the last year, looked through once for drawers of many families."""

    def __init__(self, visits: Sequence[Visit], labels: Mapping[str, str]) -> None:
        self._labels = labels
        self._until = latest_date(visits)
        self._since = self._until - YEAR if self._until else None
        self._repairs = [
            (visit.family, _needed(visit))
            for visit in visits
            if visit.repaired and visit.finished and self._since and visit.finished > self._since
        ]

    def of(self, families: Collection[str]) -> Drawer:
        """As `drawer`."""
        asked = frozenset(families)
        theirs = [r for family, r in self._repairs if not asked or family in asked]
        repairs = [repair for repair in theirs if repair is not None]
        spares = _in_order(repairs, self._labels)
        enough = next((i for i, s in enumerate(spares, 1) if s.coverage >= AIM), len(spares))
        return Drawer(
            since=self._since,
            until=self._until,
            families=tuple(families),
            repairs=len(repairs),
            without_parts=len(theirs) - len(repairs),
            aim=AIM,
            enough=enough,
            spares=tuple(spares),
        )


def _needed(visit: Visit) -> _Repair | None:
    parts: Counter[str] = Counter()
    spelt: dict[str, str] = {}
    causes: dict[str, set[str]] = defaultdict(set)
    for fault in visit.faults:
        for fitted in fault.parts:
            part = named(fitted.part)
            parts[part.key] += part.number
            spelt.setdefault(part.key, part.name)
            if fault.root_cause:
                causes[part.key].add(fault.root_cause)
    return _Repair(visit.family, parts, spelt, causes) if parts else None


def _in_order(repairs: Sequence[_Repair], labels: Mapping[str, str]) -> list[Spare]:
    users: dict[str, list[int]] = defaultdict(list)
    for i, repair in enumerate(repairs):
        for part in repair.parts:
            users[part].append(i)
    lacking = [set(repair.parts) for repair in repairs]
    votes = {part: sum(1 / len(lacking[i]) for i in of) for part, of in users.items()}

    def standing(part: str) -> tuple[float, int, str]:
        # Rounded, so that sums of thirds taken in another order are still even.
        return (-round(votes[part], 9), -len(users[part]), part)

    queue = [standing(part) for part in votes]
    heapify(queue)
    served, spares = 0, []
    while queue:
        best = heappop(queue)[2]
        if best not in votes:
            continue  # bought already: this was how it stood before it gained votes
        del votes[best]
        for i in users[best]:
            before = len(lacking[i])
            lacking[i].discard(best)
            for part in lacking[i]:
                votes[part] += 1 / (before - 1) - 1 / before
                heappush(queue, standing(part))
            served += before == 1
        using = [repairs[i] for i in users[best]]
        causes = Counter(labels.get(c, c) for r in using for c in r.causes[best])
        spares.append(
            Spare(
                part=using[0].spelt[best],
                repairs=len(using),
                fitted=sum(r.parts[best] for r in using),
                served=served,
                coverage=served / len(repairs),
                causes=tuple(sorted(causes, key=lambda c: (-causes[c], c))),
                families=tuple(sorted({r.family for r in using})),
            )
        )
    return spares
