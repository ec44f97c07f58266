"""`benchbook check`."""

from __future__ import annotations

import click

from kb.cli.common import json_option, opened_book
from kb.cli.output import print_json, say


@click.command("check")
@json_option
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """Report every fault in the notes and the vocabulary.

    Each is shown as file:line:column with the nearest known term where one is close. Nothing is
    changed. Ends with status 1 if there is an error; a warning alone does not.
    """
    with opened_book(ctx) as book:
        problems = book.check()
    errors = sum(p.severity == "error" for p in problems)
    if as_json:
        print_json({"problems": problems})
    else:
        for problem in problems:
            say(str(problem))
        warnings = len(problems) - errors
        if not problems:
            say("No faults found.")
        else:
            say(f"{_count(errors, 'error')}, {_count(warnings, 'warning')}.")
    ctx.exit(1 if errors else 0)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" + ("" if number == 1 else "s")
