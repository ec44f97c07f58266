"""`benchbook ages`."""

from __future__ import annotations

from collections.abc import Sequence

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import heading, print_json, say, table, wrapped
from kb.cli.sheet import csv_option, one_form, print_csv
from kb.values_history import AgeAtFailure, Ages, FamilyAges, RepairsByTime

SHOWN = 10
POINTS = 6


@click.command("ages")
@click.argument("family")
@json_option
@csv_option
@click.pass_context
def command(ctx: click.Context, family: str, as_json: bool, as_csv: bool) -> None:
    """How old units of a FAMILY fail, and how often one comes back for another repair.

    FAMILY may also be a line: each of its families is then shown by itself.
    """
    one_form(as_json, as_csv)
    with opened_book(ctx) as book:
        answer = book.ages(family)
        tell_refused(book)
    if as_json:
        print_json(answer)
    elif as_csv:
        _print_sheet(answer)
    else:
        _show(answer)


def _show(answer: Ages) -> None:
    if not answer.families:
        say("No unit of this family was ever here.")
        return
    for family in answer.families:
        _show_family(family, answer)
    say()
    wrapped(
        "Only units that failed come to the bench, so these are ages of those that failed, not "
        "how long such a unit lasts. A part's age counts from its last replacement here, where "
        "there was one; what was replaced elsewhere is not known. Units that stayed away count "
        "as followed to the book's latest date."
    )


def _show_family(family: FamilyAges, answer: Ages) -> None:
    visits = "1 visit" if family.visits == 1 else f"{family.visits} visits"
    heading(f"{family.label} ({family.family}): {visits}")
    say(f"  year of making not known: {family.built_unknown}")
    rows = [
        (
            f"{c.label}\n{c.cause}",
            f"{c.known} of {c.count}" + (f"\n{c.renewed} renewed" if c.renewed else ""),
            _years(c),
            f"{c.interval[0]:.0f} to {c.interval[1]:.0f}" if c.interval else "too few",
            _range(c),
        )
        for c in family.causes[:SHOWN]
    ]
    if rows:
        table(
            ["age at failure, years", "known", "median", "median, 95 %", "all"],
            rows,
            right=(1, 2, 3, 4),
        )
    if len(family.causes) > SHOWN:
        say(f"  and {len(family.causes) - SHOWN} more causes; --csv and --json have all")
    _show_repairs(family, answer)


def _years(cause: AgeAtFailure) -> str:
    return "" if cause.median is None else f"{cause.median:.1f}"


def _range(cause: AgeAtFailure) -> str:
    if cause.youngest is None or cause.oldest is None:
        return ""
    ends = dict.fromkeys((f"{cause.youngest:.0f}", f"{cause.oldest:.0f}"))
    return " to ".join(ends)


def _show_repairs(family: FamilyAges, answer: Ages) -> None:
    say()
    units = "1 unit" if family.units == 1 else f"{family.units} units"
    lost = family.without_number
    wrapped(
        f"{units} with a number, {family.seen_again} of them seen more than once; followed to "
        f"{answer.as_of:%d %B %Y}."
        + (f" {lost} visits were of units without a number." if lost else ""),
        "  ",
    )
    if family.repairs:
        rows = [
            (
                f"{p.years:.1f}",
                str(p.at_risk),
                f"{p.mean:.2f}",
                f"{p.interval[0]:.2f} to {p.interval[1]:.2f}",
            )
            for p in _some(family.repairs)
        ]
        table(
            ["years since first seen", "units followed", "further repairs a unit", "95 %"],
            rows,
            right=(0, 1, 2, 3),
        )


def _some(points: Sequence[RepairsByTime]) -> list[RepairsByTime]:
    """A few of the points, evenly, the last among them."""
    step = max(1, -(-len(points) // POINTS))
    return list(points[::-1][::step][::-1])


def _print_sheet(answer: Ages) -> None:
    ages = (
        ("age", f.family, c.cause, c.label, c.count, c.known, c.renewed, c.median,
         *(c.interval or (None, None)), c.youngest, c.oldest, None, None, None)
        for f in answer.families
        for c in f.causes
    )  # fmt: skip
    repairs = (
        ("repairs", f.family, *(None,) * 6, *p.interval, None, None, p.years, p.at_risk, p.mean)
        for f in answer.families
        for p in f.repairs
    )
    print_csv(
        ("row", "family", "cause", "label", "count", "known", "renewed", "median", "low", "high",
         "youngest", "oldest", "years", "at_risk", "mean"),
        (*ages, *repairs),
    )  # fmt: skip
