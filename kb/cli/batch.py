"""`benchbook batch`."""

from __future__ import annotations

import click

from kb.cli.comebacks import held_of, share_of
from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import heading, print_json, say, table, wrapped
from kb.cli.sheet import csv_option, one_form, print_csv
from kb.values_history import BatchTrace, Fitting

SHOWN = 40


@click.command("batch")
@click.argument("part")
@click.argument("batch", required=False)
@json_option
@csv_option
@click.pass_context
def command(ctx: click.Context, part: str, batch: str | None, as_json: bool, as_csv: bool) -> None:
    """Where a PART went: which came back, which units still carry it.

    PART is its name as the notes write it, or words of it; BATCH one batch of it.
    """
    one_form(as_json, as_csv)
    with opened_book(ctx) as book:
        answer = book.batch(part, batch)
        tell_refused(book)
    if as_json:
        print_json(answer)
    elif as_csv:
        _print_sheet(answer)
    else:
        _show(answer)


def _show(answer: BatchTrace) -> None:
    of_batch = f", batch {answer.batch}" if answer.batch else ""
    heading(f"{', '.join(answer.parts)}{of_batch}")
    carried = [f for f in answer.fittings if f.carried]
    units = {(f.family, f.unit) for f in carried}
    unknown = sum(f.carried is None for f in answer.fittings)
    wrapped(
        f"{sum(f.number for f in answer.fittings)} fitted in {len(answer.fittings)} repairs; "
        f"still carried by {len(units)} of the units, as far as the notes go."
        + (f" {unknown} went into a unit without a number." if unknown else ""),
        "  ",
    )
    rows = [
        (
            f"{f.fitted:%Y-%m-%d}\n{f.case}",
            f"{f.unit or 'no number'}\n{f.family}",
            f"{f.number} ×" + (f"\nbatch {f.batch}" if f.batch else ""),
            f.at or "",
            f"{f.came_back_as}\nafter {f.came_back_days} days" if f.came_back_as else "",
            _now(f),
        )
        for f in answer.fittings[:SHOWN]
    ]
    table(["fitted", "unit", "part", "fault at", "came back", "carried now"], rows)
    if len(answer.fittings) > SHOWN:
        say(f"  and {len(answer.fittings) - SHOWN} more; --csv and --json have all")
    if answer.batches:
        heading("How the batches hold")
        held = [
            (h.batch or "", h.label, held_of(h), share_of(h), str(h.came_back))
            for h in answer.batches[:SHOWN]
        ]
        table(["batch", "part", "held", "share, 95 %", "came back"], held, right=(2, 3, 4))
    say()
    wrapped(
        "A unit carries a part until a later note of it fits such a part again, of whatever "
        "batch, or closes as beyond repair. What was changed elsewhere is not known here."
    )


def _now(f: Fitting) -> str:
    if f.carried is None:
        return "not known"
    if f.carried:
        return "yes"
    return f"no: {f.ended_how}\n{f.ended_by}"


def _print_sheet(answer: BatchTrace) -> None:
    print_csv(
        ("fitted", "case", "family", "unit", "part", "batch", "number", "at", "cause",
         "came_back_as", "came_back_days", "carried", "ended_by", "ended_how"),
        (
            (str(f.fitted), f.case, f.family, f.unit, f.part, f.batch, f.number, f.at, f.cause,
             f.came_back_as, f.came_back_days, f.carried, f.ended_by, f.ended_how)
            for f in answer.fittings
        ),
    )  # fmt: skip
