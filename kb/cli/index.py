"""`benchbook index`."""

from __future__ import annotations

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import print_json, say
from kb.values import IndexReport


@click.command("index")
@click.option("--rebuild", is_flag=True, help="Read every note again, changed or not.")
@json_option
@click.pass_context
def command(ctx: click.Context, rebuild: bool, as_json: bool) -> None:
    """Bring the database and the text index up to date with the notes.

    The other commands do this by themselves; only what changed is read.
    """
    with opened_book(ctx) as book:
        report = book.index(rebuild=rebuild)
        tell_refused(book)
    if as_json:
        print_json(report)
    else:
        say(describe(report, rebuild))


def describe(report: IndexReport, rebuild: bool = False) -> str:
    """The report in a sentence or two."""
    parts = [
        f"{count} {what}"
        for count, what in (
            (report.added, "added"),
            (report.changed, "changed"),
            (report.removed, "removed"),
        )
        if count
    ]
    what = ", ".join(parts) or "nothing changed"
    refused = f" ({report.refused} of them left out because of a fault)" if report.refused else ""
    notes = "1 note" if report.notes == 1 else f"{report.notes} notes"
    read = ", all read again" if rebuild else ""
    return f"{notes}{read}{refused}: {what} ({report.seconds:.1f} s)."
