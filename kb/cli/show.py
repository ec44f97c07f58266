"""`benchbook show`."""

from __future__ import annotations

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import heading, print_json, say, width, wrapped
from kb.notes.case import Case, Fault
from kb.notes.vocabulary import Vocabulary


@click.command("show")
@click.argument("case")
@json_option
@click.pass_context
def command(ctx: click.Context, case: str, as_json: bool) -> None:
    """Show one case, readable."""
    with opened_book(ctx) as book:
        found = book.case(case)
        words = book.vocabulary
        tell_refused(book)
    if as_json:
        print_json(found)
    else:
        show_case(found, words)


def show_case(case: Case, words: Vocabulary) -> None:
    """Print a case from its complaint to its body."""
    family = words.families[case.family].label if case.family in words.families else case.family
    say(click.style(f"{case.case}  {family}", bold=True))
    _line("complaint", f"“{case.complaint}”")
    _line("unit", ", ".join(x for x in (case.unit, case.built and f"built {case.built}") if x))
    _line("modified", ", ".join(case.modified))
    finished = f", finished {case.finished} as {case.closed_as}" if case.finished else ", open"
    waiting = f", waiting for {case.waiting}" if case.waiting else ""
    back = f", returned {case.returned}" if case.returned else ""
    _line("received", f"{case.received}{finished}{waiting}{back}")
    _line("comeback of", case.comeback_of)
    for number, fault in enumerate(case.faults, 1):
        if len(case.faults) > 1:
            heading(f"Fault {number}")
        _show_fault(fault, words)
    _show_visit(case)
    if case.body:
        say()
        _show_body(case.body)


def _show_body(body: str) -> None:
    """Print the body as it was written; only long lines of prose are wrapped."""
    for line in body.split("\n"):
        if len(line) <= width() or line.lstrip().startswith(("|", ">", "    ", "```")):
            say(line)
        else:
            wrapped(line)


def _show_fault(fault: Fault, words: Vocabulary) -> None:
    _line("symptoms", ", ".join((*fault.symptom, *fault.seen)))
    _line("not there", ", ".join(fault.absent))
    times = (
        fault.reproduced and f"reproduced: {fault.reproduced}",
        fault.onset and f"after {fault.onset}",
        fault.every and f"about every {fault.every}",
    )
    _line("showing", ", ".join(x for x in times if x))
    for made in fault.checks:
        label = words.checks[made.check].label if made.check in words.checks else made.check
        extra = [x for x in (made.at, made.minutes and f"{made.minutes:g} min", made.note) if x]
        tail = f" ({'; '.join(map(str, extra))})" if extra else ""
        _line("check", f"{label}: {made.outcome}{tail}")
    if fault.root_cause:
        extra = [x for x in (fault.at, fault.confirmed_by and f"by {fault.confirmed_by}") if x]
        _line("root cause", " — ".join((fault.root_cause, *extra)))
    _line("brought on by", fault.brought_on_by)
    _line("took with it", ", ".join(fault.took_with_it))
    _line("fix", ", ".join(fault.fix))
    parts = (p.part + (f" (batch {p.batch})" if p.batch else "") for p in fault.parts)
    _line("parts", ", ".join(parts))
    _line("hands on", f"{fault.minutes:g} min" if fault.minutes is not None else None)


def _show_visit(case: Case) -> None:
    if case.proved:
        run = f"ran {case.proved.run}" if case.proved.run else None
        under = "with " + ", ".join(case.proved.under) if case.proved.under else None
        _line("proved", ", ".join(x for x in (run, under, case.proved.result) if x))
    for r in case.readings:
        when = ", ".join(x for x in (r.when, r.state, r.mains and f"mains {r.mains}") if x)
        _line("reading", f"{r.at}: {r.value}" + (f" ({when})" if when else ""))
    if case.safety:
        values = [f"{name} {value}" for name, value in case.safety.measured]
        _line("safety", ", ".join((*values, case.safety.result or "")).strip(", "))
    for offer in case.offered:
        price = f"{offer.price:g}" if offer.price is not None else None
        _line("offered", ", ".join(x for x in (offer.do, price, offer.urgency, offer.owner) if x))
    _line("found too", ", ".join(case.found_too))


def _line(name: str, value: str | None) -> None:
    if value:
        wrapped(value, " " * 16, f"{name + ':':<16}")
