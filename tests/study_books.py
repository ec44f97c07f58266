"""Books with enough finished visits that some of them can be studied."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from invented_source import HOSTILE, InventedSource, hostile_source
from msgspec.structs import replace

from kb.notes.case import Case, CheckMade, Fault

CAUSES = ("carbon-resistor/noisy", "joint/cracked", "electrolytic-capacitor/high-esr")


def visit(number: int, **changes: Any) -> Case:
    """One of many visits, a week apart, each done within five days."""
    day = dt.date(2015, 1, 1) + dt.timedelta(weeks=number)
    fault = Fault(
        symptom=("hum",) if number % 3 else ("crackle-when-warm",),
        checks=(
            CheckMade("swap-lead", "no-change", 2),
            CheckMade(
                "look-inside", "clean" if number % 2 else "bulging-can", 6, "C1", "as it was"
            ),
        ),
        root_cause=CAUSES[number % len(CAUSES)],
        fix=("replace",),
    )
    case = Case(
        case=f"N{number:04}",
        family="heron-20",
        received=day,
        complaint=f"Complaint {number}",
        path=f"cases/N{number:04}.md",
        faults=(fault,),
        finished=day + dt.timedelta(days=5),
        closed_as="repaired",
        unit=f"SECRET-{number}",
    )
    of_fault = {key: value for key, value in changes.items() if key in Fault.__struct_fields__}
    of_case = {key: value for key, value in changes.items() if key not in of_fault}
    return replace(case, faults=(replace(fault, **of_fault), *case.faults[1:]), **of_case)


def source(cases: Iterable[Case], hide: Iterable[str] = ()) -> InventedSource:
    made = InventedSource(hide=tuple(hide))
    made._cases = list(cases)
    return made


def hostile_book() -> InventedSource:
    """Thirty visits with `HOSTILE` in whatever a person wrote of them."""
    made = hostile_source()
    fault = visit(0).faults[0]
    bad = replace(
        fault,
        checks=tuple(replace(c, at=HOSTILE, note=HOSTILE) for c in fault.checks),
        at=HOSTILE,
        confirmed_by=HOSTILE,
        brought_on_by=HOSTILE,
        fix=(HOSTILE,),
        reproduced=HOSTILE,
        seen=("noise",),
        absent=("dead",),
    )
    made._cases = [
        replace(
            visit(n, root_cause=CAUSES[n % len(CAUSES)]),
            complaint=f"{n} {HOSTILE}",
            built=HOSTILE,
            modified=(HOSTILE,),
            faults=(replace(bad, root_cause=CAUSES[n % len(CAUSES)]),),
        )
        for n in range(30)
    ]
    return made
