"""`benchbook drawer`."""

from __future__ import annotations

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import heading, print_json, say, table, wrapped
from kb.cli.sheet import csv_option, one_form, print_csv
from kb.values_history import Drawer

SHOWN = 30


@click.command("drawer")
@click.option(
    "--families",
    metavar="F,G",
    help="Only these families or lines, with commas between; without it all.",
)
@json_option
@csv_option
@click.pass_context
def command(ctx: click.Context, families: str | None, as_json: bool, as_csv: bool) -> None:
    """The spares that would have served most of the last year's repairs.

    For restocking, or for the case that goes on tour. The year ends on the book's latest date.
    """
    one_form(as_json, as_csv)
    asked = [name for name in (f.strip() for f in (families or "").split(",")) if name]
    with opened_book(ctx) as book:
        answer = book.drawer(asked)
        tell_refused(book)
    if as_json:
        print_json(answer)
    elif as_csv:
        _print_sheet(answer)
    else:
        _show(answer)


def _show(answer: Drawer) -> None:
    if answer.since is None or not answer.spares:
        say("No repair of the last year used a part.")
        return
    heading(f"Spares for the repairs after {answer.since:%d %B %Y}, to {answer.until:%d %B %Y}")
    last = answer.spares[answer.enough - 1]
    wrapped(
        f"{answer.repairs} repairs used parts, {answer.without_parts} used none. The first "
        f"{answer.enough} parts serve {last.served} of those that did "
        f"({100 * last.coverage:.0f} %).",
        "  ",
    )
    rows = [
        (
            s.part,
            str(s.repairs),
            str(s.fitted),
            f"{s.served} = {100 * s.coverage:.0f} %",
            "; ".join(s.causes[:2]),
        )
        for s in answer.spares[: min(answer.enough, SHOWN)]
    ]
    table(["part", "repairs", "fitted", "served so far", "for"], rows, right=(1, 2, 3))
    rest = len(answer.spares) - len(rows)
    if rest:
        said = "is 1 more part" if rest == 1 else f"are {rest} more parts"
        say(f"  there {said} in the year; --csv and --json have all")
    say()
    wrapped(
        "A repair is served once every part it used is in the drawer. Parts are told apart by "
        "their names in the notes: the same part under two names counts as two. Nothing is "
        "known here of prices, of delivery times, or of what lies in the drawer already."
    )


def _print_sheet(answer: Drawer) -> None:
    print_csv(
        ("order", "part", "repairs", "fitted", "served", "coverage", "causes", "families",
         "since", "until"),
        (
            (i, s.part, s.repairs, s.fitted, s.served, s.coverage, s.causes, s.families,
             str(answer.since or ""), str(answer.until or ""))
            for i, s in enumerate(answer.spares, 1)
        ),
    )  # fmt: skip
