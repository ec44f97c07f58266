"""A reading in one line, as somebody at the bench types it: `first-filter=291 V @ 221 V, idle`."""

from __future__ import annotations

import re

from kb.notes.case import Quantity, Reading
from kb.notes.units import UnitError, read_quantity

SHAPE = "write POINT=VALUE, then '@ MAINS' and ', STATE' if known: first-filter=291 V @ 221 V, idle"
LONGEST = 300

# A comma between digits is a decimal comma, which is refused with a better spelling; any other
# comma begins the state.
_PARTS = re.compile(
    r"(?P<value>(?:[^@,]|(?<=\d),(?=\d))*)"
    r"(?:@(?P<mains>(?:[^@,]|(?<=\d),(?=\d))*))?"
    r"(?:,(?P<state>.*))?",
    re.DOTALL,
)
_NUMBER = re.compile(r"[+-]?[\d.]+(?:[eE][+-]?\d+)?")


class ReadingTextError(Exception):
    """Text that is no reading. `reason` is a sentence, `suggestion` a better spelling if one is."""

    shape = SHAPE

    def __init__(self, text: str, reason: str, suggestion: str | None = None) -> None:
        super().__init__(reason)
        self.text = text
        self.reason = reason
        self.suggestion = suggestion


def read_reading(text: str) -> Reading:
    """Read the test point, its value with a unit, and if given the mains in V and the state.

    The answer is a reading as found. Raises ReadingTextError with the reason.
    """
    if len(text) > LONGEST:
        raise ReadingTextError(text, f"'{text[:40]}…' is far too long for a reading")
    at, sign, rest = text.partition("=")
    at = " ".join(at.split())
    if not sign or not at:
        raise ReadingTextError(text, f"'{text}' does not say what was read where")
    parts = _PARTS.fullmatch(rest)
    if parts is None:
        raise ReadingTextError(text, f"'{text}' has more than one '@', or one behind the state")
    value = _quantity(text, at, parts["value"], None)
    mains = None if parts["mains"] is None else _quantity(text, at, parts["mains"], "V")
    if mains is not None and mains.value <= 0:
        raise ReadingTextError(text, f"mains of {mains} in '{text}': must be above 0")
    state = " ".join(parts["state"].split()) if parts["state"] else ""
    if "@" in state:
        before, _, after = (part.strip() for part in state.partition("@"))
        better = f"{at}={parts['value'].strip()} @ {after}, {before}" if mains is None else None
        raise ReadingTextError(text, f"'{text}' has '@' in the state: mains come first", better)
    return Reading(at, value, "as-found", state or None, mains)


def _quantity(text: str, at: str, part: str, base: str | None) -> Quantity:
    try:
        return read_quantity(part.strip(), base)
    except UnitError as fault:
        where = "the mains" if base else at
        better = None
        if fault.suggestion is not None:
            # A suggestion is a whole quantity, or only the unit that was meant.
            number = _NUMBER.match(part.strip())
            whole = fault.suggestion[:1].isdigit() or fault.suggestion[:1] in "+-"
            alone = number.group() if number else ""
            fixed = fault.suggestion if whole else f"{alone} {fault.suggestion}"
            point, sign, rest = text.partition("=")
            better = point + sign + rest.replace(part.strip(), fixed, 1)
        raise ReadingTextError(text, f"{where} in '{text}': {fault.reason}", better) from fault
