"""The causes of a family or a group told in the terminal: sentences, years drawn, and a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import click

from kb.cli.output import heading, say, width, wrapped
from kb.values_weak import (
    FEWEST_FOR_TREND,
    Change,
    FamilyWeakPoints,
    Trend,
    WeakPoint,
    quietly_rising,
)

SHOWN = 8
YEARS_SHOWN = 12
_PARTS = {2: "half", 3: "a third", 4: "a quarter", 5: "a fifth", 10: "a tenth"}


def show_causes(family: FamilyWeakPoints, everything: bool) -> None:
    """Print what stands out or is changing in sentences, the others in a table."""
    if not any(c.flag for c in family.causes):
        say("  No cause stands out.")
    told = [c for c in family.causes if c.flag or (everything and c.trend.direction != "steady")]
    for cause in told:
        _tell(family, cause, everything)
    if not everything:
        return
    known = {c.cause for c in told}
    others = [c for c in family.causes if c.cause not in known]
    if others:
        say()
        _show_others(family.cases, others[:SHOWN])
        if len(others) > SHOWN:
            say(f"  and {len(others) - SHOWN} more, each less telling; --csv and --json have all")


def show_rising(families: Sequence[FamilyWeakPoints]) -> None:
    """Print what is coming more often in some family without standing out there."""
    rising, looked_at = quietly_rising(families)
    if not rising:
        return
    heading("Coming more often than before, without standing out")
    for family, cause in rising[:SHOWN]:
        wrapped(f"{cause.label} in {family.label}: {beside(family.cases, cause)}", "    ", "  ")
        wrapped(f"{course(cause.trend)} ({cause.cause})", "    ")
    if len(rising) > SHOWN:
        say(f"  and {len(rising) - SHOWN} more; --csv and --json have all")
    say()
    wrapped(
        f"Looked at for this: {looked_at} causes found {FEWEST_FOR_TREND} times or more in a "
        "family. By chance alone about 1 in 40 of them looks like this.",
        "  ",
    )


def _show_others(cases: int, causes: Sequence[WeakPoint]) -> None:
    """A line of figures for each cause, under it its key and what else is known of it.

    The key has a line to itself: in a column it would be broken where no key breaks.
    """
    rows = [_row(cases, c) for c in causes]
    widths = [max(map(len, column)) for column in zip(_HEADINGS, *rows, strict=True)]
    room = min(width() - sum(widths[1:]) - GAP * len(widths[1:]), LONGEST)
    if room < SHORTEST:
        for cause in causes:
            wrapped(f"{cause.label}: {_in_words(cases, cause)}", "    ", "  ")
            wrapped(_beneath(cause), "    ")
        return
    say(click.style(_line(_HEADINGS, room, widths), bold=True))
    say("─" * len(_line(_HEADINGS, room, widths)))
    for cause, row in zip(causes, rows, strict=True):
        name, *more = _parts(cause.label, room)
        say(_line((name, *row[1:]), room, widths).rstrip())
        for part in more:
            say(part)
        wrapped(_beneath(cause), "    ")


_HEADINGS = ("also found", "here", "comparable", "share, 95 %", "ratio (low)")
GAP, SHORTEST, LONGEST = 3, 20, 40


def _line(cells: Sequence[str], room: int, widths: Sequence[int]) -> str:
    """The name, and the figures flush right."""
    figures = (f"{'':{GAP}}{cell:>{n}}" for cell, n in zip(cells[1:], widths[1:], strict=True))
    return f"{cells[0]:<{room}}" + "".join(figures)


def _parts(label: str, room: int) -> list[str]:
    """A label in lines that fit; those after the first are set in by two."""
    import textwrap

    return textwrap.wrap(label, room, subsequent_indent="  ") or [""]


def _row(cases: int, c: WeakPoint) -> tuple[str, ...]:
    return (
        "",
        f"{c.count} of {cases}",
        f"{c.comparable_count} of {c.comparable_cases}" if c.comparable_cases else "none",
        _share(c),
        f"{c.ratio:.1f} ({c.ratio_low:.1f})" if c.comparable_cases and c.own else "",
    )


def _in_words(cases: int, c: WeakPoint) -> str:
    """The same where the terminal is too narrow for columns."""
    said = f"{beside(cases, c)}; share {_share(c)} with 95 % probability"
    if c.comparable_cases and c.own:
        said += f"; ratio {c.ratio:.1f}, at least {c.ratio_low:.1f}"
    return said


def _share(c: WeakPoint) -> str:
    return f"{100 * c.share_interval[0]:.0f} to {100 * c.share_interval[1]:.0f} %"


def _beneath(c: WeakPoint) -> str:
    """The key, and what else is known of a cause that does not stand out."""
    only = next(iter(c.by_family)) if len(c.by_family) == 1 and c.ratio_low > 1 else None
    told = (
        c.cause,
        f"at {c.place.at}" if c.place else "",
        f"only in {only}" if only else "",
        _came_back(c) if c.comebacks else "",
    )
    return ", ".join(filter(None, told))


def _tell(family: FamilyWeakPoints, cause: WeakPoint, everything: bool) -> None:
    stands = "stands out" if cause.flag else _DIRECTIONS[cause.trend.direction]
    wrapped(f"{cause.label} {stands}: {beside(family.cases, cause)}", "    ", "  ")
    wrapped(f"{' '.join(_sentences(cause))} ({cause.cause})", "    ")
    if everything and cause.trend.direction != "steady":
        _draw_years(family.visits, cause.by_year)


def _sentences(cause: WeakPoint) -> Iterable[str]:
    if cause.flag:
        yield f"About {cause.ratio:.1f} times as often, at least {cause.ratio_low:.1f} times."
    if len(cause.by_family) > 1:
        yield f"By family: {_by_family(cause)}."
    if cause.place:
        place = cause.place
        yield f"Place: {place.at}, in {place.agree} of the {place.named} that name one."
    if cause.brought_on:
        of_each = ", ".join(f"{by.replace('-', ' ')} {n}" for by, n in cause.brought_on.items())
        yield f"Brought on by: {of_each}."
    if cause.comebacks:
        yield f"{_came_back(cause).capitalize()}."
    if cause.trend.direction != "steady":
        yield course(cause.trend)


_DIRECTIONS = {"rising": "is coming more often", "falling": "is coming less often"}


def _by_family(cause: WeakPoint) -> str:
    """The families with most cases first."""
    order = sorted(cause.by_family.items(), key=lambda pair: (-pair[1], pair[0]))
    said = ", ".join(f"{key} {n}" for key, n in order[:SHOWN])
    return f"{said}, {len(order) - SHOWN} more" if len(order) > SHOWN else said


def beside(cases: int, cause: WeakPoint) -> str:
    """How often here, and how often in comparable units."""
    beside = f"{cause.comparable_count} of {cause.comparable_cases} in comparable units"
    return f"{cause.count} of {cases} here, " + (
        beside if cause.comparable_cases else "nothing to compare with"
    )


def course(trend: Trend) -> str:
    """Where a cause leads that does not stay as it was, and by how much."""
    p = f"p = {trend.p:.2g}" if trend.p >= 0.0001 else "p below 0.0001"
    how = _DIRECTIONS[trend.direction].removeprefix("is ").capitalize()
    if trend.change is None:
        return f"{how}, the intake allowed for ({p})."
    return f"{how}, the intake allowed for: {_change(trend.change)} ({p})."


def _change(change: Change) -> str:
    since, (was, of_before), (now, of_after) = change.since, change.before, change.after
    counts = f"{now} of {of_after} visits since {since}, {was} of {of_before} before"
    if change.times is None or change.interval is None:
        return counts
    low, high = change.interval
    return (
        f"{_times(change.times)} as often as before {since} "
        f"(between {low:.2g} and {high:.2g} times): {counts}"
    )


def _times(times: float) -> str:
    """In words where a word fits."""
    if times < 1:
        whole = round(1 / times)
        near = abs(whole * times - 1) < 0.1 and whole in _PARTS
        return _PARTS[whole] if near else f"{100 * times:.0f} %"
    return "twice" if 1.9 <= times <= 2.1 else f"{times:.2g} times"


def _draw_years(visits: dict[int, int], found: dict[int, int]) -> None:
    """Every visit of a year as a line, those with the cause as blocks."""
    years = range(min(visits), max(visits) + 1)
    rows = [(str(y), found.get(y, 0), visits.get(y, 0)) for y in years]
    if len(rows) > YEARS_SHOWN:
        early, rows = rows[: 1 - YEARS_SHOWN], rows[1 - YEARS_SHOWN :]
        rows.insert(0, ("earlier", sum(r[1] for r in early), sum(r[2] for r in early)))
    most = max(n for _, _, n in rows)
    counts = [f"{count} of {n}" for _, count, n in rows]
    room = width() - 4 - 7 - 2 - max(map(len, counts)) - 2
    scale = min(1.0, room / most)
    for (year, count, n), counted in zip(rows, counts, strict=True):
        whole = _length(n, scale)
        part = min(_length(count, scale), whole)
        counted = counted.rjust(max(map(len, counts)))
        say(f"    {year:<7}  {counted}  {'█' * part}{'─' * (whole - part)}".rstrip())


def _length(count: int, scale: float) -> int:
    """One column at least for what is there at all."""
    return max(1, round(count * scale)) if count else 0


def _came_back(cause: WeakPoint) -> str:
    times = "once" if cause.comebacks == 1 else f"{cause.comebacks} times"
    return f"came back {times} after the repair"
