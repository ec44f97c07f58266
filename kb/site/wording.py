"""How the pages put values: dates, times, shares, and the note format's keys in plain words."""

from __future__ import annotations

import datetime as dt
import math
import re

from kb.notes.case import Case, Quantity
from kb.notes.units import UNITS
from kb.notes.vocabulary import Nominal
from kb.values_weak import WeakPoint

THIN = "\N{NARROW NO-BREAK SPACE}"
KEPT = "\N{NO-BREAK SPACE}"
_SYMBOLS = "|".join(map(re.escape, sorted(UNITS, key=len, reverse=True)))
UNIT_NEXT = re.compile(rf"(?:{_SYMBOLS})(?![\w°])")
_BEFORE_UNIT = re.compile(rf"(?<=\d)[ \n](?={UNIT_NEXT.pattern})")
_AROUND_TOLERANCE = re.compile(r"[ \n](?=±\s?\d)|(?<=±)[ \n](?=\d)")
_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec"]

ACCESS = {
    "outside": "Cover on",
    "open": "Cover off, power off",
    "live": "Cover off, power on",
}
CLOSED_AS = {
    "repaired": "Repaired",
    "no-fault-found": "No fault found",
    "declined": "Declined by the owner",
    "beyond-repair": "Beyond repair",
    "referred": "Referred elsewhere",
}
WAITING = {
    "parts": "On the bench, waiting for parts",
    "owner": "On the bench, waiting for the owner",
    "time": "On the bench, waiting for time",
}
_WORDS = {
    "as-found": "as found",
    "as-left": "as left",
    "can-wait": "can wait",
    "now": "needed now",
    "asked": "not answered yet",
    "earlier-repair": "an earlier repair",
    "misuse": "misuse",
    "yes": "every time",
    "no": "not on the bench",
    "not-showing": "fault not showing",
}


def words(key: str) -> str:
    """A key as plain words: `no-change` is "no change"."""
    return _WORDS.get(key, key.replace("-", " "))


def sentence(text: str) -> str:
    """The text with its first letter as a capital."""
    return text[:1].upper() + text[1:]


def day(date: dt.date) -> str:
    """A date for reading: 4 Mar 2024."""
    return f"{date.day} {_MONTHS[date.month - 1]} {date.year}"


def minutes(value: float) -> str:
    """A time on the bench: `55 min`, `1 h 20 min`."""
    whole = round(value)
    if whole < 60:
        return f"{value:g}{THIN}min" if value < 10 else f"{whole}{THIN}min"
    hours, rest = divmod(whole, 60)
    return f"{hours}{THIN}h" + (f" {rest}{THIN}min" if rest else "")


def percent(share: float) -> str:
    """A share as whole per cent; what is not nought never reads as nought."""
    if 0 < share < 0.005:
        return f"<{THIN}1{THIN}%"
    if 0.995 < share < 1:
        return f">{THIN}99{THIN}%"
    return f"{share * 100:.0f}{THIN}%"


def price(value: float, currency: str) -> str:
    """A price with its ISO 4217 code: `GBP 90`, `GBP 12.50`."""
    figure = f"{value:.0f}" if value == round(value) else f"{value:.2f}"
    return f"{currency}{KEPT}{figure}" if currency else figure


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun: `1 case`, `3 cases`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(items: list[str]) -> str:
    """Items as a phrase: `a, b and c`."""
    return " and ".join([", ".join(items[:-1]), items[-1]] if len(items) > 1 else items)


def state(case: Case) -> str:
    """Where a case stands: on the bench, or how it was closed."""
    if case.is_open:
        return WAITING.get(case.waiting or "", "On the bench")
    return CLOSED_AS.get(case.closed_as or "", "Finished")


def quantity(value: Quantity) -> str:
    """A number with its unit, on one line and with a true minus sign: `−34 V`."""
    return f"{value.value:g}".replace("-", "−") + f"{KEPT}{value.unit}"


def kept_together(text: str) -> str:
    """A text whose numbers are not parted from their units, nor a tolerance from its value.

    Unit symbols are those of `kb.notes.units`; only spaces change, and become no-break ones.
    """
    if "±" in text:
        text = _AROUND_TOLERANCE.sub(KEPT, text)
    return _BEFORE_UNIT.sub(KEPT, text)


def nominal(entry: Nominal) -> str:
    """What a test point should read: `312 V ± 10 %`; the tolerance does not stand alone."""
    if entry.tolerance is None:
        return quantity(entry.value)
    return f"{quantity(entry.value)}{KEPT}±{KEPT}{quantity(entry.tolerance)}"


def against_comparable(weak: WeakPoint, visits: int) -> str:
    """A weak point as a bench hand says it: `7 of 19 here, 2 of 60 in comparable units`."""
    here = f"{weak.count} of {visits} here"
    if not weak.comparable_cases:
        return f"{here}, no comparable units in the book"
    return f"{here}, {weak.comparable_count} of {weak.comparable_cases} in comparable units"


def compared(weak: WeakPoint, visits: int) -> str:
    """What comparable units would lead one to expect, and how far this is from it."""
    if not weak.comparable_cases:
        return "There is nothing comparable in the book to hold it against."
    if not weak.own:
        return "Brought on by mishaps alone, which say nothing of the units."
    least = f", {_at_least(weak.ratio_low)} with 95{THIN}% probability" if weak.flag else ""
    return (
        f"{sentence(_about(weak.expected))} of {visits} visits expected from comparable units. "
        f"Allowing for small numbers it comes {_times(weak)}{least}."
    )


def chance(p: float) -> str:
    """A p-value for reading: `p = 0.004`, never nought."""
    return f"p{KEPT}<{KEPT}0.001" if p < 0.001 else f"p{KEPT}={KEPT}{p:.3f}"


def _about(expected: float) -> str:
    """An expected count as one would say it: a tenth of a visit more or less means nothing."""
    if expected < 0.1:
        return "about 0"
    return "fewer than 1" if expected < 0.75 else f"about {expected:.0f}"


def _times(weak: WeakPoint) -> str:
    if not weak.flag and 0.8 <= weak.ratio <= 1.25:
        return "about as often here as there"
    figure = f"{weak.ratio:.0f}" if weak.ratio >= 3 else f"{max(weak.ratio, 0.1):.1f}"
    return f"some {figure} times as often here as there"


def _at_least(bound: float) -> str:
    """A lower bound above 1, rounded down so that what is said of it stays true."""
    floor = math.floor(bound) if bound >= 2 else math.floor(bound * 10) / 10
    return f"at least {floor:g} times" if floor > 1 else "more often"
