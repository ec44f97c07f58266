"""The columns of a cause's years: how many visits a family had, and how many with the cause."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

SHOWN = 10
"""columns; years before them stand together in the first"""
_WIDE = 5
"""characters of the longest label that fits above a column of a full chart on a telephone"""


class Column(Struct, frozen=True):
    """One year: `label` is its last two figures, heights are in per cent of the tallest."""

    label: str
    count: int
    visits: int
    left: str
    middle: str
    height: str
    top: str
    with_cause: str
    with_cause_top: str


class Years(Struct, frozen=True):
    """All columns; `width` is that of each, `brief` leaves the visits out of their labels."""

    columns: tuple[Column, ...]
    width: str
    brief: bool
    said: str


def years(visits: Mapping[int, int], found: Mapping[int, int]) -> Years | None:
    """Every year from the first visit to the last; None where there is only one."""
    if not visits:
        return None
    rows = [
        (str(y), found.get(y, 0), visits.get(y, 0)) for y in range(min(visits), max(visits) + 1)
    ]
    if len(rows) < 2:
        return None
    if len(rows) > SHOWN:
        early, rows = rows[: 1 - SHOWN], rows[1 - SHOWN :]
        rows.insert(0, (f"to {early[-1][0]}", sum(r[1] for r in early), sum(r[2] for r in early)))
    most = max(n for _, _, n in rows)
    step = 100 / len(rows)
    columns = tuple(
        Column(
            label=f"’{label[-2:]}" if label.isdigit() else f"–’{label[-2:]}",
            count=count,
            visits=n,
            left=f"{place * step + step * 0.18:.2f}%",
            middle=f"{place * step + step * 0.5:.2f}%",
            height=f"{100 * n / most:.2f}%",
            top=f"{100 - 100 * n / most:.2f}%",
            with_cause=f"{100 * count / most:.2f}%",
            with_cause_top=f"{100 - 100 * count / most:.2f}%",
        )
        for place, (label, count, n) in enumerate(rows)
    )
    said = "; ".join(f"{label}: {count} of {n}" for label, count, n in rows)
    brief = max(len(f"{count}/{n}") for _, count, n in rows) > _WIDE
    return Years(columns, f"{step * 0.64:.2f}%", brief, f"Visits with it by year: {said}")
