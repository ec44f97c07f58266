"""`benchbook weak-points`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

import click

from kb.cli.common import json_option, opened_book, read_date, tell_refused
from kb.cli.output import heading, print_json, say, wrapped
from kb.cli.sheet import csv_option, one_form, print_csv
from kb.cli.weak_causes import show_causes, show_rising
from kb.cli.weak_news import show_news
from kb.values_weak import FamilyWeakPoints, WeakPoints


@click.command("weak-points")
@click.argument("name", required=False)
@click.option(
    "--since",
    metavar="DATE",
    callback=read_date,
    help="What became a weak point, or began to come more often, since then.",
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
        show_news(answer, since)
    else:
        show_weak_points(answer, everything=name is not None)


def show_weak_points(answer: WeakPoints, everything: bool) -> None:
    """Print the causes of each family and group, or only those that stand out."""
    if not answer.families and not answer.groups:
        say("No finished case yet.")
    elif not everything:
        _show_flagged((*answer.families, *answer.groups))
        show_rising(answer.families)
    elif answer.groups and not _line_instead(answer):
        _show_groups(answer)
    else:
        for family in answer.families:
            _show_family(family)
        if not answer.families:
            say("No finished visit of this family yet.")
        for line in answer.groups:
            heading(f"Its line instead: {called(line)}: {_visits(line)}")
            show_causes(line, everything=True)
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
        heading(f"{called(group)}: {_visits(group)}")
        if group.sort == "kind":
            wrapped("Of a kind only what units of other kinds have too can be compared.", "  ")
        show_causes(group, everything=True)
    flagged = [f for f in answer.families if any(c.flag for c in f.causes)]
    _show_flagged(flagged)
    others = [f.family for f in answer.families if f not in flagged]
    if others:
        say()
        wrapped(f"Nothing stands out in {', '.join(others)} alone.", "  ", "")
    show_rising(answer.families)


def _show_flagged(families: Sequence[FamilyWeakPoints]) -> None:
    flagged = [f for f in families if any(c.flag for c in f.causes)]
    for family in flagged:
        heading(f"{called(family)}: {_visits(family)}")
        show_causes(family, everything=False)
    if not flagged:
        say("No cause stands out in any family.")


def _show_family(family: FamilyWeakPoints) -> None:
    heading(f"{called(family)}: {_visits(family)}")
    if family.too_few:
        wrapped("Too few visits to go by: a share could still be nearly anything.", "  ")
    show_causes(family, everything=True)


def called(family: FamilyWeakPoints) -> str:
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


def _print_sheet(answer: WeakPoints) -> None:
    print_csv(
        ("sort", "key", "label", "visits", "cause", "cause_label", "count", "own", "share", "low",
         "high", "comparable_count", "comparable_visits", "expected", "ratio", "ratio_low", "flag",
         "new", "newly_rising", "at", "at_agree", "at_named", "trend", "p", "since", "before",
         "visits_before", "after", "visits_after", "times", "times_low", "times_high", "comebacks",
         "brought_on"),
        _sheet_rows(answer),
    )  # fmt: skip


def _sheet_rows(answer: WeakPoints) -> Iterable[tuple[object, ...]]:
    new = {(n.sort, n.family, n.point.cause) for n in answer.new}
    rising = {(n.sort, n.family, n.point.cause) for n in answer.rising}
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
                *(None if answer.since is None else (f.sort, f.family, c.cause) in those
                  for those in (new, rising)),
                *at, c.trend.direction, c.trend.p, *course, c.comebacks,
                [f"{by} {n}" for by, n in c.brought_on.items()],
            )  # fmt: skip
