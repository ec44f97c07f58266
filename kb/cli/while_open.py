"""`benchbook while-open`."""

from __future__ import annotations

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import heading, print_json, say, wrapped
from kb.cli.sheet import csv_option, one_form, print_csv
from kb.values_history import WhileOpen, WorthLooking

SHOWN = 8


@click.command("while-open")
@click.argument("family")
@click.option(
    "--doing",
    metavar="CAUSE",
    help="The cause that is being put right: what is behind the same cover costs little.",
)
@json_option
@csv_option
@click.pass_context
def command(
    ctx: click.Context, family: str, doing: str | None, as_json: bool, as_csv: bool
) -> None:
    """What else is worth a look while a unit is open.

    FAMILY is the model family, or the number of a case on the bench. Most minutes saved first.
    """
    one_form(as_json, as_csv)
    with opened_book(ctx) as book:
        answer = book.while_open(family, doing)
        tell_refused(book)
    if as_json:
        print_json(answer)
    elif as_csv:
        _print_sheet(answer)
    else:
        _show(answer)


PROOF = "To prove it"
PROOF_NEEDS = (
    "Some of it needs power on or a part changed: then by the rules for live work, by somebody "
    "trained for it, or not at all."
)


def _show(answer: WhileOpen) -> None:
    heading(f"While a {answer.label} is open")
    if answer.doing:
        say(f"  being put right: {answer.doing} ({answer.off})")
    if not answer.suggestions:
        wrapped("Nothing else saves a minute on average: close it.", "  ")
    else:
        say()
        for text in answer.cautions:
            wrapped(text, "    ", "  ! ")
    if any(one.confirm for one in answer.suggestions[:SHOWN]):
        wrapped(f"“{PROOF}” is no part of the look. {PROOF_NEEDS}", "    ", "  ! ")
    for number, one in enumerate(answer.suggestions[:SHOWN], 1):
        _show_one(number, one)
    if len(answer.suggestions) > SHOWN:
        say(f"  and {len(answer.suggestions) - SHOWN} more; --csv and --json have all")
    if answer.suggestions:
        heading("What this assumes")
        for text in answer.assumed:
            wrapped(text, "    ", "  - ")


def _show_one(number: int, one: WorthLooking) -> None:
    say()
    wrapped(f"{one.label} ({one.cause})", "     ", f"  {number}. ")
    wrapped(f"saves about {one.saved:.0f} min on average. {one.why}", "     ")
    wrapped(
        f"Share of its next visits: {100 * one.interval[0]:.0f} to "
        f"{100 * one.interval[1]:.0f} % (95 %).",
        "     ",
    )
    if one.confirm:
        wrapped(f"{PROOF}: {one.confirm}", "     ")
    for text in one.cautions:
        wrapped(text, "       ", "     ! ")


def _print_sheet(answer: WhileOpen) -> None:
    print_csv(
        ("cause", "label", "cover", "free", "count", "visits", "comparable_count",
         "comparable_visits", "share", "low", "high", "finding", "look", "saved", "why",
         "confirm", "cautions"),
        (
            (s.cause, s.label, s.cover, s.free, s.count, s.visits, s.comparable_count,
             s.comparable_visits, s.share, *s.interval, s.finding, s.look, s.saved, s.why,
             s.confirm, (*answer.cautions, *s.cautions))
            for s in answer.suggestions
        ),
    )  # fmt: skip
