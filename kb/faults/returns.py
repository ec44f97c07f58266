"""Which repairs came back, and how often each sort of repair holds.

A unit that never returns says that the repair held, or that its owner went elsewhere: the bench
cannot tell, so what is counted is comebacks to this bench.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from kb.faults.part_names import key, named
from kb.faults.proportions import wilson
from kb.faults.survival import product_limit
from kb.values_history import Comeback, Comebacks, FaultFound, Holding, HoldStep, Visit


class Fixed(NamedTuple):
    """One fault that was put right, the `place`th of its visit, and what brought it back if any."""

    visit: Visit
    place: int
    fault: FaultFound
    out: dt.date
    back: Visit | None = None
    how: str = ""

    @property
    def days(self) -> int | None:
        """Days from going out to coming back; None if it did not come back."""
        return None if self.back is None else max((self.back.received - self.out).days, 0)


_Sort = tuple[str | None, str | None, str | None, str | None]
"""cause, fix, part, batch"""
_SortsOf = Callable[[FaultFound], Sequence[_Sort]]


def latest_date(visits: Iterable[Visit]) -> dt.date | None:
    """The latest date in the book: up to there every repair was followed.

    Not today's, so that the same notes always give the same answer.
    """
    dates = (d for v in visits for d in (v.received, v.finished, v.returned) if d is not None)
    return max(dates, default=None)


def fixed_faults(visits: Sequence[Visit], days: int) -> list[Fixed]:
    """Every fault that was put right, with the visit that brought it back, if any did.

    A later visit whose note names the earlier one (`comeback_of`) is a comeback of it however late
    it is; it counts for the faults that share a cause or a symptom with it, or for all if none
    does. Any other later visit of the same unit within `days` of going out is a comeback of the
    latest repair that shares a cause with it, else of the latest that shares a symptom. Of several
    comebacks of one repair the first counts.

    Args:
        visits: all visits of the book, in the order of receipt.
        days: how long a repair has to hold.
    """
    by_number = {v.case.casefold(): v for v in visits}
    earlier: dict[tuple[str, str], list[Visit]] = defaultdict(list)
    back: dict[tuple[str, int], tuple[Visit, str]] = {}
    for visit in visits:
        if visit.comeback_of:
            named = by_number.get(visit.comeback_of.casefold())
            found = _named(named, visit) if named else None
        else:
            found = _inferred(earlier[visit.key], visit, days) if visit.key else None
        if found:
            of, places, how = found
            for place in places:
                back.setdefault((of.case, place), (visit, how))
        if visit.key:
            earlier[visit.key].append(visit)
    return [
        Fixed(visit, place, fault, visit.out, *back.get((visit.case, place), (None, "")))
        for visit in visits
        if visit.out is not None
        for place, fault in enumerate(visit.faults)
        if _put_right(visit, fault)
    ]


def comebacks(
    fixed: Sequence[Fixed], as_of: dt.date | None, days: int, labels: Mapping[str, str]
) -> Comebacks:
    """What came back, and how each sort of repair holds, worst first.

    Args:
        fixed: the repairs asked for, as from `fixed_faults`.
        as_of: to which day they were followed.
        days: how long a repair has to hold.
        labels: cause -> what to call it; a cause without a label goes by its key.
    """
    return Comebacks(
        days=days,
        as_of=as_of,
        overall=_judged((None, None, None, None), fixed, as_of, days, labels),
        course=_course(fixed, as_of),
        comebacks=_listed(fixed),
        causes=holdings(fixed, as_of, days, labels, lambda f: (_by(f),)),
        fixes=holdings(fixed, as_of, days, labels, lambda f: (_by(f, fix=_work(f)),)),
        parts=holdings(
            fixed,
            as_of,
            days,
            labels,
            lambda f: [(None, None, named(p.part).name, None) for p in f.parts],
        ),
        batches=holdings(fixed, as_of, days, labels, batches_of),
    )


def batches_of(fault: FaultFound) -> list[_Sort]:
    """The parts with a batch that were fitted for a fault."""
    return [(None, None, named(p.part).name, p.batch) for p in fault.parts if p.batch]


def holdings(
    fixed: Sequence[Fixed],
    as_of: dt.date | None,
    days: int,
    labels: Mapping[str, str],
    sorts_of: _SortsOf,
) -> tuple[Holding, ...]:
    """How each sort of repair holds; worst first, by the upper end of what its share can be."""
    groups: dict[_Sort, list[Fixed]] = defaultdict(list)
    spelt: dict[_Sort, _Sort] = {}
    alike: dict[_Sort, _Sort] = {}
    for one in fixed:
        met = set()
        for sort in sorts_of(one.fault):
            same = alike.get(sort)
            if same is None:
                same = alike[sort] = _alike(sort)
            if same not in met:
                met.add(same)
                groups[spelt.setdefault(same, sort)].append(one)
    judged = [_judged(sort, ones, as_of, days, labels) for sort, ones in groups.items()]
    return tuple(sorted(judged, key=_worst_first))


def _named(earlier: Visit, later: Visit) -> tuple[Visit, list[int], str] | None:
    if earlier.out is None or earlier.case == later.case:
        return None
    places, _ = _shared(earlier, later)
    return earlier, places or list(range(len(earlier.faults))), "named"


def _inferred(
    earlier: Sequence[Visit], later: Visit, days: int
) -> tuple[Visit, list[int], str] | None:
    recent = [
        (visit, *_shared(visit, later))
        for visit in reversed(earlier)
        if visit.out is not None and 0 <= (later.received - visit.out).days <= days
    ]
    for wanted in ("same cause", "same symptom"):
        for visit, places, how in recent:
            if how == wanted:
                return visit, places, how
    return None


def _shared(earlier: Visit, later: Visit) -> tuple[list[int], str]:
    """The faults of the earlier visit that the later one brought back, and by what it shows."""
    causes = {f.root_cause for f in later.faults if f.root_cause}
    symptoms = {s for f in later.faults for s in f.symptoms}
    right = [(i, f) for i, f in enumerate(earlier.faults) if _put_right(earlier, f)]
    by_cause = [i for i, f in right if f.root_cause in causes]
    if by_cause:
        return by_cause, "same cause"
    by_symptom = [i for i, f in right if f.symptoms & symptoms]
    return by_symptom, "same symptom" if by_symptom else ""


def _put_right(visit: Visit, fault: FaultFound) -> bool:
    return visit.repaired and fault.root_cause is not None and fault.fix != ("none",)


def _by(fault: FaultFound, fix: str | None = None) -> _Sort:
    return (fault.root_cause, fix, None, None)


def _work(fault: FaultFound) -> str:
    return " + ".join(sorted(fault.fix)) or "not noted"


def _alike(sort: _Sort) -> _Sort:
    """The sort with its part spelt so that case and spaces don't matter."""
    cause, fix, part, batch = sort
    return cause, fix, part and key(part), batch and key(batch)


def _judged(
    sort: _Sort,
    ones: Sequence[Fixed],
    as_of: dt.date | None,
    days: int,
    labels: Mapping[str, str],
) -> Holding:
    cause, fix, part, batch = sort
    followed = [f for f in ones if as_of is not None and (as_of - f.out).days >= days]
    held = sum(f.back is None for f in followed)
    return Holding(
        cause=cause,
        label=labels.get(cause, cause) if cause else part or "all repairs",
        fix=fix,
        part=part,
        batch=batch,
        fixes=len(ones),
        followed=len(followed),
        held=held,
        came_back=sum(f.back is not None for f in ones),
        share=held / len(followed) if followed else None,
        interval=wilson(held, len(followed)),
    )


def _worst_first(h: Holding) -> tuple[bool, float, float, int, str, str, str]:
    share = 1.0 if h.share is None else h.share
    last = (h.label, h.fix or "", h.batch or "")
    return (h.share is None, h.interval[1], share, -h.fixes, *last)


def _course(fixed: Sequence[Fixed], as_of: dt.date | None) -> tuple[HoldStep, ...]:
    if as_of is None:
        return ()
    return product_limit(
        (f.days, True) if f.days is not None else ((as_of - f.out).days, False) for f in fixed
    )


def _listed(fixed: Sequence[Fixed]) -> tuple[Comeback, ...]:
    pairs: dict[tuple[str, str], list[Fixed]] = defaultdict(list)
    for one in fixed:
        if one.back is not None:
            pairs[one.visit.case, one.back.case].append(one)
    found = [
        Comeback(
            case=case,
            back_as=back_as,
            family=ones[0].visit.family,
            unit=ones[0].visit.unit,
            causes=tuple(dict.fromkeys(f.fault.root_cause for f in ones if f.fault.root_cause)),
            days=ones[0].days or 0,
            how=ones[0].how,
        )
        for (case, back_as), ones in pairs.items()
    ]
    return tuple(sorted(found, key=lambda c: (c.days, c.case)))
