"""Where parts went, whether the repair came back, and which units still carry them."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence

from kb.faults.part_names import key, named
from kb.faults.returns import Fixed, batches_of, fixed_faults, holdings, latest_date
from kb.values_history import BatchTrace, FaultFound, Fitting, PartFitted, Visit


def trace(
    visits: Sequence[Visit],
    parts: Sequence[str],
    asked: str,
    batch: str | None,
    days: int,
    labels: Mapping[str, str],
) -> BatchTrace:
    """Follow the parts of these names, all of them or those of one batch.

    A unit carries a part until a later visit of it fits a part of these names again, whatever its
    batch, or closes as beyond repair. A unit without a number cannot be followed.

    Args:
        visits: all visits of the book, in the order of receipt.
        parts: the names, as from `part_names.meant`.
        asked: the name that was asked for.
        batch: the batch, letter case and spacing aside; None for every batch and none.
        days: how long a repair has to hold.
        labels: cause -> what to call it.
    """
    keys = {key(p) for p in parts}
    wanted = key(batch) if batch is not None else None

    def meant(fitted: PartFitted) -> bool:
        of_batch = wanted is None or (fitted.batch and key(fitted.batch) == wanted)
        return named(fitted.part).key in keys and bool(of_batch)

    fixed = fixed_faults(visits, days)
    by_place = {(f.visit.case, f.place): f for f in fixed}
    ends = _ends(visits, keys)
    fittings = [
        _fitting(visit, fault, part, number, by_place.get((visit.case, place)), ends)
        for visit in visits
        for place, fault in enumerate(visit.faults)
        for part, number in _counted(fault, meant).items()
    ]
    fittings.sort(key=lambda f: (f.carried is not False, f.fitted, f.case), reverse=True)
    as_of = latest_date(visits)
    concerned = [f for f in fixed if any(meant(p) for p in f.fault.parts)]
    held = holdings(
        concerned,
        as_of,
        days,
        labels,
        lambda fault: [s for s in batches_of(fault) if meant(PartFitted(s[2] or "", s[3]))],
    )
    return BatchTrace(asked, batch, as_of, tuple(parts), tuple(fittings), held)


Meant = Callable[[PartFitted], bool]
_End = tuple[dt.date, str, str]
"""the day of the visit that ended it, its case, and how"""


def _ends(visits: Sequence[Visit], keys: set[str]) -> dict[tuple[str, str], list[_End]]:
    """For each unit, the visits that fitted such a part or ended the unit, in order."""
    found: dict[tuple[str, str], list[_End]] = defaultdict(list)
    for visit in visits:
        if visit.key is None:
            continue
        renewed = any(named(p.part).key in keys for f in visit.faults for p in f.parts)
        if renewed or visit.closed_as == "beyond-repair":
            how = "renewed" if renewed else "beyond-repair"
            found[visit.key].append((visit.received, visit.case, how))
    return found


def _counted(fault: FaultFound, meant: Meant) -> dict[PartFitted, int]:
    """Each part and batch once, with how many of it were fitted."""
    counts: dict[PartFitted, int] = defaultdict(int)
    for part in fault.parts:
        if meant(part):
            one = named(part.part)
            counts[PartFitted(one.name, part.batch)] += one.number
    return counts


def _fitting(
    visit: Visit,
    fault: FaultFound,
    part: PartFitted,
    number: int,
    fixed: Fixed | None,
    ends: Mapping[tuple[str, str], Sequence[_End]],
) -> Fitting:
    later = ends.get(visit.key, ()) if visit.key else ()
    end = next((e for e in later if (e[0], e[1]) > (visit.received, visit.case)), None)
    gone = visit.closed_as == "beyond-repair"
    back = fixed.back if fixed else None
    return Fitting(
        case=visit.case,
        fitted=visit.out or visit.received,
        family=visit.family,
        unit=visit.unit,
        part=part.part,
        batch=part.batch,
        number=number,
        at=fault.at,
        cause=fault.root_cause,
        came_back_as=back.case if back else None,
        came_back_days=fixed.days if fixed else None,
        carried=None if visit.key is None else not (end or gone),
        ended_by=visit.case if gone else end[1] if end else None,
        ended_how="beyond-repair" if gone else end[2] if end else None,
    )
