"""Quantities: a number and a unit, read strictly and converted safely.

Unit symbols after the SI brochure (BIPM, 9th edition); `min`, `h`, `d`, `%`, `dB`, `rpm` beside it.
"""

from __future__ import annotations

import math
import re

from kb.notes.case import Quantity
from kb.notes.vocabulary import nearest

_PREFIXES = {"p": 1e-12, "n": 1e-9, "µ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}
_PREFIXED = {
    "V": "mµk", "A": "mµ", "Ω": "mkMG", "W": "mµk", "Hz": "mkM", "F": "mµnp", "H": "mµ",
    "s": "mµ", "m": "mµk", "N": "mk", "Pa": "k",
}  # fmt: skip
_PLAIN: dict[str, tuple[str, float]] = {
    "min": ("s", 60.0), "h": ("s", 3600.0), "d": ("s", 86400.0),
    "°C": ("°C", 1.0), "%": ("%", 1.0), "dB": ("dB", 1.0), "dBu": ("dBu", 1.0),
    "VA": ("VA", 1.0), "cm": ("m", 0.01), "cm/s": ("m/s", 0.01), "mm/s": ("m/s", 0.001),
    "m/s": ("m/s", 1.0), "g": ("g", 1.0), "kg": ("g", 1000.0), "rpm": ("rpm", 1.0),
    "mN·m": ("N·m", 0.001), "°": ("°", 1.0), "cent": ("cent", 1.0), "lx": ("lx", 1.0),
}  # fmt: skip

UNITS: dict[str, tuple[str, float]] = dict(_PLAIN)
"""unit symbol -> (base unit, factor to it)"""
for _base, _allowed in _PREFIXED.items():
    UNITS[_base] = (_base, 1.0)
    for _prefix in _allowed:
        UNITS[_prefix + _base] = (_base, _PREFIXES[_prefix])

_SPELLINGS = {"ohm": "Ω", "ohms": "Ω", "Ohm": "Ω", "R": "Ω", "degC": "°C", "mins": "min"}
_SPELLINGS |= {"hours": "h", "hour": "h", "minutes": "min", "minute": "min", "sec": "s"}
_SPELLINGS |= {f"{p}{o}": f"{p}Ω" for p in "mkMG" for o in ("ohm", "Ohm")}

_SHAPE = re.compile(r"([+-]?[0-9]+(?:[.,][0-9]+)*(?:[eE][+-]?[0-9]+)?)\s*(\S.*)?")
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
LONGEST = 60


class UnitError(Exception):
    """Text that is no quantity. `reason` is a sentence, `suggestion` a better spelling."""

    def __init__(self, text: str, reason: str, suggestion: str | None = None) -> None:
        super().__init__(reason)
        self.text = text
        self.reason = reason
        self.suggestion = suggestion


def read_quantity(text: str, base: str | None = None) -> Quantity:
    """Read `312 V`, `0.08 Ω` or `12 min`.

    `base` restricts the dimension by its base unit, such as "s" for a time or "V".
    Raises UnitError with the reason.
    """
    if len(text) > LONGEST:
        raise UnitError(text, f"'{text[:LONGEST]}…' is far too long for a number with a unit")
    match = _SHAPE.fullmatch(text.strip())
    if not match:
        raise UnitError(text, f"'{text}' is not a number with a unit, such as 312 V")
    number, unit = match.group(1), match.group(2)
    if "," in number:
        better = f"{number.replace(',', '.')} {unit or ''}".strip()
        raise UnitError(
            text, f"'{text}' has a comma: write decimals with a point and no thousands mark",
            better if _COMMA.fullmatch(number) else None,
        )  # fmt: skip
    if number.count(".") > 1:
        raise UnitError(text, f"'{number}' is not a number")
    if unit is None:
        raise UnitError(text, f"'{text}' has no unit")
    symbol = canonical_unit(unit)
    if symbol is None:
        raise UnitError(text, f"'{unit}' is no unit", nearest(unit, [*UNITS, *_SPELLINGS]))
    if base is not None and UNITS[symbol][0] != base:
        raise UnitError(text, f"'{text}' is not in {base}, nor in a unit that converts to it")
    value = float(number)
    if not math.isfinite(value * max(UNITS[symbol][1], 1.0)):
        raise UnitError(text, f"'{number}' is too large")
    return Quantity(value, symbol)


def canonical_unit(unit: str) -> str | None:
    """The standard symbol of a unit, accepting `ohm` for Ω and `u` for µ; None if it is none."""
    symbol = unit.replace("\u03bc", "µ").replace("\u2126", "Ω")
    if symbol in UNITS:
        return symbol
    if symbol in _SPELLINGS:
        return _SPELLINGS[symbol]
    if symbol.startswith("u") and "µ" + symbol[1:] in UNITS:
        return "µ" + symbol[1:]
    return None


def in_base(quantity: Quantity) -> tuple[float, str]:
    """The value in the base unit of its dimension, and that unit: 3.3 kΩ gives (3300.0, "Ω")."""
    base, factor = UNITS[quantity.unit]
    return quantity.value * factor, base


def in_minutes(quantity: Quantity) -> float:
    """A time in minutes. Raises UnitError for anything else."""
    value, base = in_base(quantity)
    if base != "s":
        raise UnitError(str(quantity), f"'{quantity}' is not a time")
    return value / 60.0
