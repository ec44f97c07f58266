"""The order in which the shop usually makes its checks, read from its notes."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from msgspec import Struct

from kb.faults.prior import Lineage, Place
from kb.values import FaultRecord, UsualOrder

ENOUGH = 5
"""with fewer faults than this nothing usual can be read from them"""
RARELY = 0.15
"""a check made in a smaller share of the faults is no habit: judgement, no source"""


class Places(Struct, frozen=True):
    """Where checks stood among those made, over some faults.

    `sums` is check -> sum of its places (the first is 0), `made` check -> faults in which it was
    made, `faults` how many faults had any check made.
    """

    sums: Mapping[str, float]
    made: Mapping[str, float]
    faults: int


def usual_order(
    records: Sequence[FaultRecord],
    symptoms: Collection[str] = (),
    family: str | None = None,
    lineage: Lineage | None = None,
) -> UsualOrder | None:
    """The shop's usual order for such a fault: by the mean place of each check among those made.

    It rests on the finished faults that were noted with any of these `symptoms` (or with one that
    is a kind of them) in units of the same kind; where those are fewer than `ENOUGH`, on all with
    such a symptom, else on all of the kind, else on the whole book. None in a book with fewer
    than `ENOUGH` faults of which checks were noted. Checks made in few of them are left out.
    """
    told = [r for r in records if r.cause and r.checks]
    places = lineage or {}
    kind = places.get(family, Place()).kind if family else None

    def akin(record: FaultRecord) -> bool:
        own = places.get(record.family, Place()).kind
        return record.family == family or (kind is not None and own == kind)

    like = [r for r in told if not r.symptoms.isdisjoint(symptoms)]
    of_kind = [r for r in told if akin(r)]
    for rests_on, chosen in (
        ("symptoms-and-kind", [r for r in like if akin(r)]),
        ("symptoms", like),
        ("kind", of_kind),
        ("book", told),
    ):
        if len(chosen) >= ENOUGH:
            return order_of(places_of(chosen), rests_on)
    return None


def places_of(records: Iterable[FaultRecord]) -> Places:
    """Tally the places of the checks in these faults."""
    sums: dict[str, float] = {}
    made: dict[str, float] = {}
    faults = 0
    for record in records:
        faults += bool(record.checks)
        for place, (check, _) in enumerate(record.checks):
            sums[check] = sums.get(check, 0.0) + place
            made[check] = made.get(check, 0.0) + 1.0
    return Places(sums, made, faults)


def order_of(places: Places, rests_on: str) -> UsualOrder:
    """The checks by their mean place; of two at the same place, the one made more often first."""
    usual = [check for check, n in places.made.items() if n >= RARELY * places.faults]
    usual.sort(key=lambda c: (places.sums[c] / places.made[c], -places.made[c], c))
    return UsualOrder(checks=tuple(usual), faults=places.faults, rests_on=rests_on)
