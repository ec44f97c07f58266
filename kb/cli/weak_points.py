"""`benchbook weak-points`."""

from __future__ import annotations

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import heading, print_json, say, table, wrapped
from kb.values import FamilyWeakPoints, WeakPoints

SHOWN = 8


@click.command("weak-points")
@click.argument("family", required=False)
@json_option
@click.pass_context
def command(ctx: click.Context, family: str | None, as_json: bool) -> None:
    """What keeps failing in a FAMILY, against comparable units.

    Without FAMILY: every family that has a weak point.
    """
    with opened_book(ctx) as book:
        answer = book.weak_points(family)
        tell_refused(book)
    if as_json:
        print_json(answer)
    else:
        show_weak_points(answer, everything=family is not None)


def show_weak_points(answer: WeakPoints, everything: bool) -> None:
    """Print the causes of each family, or only those that stand out."""
    flagged = [f for f in answer.families if everything or any(c.flag for c in f.causes)]
    if not flagged:
        say("No cause stands out in any family." if answer.families else "No finished case yet.")
    for family in flagged:
        _show_family(family, everything)
    say()
    wrapped(
        "“Comparable” are units of other families that have the same item, or are of the same "
        "kind. The ratio is how many times as often the cause is found here as there, drawn "
        "towards 1 where cases are few; in brackets what it is at least, with 95 % probability. "
        "A bench sees only what fails, never how many units are out there: shares are of the "
        "visits to this bench, not of the units sold."
    )


def _show_family(family: FamilyWeakPoints, everything: bool) -> None:
    visits = "1 finished visit" if family.cases == 1 else f"{family.cases} finished visits"
    heading(f"{family.label} ({family.family}): {visits}")
    causes = family.causes if everything else [c for c in family.causes if c.flag]
    rows = [
        (
            f"{c.label}\n{c.cause}" + ("\nstands out" if c.flag else ""),
            f"{c.count} of {family.cases}",
            f"{c.comparable_count} of {c.comparable_cases}" if c.comparable_cases else "none",
            f"{100 * c.share_interval[0]:.0f} to {100 * c.share_interval[1]:.0f} %",
            f"{c.ratio:.1f} ({c.ratio_low:.1f})" if c.comparable_cases and c.own else "",
        )
        for c in causes[:SHOWN]
    ]
    table(["cause", "here", "comparable", "share, 95 %", "ratio (low)"], rows, right=(1, 2, 3, 4))
    if len(causes) > SHOWN:
        say(f"  and {len(causes) - SHOWN} more causes, each less telling")
    for c in causes[:SHOWN]:
        if c.trend.direction != "steady":
            wrapped(
                f"{c.label}: {c.trend.direction} against the intake (p = {c.trend.p:.3f})",
                "    ",
                "  ",
            )
        if c.comebacks:
            came = "once" if c.comebacks == 1 else f"{c.comebacks} times"
            wrapped(f"{c.label}: came back {came} after the repair", "    ", "  ")
