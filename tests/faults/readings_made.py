"""Readings made on the spot."""

from __future__ import annotations

from kb.values_readings import Taken


def taken(value: float, mains: float | None = 230.0, **keys) -> Taken:
    """A healthy reading in V at the first filter of a drover, each of a case of its own."""
    number = keys.pop("number", None)
    case = keys.pop("case", f"C{number if number is not None else abs(hash((value, mains)))}")
    base = {
        "case": case, "family": "drover", "serial": None, "received": "2024-01-01",
        "finished": True, "well": True, "modified": (), "at": "first-filter", "unit": "V",
        "when": "as-left", "state": "idle",
    }  # fmt: skip
    return Taken(**{**base, **keys}, value=value, mains=mains)


def left(values, mains=None, **keys) -> list[Taken]:
    """Healthy readings; `mains` one for all, or one each."""
    each = mains if isinstance(mains, (list, tuple)) else [mains or 230.0] * len(values)
    return [
        taken(value, at_mains, number=i, **keys)
        for i, (value, at_mains) in enumerate(zip(values, each, strict=True))
    ]
