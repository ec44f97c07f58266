"""`benchbook owner-sheet`."""

from __future__ import annotations

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import print_json, say


@click.command("owner-sheet")
@click.argument("case")
@click.option(
    "--to",
    "file",
    metavar="FILE",
    type=click.Path(),
    help="Write it to FILE. An earlier sheet there is replaced, anything else is left alone.",
)
@json_option
@click.pass_context
def command(ctx: click.Context, case: str, file: str | None, as_json: bool) -> None:
    """One CASE for its owner, in plain words, on one page to print.

    The page stands by itself and holds no script. Without --to it goes to standard output.
    """
    if file is not None and as_json:
        raise click.UsageError("--to and --json exclude each other")
    with opened_book(ctx) as book:
        sheet = book.owner_sheet(case) if as_json else None
        page = "" if as_json else book.owner_sheet_page(case, file)
        tell_refused(book)
    if sheet:
        print_json(sheet)
    elif file is None:
        say(page.encode("utf-8").removesuffix(b"\n"))
    else:
        say(f"The owner's sheet of {case} is in {click.format_filename(file)}")
