"""What a case note says, as plain typed values.

One case is one visit of one unit to the bench. A note in the single-fault form and a note with a
`faults:` list give the same structure: a `Case` with one or more `Fault`s. Everything here is
frozen; a value that the note does not give is None or an empty tuple.
"""

from __future__ import annotations

import datetime as dt
import re

from msgspec import Struct

# CommonMark 0.31.2, 4.2 and 4.3: `#` needs a space after it; a title may be underlined instead.
_HASHES = re.compile(r" {0,3}#{1,6}(?=[ \t]|$)")
_OVER_A_LINE = re.compile(r" {0,3}[^\s#>*+-]")
_UNDERLINE = re.compile(r" {0,3}(?:=+|-+)[ \t]*")


class Quantity(Struct, frozen=True, array_like=True):
    """A number with its unit, as written (`312 V`); see `kb.notes.units` for conversion."""

    value: float
    unit: str

    def __str__(self) -> str:
        return f"{self.value:g} {self.unit}"


class CheckMade(Struct, frozen=True, omit_defaults=True):
    """One check with its outcome. `minutes` are hands on; `serves` are fault numbers from 1."""

    check: str
    outcome: str
    minutes: float | None = None
    at: str | None = None
    note: str | None = None
    serves: tuple[int, ...] = ()


class Part(Struct, frozen=True, omit_defaults=True):
    """A part that was fitted, with its batch where the note gives one."""

    part: str
    batch: str | None = None


class Reading(Struct, frozen=True, omit_defaults=True):
    """A measured value at a test point. `when` is `as-found` or `as-left`."""

    at: str
    value: Quantity
    when: str | None = None
    state: str | None = None
    mains: Quantity | None = None


class Proof(Struct, frozen=True, omit_defaults=True):
    """How the repair was checked: a run of some length, under what, and its result."""

    run: Quantity | None = None
    under: tuple[str, ...] = ()
    result: str | None = None


class Offer(Struct, frozen=True, omit_defaults=True):
    """Work offered to the owner. `price` is in the book's currency."""

    do: str
    price: float | None = None
    owner: str | None = None
    urgency: str | None = None


class SafetyCheck(Struct, frozen=True, omit_defaults=True):
    """Electrical safety measurements before return: (what, value) pairs and a result."""

    measured: tuple[tuple[str, Quantity], ...] = ()
    result: str | None = None


class Fault(Struct, frozen=True, omit_defaults=True):
    """One fault of a visit: its symptoms, the way it was found, its root cause and its fix.

    `symptom` was noted at the counter, `seen` on the bench, `absent` was looked for and not there.
    `onset` is the time from switching on to the fault, `every` the mean gap between showings.
    """

    symptom: tuple[str, ...] = ()
    seen: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    reproduced: str | None = None
    onset: Quantity | None = None
    every: Quantity | None = None
    checks: tuple[CheckMade, ...] = ()
    root_cause: str | None = None
    at: str | None = None
    confirmed_by: str | None = None
    brought_on_by: str | None = None
    took_with_it: tuple[str, ...] = ()
    fix: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    minutes: float | None = None


class Case(Struct, frozen=True, omit_defaults=True):
    """One visit of one unit. `path` is relative to the book; `body` is CommonMark.

    Nothing under the note's `private` key is ever kept here.
    """

    case: str
    family: str
    received: dt.date
    complaint: str
    path: str
    faults: tuple[Fault, ...]
    unit: str | None = None
    built: str | None = None
    modified: tuple[str, ...] = ()
    waiting: str | None = None
    finished: dt.date | None = None
    closed_as: str | None = None
    proved: Proof | None = None
    readings: tuple[Reading, ...] = ()
    safety: SafetyCheck | None = None
    offered: tuple[Offer, ...] = ()
    found_too: tuple[str, ...] = ()
    returned: dt.date | None = None
    comeback_of: str | None = None
    body: str = ""

    @property
    def title(self) -> str:
        """The heading that the body starts with, else the complaint."""
        return _heading(self.body) or self.complaint

    @property
    def is_open(self) -> bool:
        """True while the unit is still on the bench."""
        return self.finished is None

    @property
    def root_causes(self) -> tuple[str, ...]:
        """The root causes of its faults, in order, each once."""
        return tuple(dict.fromkeys(f.root_cause for f in self.faults if f.root_cause))

    @property
    def symptoms(self) -> tuple[str, ...]:
        """Every symptom noted at the counter or on the bench, each once."""
        return tuple(dict.fromkeys(s for f in self.faults for s in (*f.symptom, *f.seen)))


def _heading(body: str) -> str:
    """The text of the heading that a body starts with, empty if it starts with something else."""
    first = len(body) - len(body.lstrip())
    start = body.rfind("\n", 0, first) + 1
    line, _, rest = body[start:].partition("\n")
    hashes = _HASHES.match(line)
    if hashes:
        text = line[hashes.end() :].strip(" \t")
        bare = text.rstrip("#")
        return (text if bare.rstrip(" \t") == bare != "" else bare).strip()
    if _OVER_A_LINE.match(line) and _UNDERLINE.fullmatch(rest.partition("\n")[0]):
        return line.strip()
    return ""
