"""`benchbook search`."""

from __future__ import annotations

import datetime as dt

import click

from kb.cli.common import json_option, opened_book, read_date, tell_refused
from kb.cli.output import marked, print_json, say, wrapped
from kb.values import SearchAnswer


@click.command("search")
@click.argument("text", nargs=-1, required=True)
@click.option("--family", metavar="F", help="Only this family or line.")
@click.option("--symptom", metavar="S", help="Only cases with this symptom or a kind of it.")
@click.option("--cause", metavar="C", help="Only cases in which this cause was found.")
@click.option(
    "--since", metavar="DATE", callback=read_date, help="Only cases received from then on."
)
@click.option("--limit", metavar="N", default=10, show_default=True, type=click.IntRange(1, 1000))
@json_option
@click.pass_context
def command(
    ctx: click.Context,
    text: tuple[str, ...],
    family: str | None,
    symptom: str | None,
    cause: str | None,
    since: dt.date | None,
    limit: int,
    as_json: bool,
) -> None:
    """Past cases that match the words of TEXT, best first.

    Words are found in all their forms; "several words" in quotes are found only together.
    """
    with opened_book(ctx) as book:
        answer = book.search(" ".join(text), family, symptom, cause, since, limit)
        tell_refused(book)
    if as_json:
        print_json(answer)
    else:
        show_answer(answer)


def show_answer(answer: SearchAnswer) -> None:
    """Print the hits as a list to read from top to bottom."""
    if answer.suggestion:
        say(f"Few or no cases: perhaps you mean  {answer.suggestion}")
    if not answer.total:
        say("No case matches.")
        return
    shown = len(answer.hits)
    more = "" if shown == answer.total else f"; the best {shown} are shown"
    say(f"{answer.total} {'case' if answer.total == 1 else 'cases'}{more}")
    for hit in answer.hits:
        say()
        causes = ", ".join(hit.root_causes) or "no cause known"
        wrapped(f"{hit.case}  {hit.family}  {hit.received}  {causes}", "    ", "")
        wrapped(hit.title, "    ", "  ")
        wrapped(marked(hit.snippet), "    ", "    ")
