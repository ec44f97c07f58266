"""The values of the owner's sheet: one visit told to the person whose unit it is.

Field names are the keys of the JSON contract (`docs/json.md`). Texts are plain, without markup;
dates ISO 8601, prices in the book's currency. A text that the note does not give is empty.
"""

from __future__ import annotations

import datetime as dt

from msgspec import Struct


class Explained(Struct, frozen=True):
    """A term of the trade and what it means; `words` is empty where nobody wrote what it means."""

    label: str
    words: str = ""


class SheetFault(Struct, frozen=True):
    """One fault: what was noticed, what it was, what was done about it and how that is known."""

    symptoms: tuple[str, ...]
    cause: Explained | None = None
    place: str = ""
    brought_on_by: str = ""
    damage: tuple[Explained, ...] = ()
    """what the fault took with it"""
    done: str = ""
    parts: tuple[str, ...] = ()
    confirmed: str = ""


class SheetOffer(Struct, frozen=True):
    """Work that was offered. `said` is its urgency and the owner's answer in words."""

    do: str
    price: float | None = None
    urgency: str | None = None
    owner: str | None = None
    said: str = ""
    for_safety: bool = False
    """work that protects somebody, or without which the unit must not be used"""


class SheetMeasured(Struct, frozen=True):
    """One safety measurement: what it is in plain words, and its value with the unit."""

    what: str
    value: str


class SheetCheck(Struct, frozen=True):
    """Something that an owner can check without opening anything."""

    check: str
    label: str
    how: str = ""
    cautions: tuple[str, ...] = ()


class OwnerSheet(Struct, frozen=True):
    """Everything on the owner's sheet of one case, with what the book hides already taken out."""

    case: str
    book: str
    family: str
    """the family's label"""
    received: dt.date
    open: bool
    state: str
    """where it stands, in a sentence or two"""
    currency: str = ""
    kind: str = ""
    unit: str | None = None
    built: str | None = None
    finished: dt.date | None = None
    returned: dt.date | None = None
    complaint: str = ""
    faults: tuple[SheetFault, ...] = ()
    found_too: tuple[Explained, ...] = ()
    """put right on the way, though nobody complained of it"""
    proved: str = ""
    recommended: tuple[SheetOffer, ...] = ()
    can_wait: tuple[SheetOffer, ...] = ()
    declined: tuple[SheetOffer, ...] = ()
    declined_safety: tuple[SheetOffer, ...] = ()
    safety: tuple[SheetMeasured, ...] = ()
    safety_result: str | None = None
    """`pass` or `fail`"""
    safety_said: str = ""
    keep_off: tuple[str, ...] = ()
    """why it must not be plugged in; empty where nothing in the note says so"""
    checks: tuple[SheetCheck, ...] = ()
    checks_said: str = ""
    keep_closed: tuple[str, ...] = ()
    glossary: tuple[Explained, ...] = ()
