"""Visits made on the spot, for the tests of the history of units."""

from __future__ import annotations

import datetime as dt

from kb.values_history import CheckTimed, FaultFound, PartFitted, Visit

START = dt.date(2020, 1, 1)


def day(number: int) -> dt.date:
    """The so-many-th day of the tests' calendar."""
    return START + dt.timedelta(days=number)


def fault(cause: str | None = "fuse/blown", **keys: object) -> FaultFound:
    """A fault; `parts` are names or (name, batch), `minutes_of_checks` those of one check."""
    parts = tuple(
        PartFitted(p) if isinstance(p, str) else PartFitted(*p) for p in keys.pop("parts", ())
    )
    minutes = keys.pop("minutes_of_checks", None)
    checks = (CheckTimed("look", minutes),) if minutes else ()
    keys.setdefault("fix", ("replace",) if cause else ())
    return FaultFound(root_cause=cause, parts=parts, checks=checks, **keys)


def visit(case: str, came: int, *faults: FaultFound, out: int | None = -1, **keys: object) -> Visit:
    """A visit received on day `came` and returned on day `out`: two later if not said, None: open."""
    keys.setdefault("family", "drover")
    keys.setdefault("unit", "U1")
    gone = came + 2 if out == -1 else out
    when = None if gone is None else day(gone)
    return Visit(
        case=case,
        received=day(came),
        finished=when,
        returned=when,
        faults=faults or (fault(),),
        **keys,
    )
