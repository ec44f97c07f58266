"""`benchbook weak-points`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

import click

from kb.cli.common import json_option, opened_book, read_date, tell_refused
from kb.cli.output import heading, print_json, say, table, width, wrapped
from kb.cli.sheet import csv_option, one_form, print_csv
from kb.values_weak import Change, FamilyWeakPoints, Trend, WeakPoint, WeakPoints

SHOWN = 8
YEARS_SHOWN = 12
_PARTS = {2: "half", 3: "a third", 4: "a quarter", 5: "a fifth", 10: "a tenth"}


@click.command("weak-points")
@click.argument("name", required=False)
@click.option(
    "--since",
    metavar="DATE",
    callback=read_date,
    help="What became a weak point since then: for a monthly look.",
)
@json_option
@csv_option
@click.pass_context
def command(
    ctx: click.Context, name: str | None, since: dt.date | None, as_json: bool, as_csv: bool
) -> None:
    """What keeps failing in a family, against comparable units.

    NAME is a family, a line, a maker or a kind; without it: all that has a weak point.
    """
    one_form(as_json, as_csv)
    with opened_book(ctx) as book:
        answer = book.weak_points(name, since)
        tell_refused(book)
    if as_json:
        print_json(answer)
    elif as_csv:
        _print_sheet(answer)
    elif since is not None:
        _show_new(answer, since)
    else:
        show_weak_points(answer, everything=name is not None)


def show_weak_points(answer: WeakPoints, everything: bool) -> None:
    """Print the causes of each family and group, or only those that stand out."""
    if not answer.families and not answer.groups:
        say("No finished case yet.")
    elif not everything:
        _show_flagged((*answer.families, *answer.groups))
    elif answer.groups and not _line_instead(answer):
        _show_groups(answer)
    else:
        for family in answer.families:
            _show_family(family)
        if not answer.families:
            say("No finished visit of this family yet.")
        for line in answer.groups:
            heading(f"Its line instead: {_called(line)}: {_visits(line)}")
            _show_causes(line, everything=True)
    say()
    wrapped(
        "“Comparable” are units of other families that have the same item, or are of the same "
        "kind. The ratio is how many times as often the cause is found here as there, drawn "
        "towards 1 where cases are few; what it is at least holds with 95 % probability. "
        "A bench sees only what fails, never how many units are out there: shares are of the "
        "visits to this bench, not of the units sold."
    )


def _line_instead(answer: WeakPoints) -> bool:
    """Whether a line stands in for one family of which too few visits are known."""
    few = len(answer.families) < 2 and all(f.too_few for f in answer.families)
    return few and [group.sort for group in answer.groups] == ["line"]


def _show_groups(answer: WeakPoints) -> None:
    """Each line, maker or kind in full, then what stands out in one family of it."""
    for group in answer.groups:
        heading(f"{_called(group)}: {_visits(group)}")
        if group.sort == "kind":
            wrapped("Of a kind only what units of other kinds have too can be compared.", "  ")
        _show_causes(group, everything=True)
    flagged = [f for f in answer.families if any(c.flag for c in f.causes)]
    _show_flagged(flagged)
    others = [f.family for f in answer.families if f not in flagged]
    if others:
        say()
        wrapped(f"Nothing stands out in {', '.join(others)} alone.", "  ", "")


def _show_flagged(families: Sequence[FamilyWeakPoints]) -> None:
    flagged = [f for f in families if any(c.flag for c in f.causes)]
    for family in flagged:
        heading(f"{_called(family)}: {_visits(family)}")
        _show_causes(family, everything=False)
    if not flagged:
        say("No cause stands out in any family.")


def _show_family(family: FamilyWeakPoints) -> None:
    heading(f"{_called(family)}: {_visits(family)}")
    if family.too_few:
        wrapped("Too few visits to go by: a share could still be nearly anything.", "  ")
    _show_causes(family, everything=True)


def _show_causes(family: FamilyWeakPoints, everything: bool) -> None:
    """What stands out or is changing in sentences, the others in a table."""
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
        table(
            ["also found", "here", "comparable", "share, 95 %", "ratio (low)"],
            [_row(family, c) for c in others[:SHOWN]],
            right=(1, 2, 3, 4),
        )
        if len(others) > SHOWN:
            say(f"  and {len(others) - SHOWN} more, each less telling; --csv and --json have all")
        for cause in others[:SHOWN]:
            if cause.comebacks:
                wrapped(f"{cause.label}: {_came_back(cause)}", "    ", "  ")


def _tell(family: FamilyWeakPoints, cause: WeakPoint, everything: bool) -> None:
    stands = "stands out" if cause.flag else _DIRECTIONS[cause.trend.direction]
    wrapped(f"{cause.label} {stands}: {_beside(family.cases, cause)}", "    ", "  ")
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
        yield _course(cause.trend)


_DIRECTIONS = {"rising": "is coming more often", "falling": "is coming less often"}


def _by_family(cause: WeakPoint) -> str:
    """The families with most cases first."""
    order = sorted(cause.by_family.items(), key=lambda pair: (-pair[1], pair[0]))
    said = ", ".join(f"{key} {n}" for key, n in order[:SHOWN])
    return f"{said}, {len(order) - SHOWN} more" if len(order) > SHOWN else said


def _beside(cases: int, cause: WeakPoint) -> str:
    beside = f"{cause.comparable_count} of {cause.comparable_cases} in comparable units"
    return f"{cause.count} of {cases} here, " + (
        beside if cause.comparable_cases else "nothing to compare with"
    )


def _course(trend: Trend) -> str:
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


def _row(family: FamilyWeakPoints, c: WeakPoint) -> tuple[str, ...]:
    only = next(iter(c.by_family)) if len(c.by_family) == 1 and c.ratio_low > 1 else None
    return (
        f"{c.label}\n{c.cause}"
        + (f"\nat {c.place.at}" if c.place else "")
        + (f"\nonly in {only}" if only else ""),
        f"{c.count} of {family.cases}",
        f"{c.comparable_count} of {c.comparable_cases}" if c.comparable_cases else "none",
        f"{100 * c.share_interval[0]:.0f} to {100 * c.share_interval[1]:.0f} %",
        f"{c.ratio:.1f} ({c.ratio_low:.1f})" if c.comparable_cases and c.own else "",
    )


def _came_back(cause: WeakPoint) -> str:
    times = "once" if cause.comebacks == 1 else f"{cause.comebacks} times"
    return f"came back {times} after the repair"


def _called(family: FamilyWeakPoints) -> str:
    """The label with the key, and what sort of group it is."""
    label = family.label.removesuffix(f" ({family.sort})")
    if family.sort == "family":
        return f"{label} ({family.family})"
    plain = _bare(label) == _bare(family.family)
    return f"{label} ({family.sort})" if plain else f"{label} ({family.sort} {family.family})"


def _bare(name: str) -> str:
    return name.replace("-", " ").casefold()


def _visits(family: FamilyWeakPoints) -> str:
    visits = "1 finished visit" if family.cases == 1 else f"{family.cases} finished visits"
    if family.sort == "family":
        return visits
    members = len(family.members)
    return f"{visits} of {'1 family' if members == 1 else f'{members} families'}"


def _show_new(answer: WeakPoints, since: dt.date) -> None:
    """What is flagged now and was not then."""
    date = f"{since.day} {since:%B %Y}"
    if not answer.new:
        say(f"Nothing stands out that did not on {date} already.")
        return
    heading(f"What stands out now and did not on {date}")
    for new in answer.new:
        sort = "" if new.sort == "family" else f"{new.sort} "
        label = new.family_label.removesuffix(f" ({new.sort})")
        say()
        wrapped(
            f"{label} ({sort}{new.family}): {new.point.label}, {_beside(new.cases, new.point)}",
            "    ",
            "  ",
        )
        now = f"about {new.point.ratio:.1f} times as often, at least {new.point.ratio_low:.1f}"
        then = "not found yet"
        if new.then_low is not None:
            then = f"{new.then_count} of {new.then_cases}, at least {new.then_low:.1f} times"
        wrapped(f"Now {now} times; then {then}.", "    ")


def _print_sheet(answer: WeakPoints) -> None:
    print_csv(
        ("sort", "key", "label", "visits", "cause", "cause_label", "count", "own", "share", "low",
         "high", "comparable_count", "comparable_visits", "expected", "ratio", "ratio_low", "flag",
         "new", "at", "at_agree", "at_named", "trend", "p", "since", "before", "visits_before",
         "after", "visits_after", "times", "times_low", "times_high", "comebacks", "brought_on"),
        _sheet_rows(answer),
    )  # fmt: skip


def _sheet_rows(answer: WeakPoints) -> Iterable[tuple[object, ...]]:
    new = {(n.sort, n.family, n.point.cause) for n in answer.new}
    for f in (*answer.families, *answer.groups):
        for c in f.causes:
            place, change = c.place, c.trend.change
            at = (place.at, place.agree, place.named) if place else (None,) * 3
            course: tuple[object, ...] = (None,) * 8
            if change:
                ends = change.interval or (None, None)
                course = (change.since, *change.before, *change.after, change.times, *ends)
            yield (
                f.sort, f.family, f.label, f.cases, c.cause, c.label, c.count, c.own, c.share,
                *c.share_interval, c.comparable_count, c.comparable_cases, c.expected, c.ratio,
                c.ratio_low, c.flag,
                None if answer.since is None else (f.sort, f.family, c.cause) in new,
                *at, c.trend.direction, c.trend.p, *course, c.comebacks,
                [f"{by} {n}" for by, n in c.brought_on.items()],
            )  # fmt: skip
