"""`benchbook comebacks`."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import heading, print_json, say, table, wrapped
from kb.cli.sheet import csv_option, one_form, print_csv
from kb.values_history import Comebacks, Holding, worth_telling

SHOWN = 8
_Name = Callable[[Holding], str]


@click.command("comebacks")
@click.argument("family", required=False)
@json_option
@csv_option
@click.pass_context
def command(ctx: click.Context, family: str | None, as_json: bool, as_csv: bool) -> None:
    """Which repairs came back, and how often each sort holds.

    FAMILY may also be a line; without it: every family. Worst first.
    """
    one_form(as_json, as_csv)
    with opened_book(ctx) as book:
        answer = book.comebacks(family)
        tell_refused(book)
    if as_json:
        print_json(answer)
    elif as_csv:
        _print_sheet(answer)
    else:
        _show(answer)


def held_of(h: Holding) -> str:
    """How many of the followed repairs held, and how many are too young to say."""
    said = f"{h.held} of {h.followed}" if h.followed else "none yet"
    young = h.fixes - h.followed
    return f"{said}, {young} young" if young else said


def share_of(h: Holding) -> str:
    """The share that holds, as an interval in per cent."""
    if not h.followed:
        return ""
    return f"{100 * h.interval[0]:.0f} to {100 * h.interval[1]:.0f} %"


def _show(answer: Comebacks) -> None:
    if answer.as_of is None or not answer.overall.fixes:
        say("No repair has gone out yet.")
        return
    whole = answer.overall
    heading(f"Repairs that held {answer.days} days, counted to {answer.as_of:%d %B %Y}")
    wrapped(
        f"Of {whole.fixes} faults put right {whole.came_back} came back. "
        f"{whole.held} of the {whole.followed} that have been out that long held"
        + (f" ({share_of(whole)})." if whole.followed else "."),
        "  ",
    )
    if answer.course:
        last = answer.course[-1]
        low, high = (100 * end for end in last.interval)
        wrapped(
            f"With the young ones counted as far as they go, {100 * last.share:.0f} % hold longer "
            f"than {last.days} days ({low:.0f} to {high:.0f} %).",
            "  ",
        )
    if answer.comebacks:
        heading("What came back, soonest first")
        rows = [
            (c.case, c.back_as, str(c.days), c.unit or "", ", ".join(c.causes), c.how)
            for c in answer.comebacks[:SHOWN]
        ]
        table(["repair", "back as", "days", "unit", "cause", "known by"], rows, right=(2,))
        _tell_more(len(answer.comebacks))
    _show_sorts("By cause", answer.causes, lambda h: f"{h.label}\n{h.cause}")
    _show_sorts("By what was done", answer.fixes, lambda h: f"{h.label}\n{h.fix}")
    _show_sorts("By part", answer.parts, lambda h: h.label)
    _show_sorts("By batch", answer.batches, lambda h: f"{h.label}\nbatch {h.batch}")
    say()
    wrapped(
        f"A repair is judged once it has been out for {answer.days} days; younger ones are not "
        "counted as held. Worst first, by the upper end of what the share can be, so one unlucky "
        "repair does not head the list; sorts of which nothing came back are left out (--csv and "
        "--json have them). A unit that never returned may also have gone elsewhere."
    )


def _show_sorts(title: str, sorts: Sequence[Holding], name: _Name) -> None:
    """Those with a comeback, and beside a fix the other fixes of its cause."""
    worth = worth_telling(sorts)
    if not worth:
        return
    heading(title)
    rows = [(name(h), held_of(h), share_of(h), str(h.came_back)) for h in worth[:SHOWN]]
    table(["", "held", "share that holds, 95 %", "came back"], rows, right=(1, 2, 3))
    _tell_more(len(worth))


def _tell_more(number: int) -> None:
    if number > SHOWN:
        say(f"  and {number - SHOWN} more; --csv and --json have all")


def _print_sheet(answer: Comebacks) -> None:
    sorts = {
        "all": (answer.overall,),
        "cause": answer.causes,
        "fix": answer.fixes,
        "part": answer.parts,
        "batch": answer.batches,
    }
    print_csv(
        ("sort", "cause", "label", "fix", "part", "batch", "fixes", "followed", "held",
         "came_back", "share", "low", "high", "days", "as_of"),
        (
            (sort, h.cause, h.label, h.fix, h.part, h.batch, h.fixes, h.followed, h.held,
             h.came_back, h.share, *h.interval, answer.days, str(answer.as_of or ""))
            for sort, of_sort in sorts.items()
            for h in of_sort
        ),
    )  # fmt: skip
