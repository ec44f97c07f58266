"""`benchbook diagnose`."""

from __future__ import annotations

import math

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import heading, print_json, say, wrapped
from kb.cli.plan import show_further, show_plan
from kb.values import Diagnosis, LikelyCause, NextCheck

NAMED_ABOVE = "Not proposed, because it takes access"
"""these are told by `show_further` with what they would take"""
SHOWN = 6
EXPLAINED = 3
TRIED = 6
LEAST_TOLD = 0.005
BAR = 10
INDENT = " " * 18


def read_checks(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[tuple[str, str], ...]:
    """Read each CHECK=OUTCOME."""
    found = []
    for value in values:
        check, equals, outcome = value.partition("=")
        if not (check and equals and outcome):
            message = f"'{value}' must be CHECK=OUTCOME, as tap-valves=no-change"
            raise click.BadParameter(message, ctx, param)
        found.append((check.strip(), outcome.strip()))
    return tuple(found)


@click.command("diagnose")
@click.argument("text", nargs=-1)
@click.option("--family", metavar="F", help="The model family of the unit.")
@click.option("--symptom", "symptoms", metavar="S", multiple=True, help="A symptom it shows.")
@click.option("--absent", metavar="S", multiple=True, help="One that was looked for, not there.")
@click.option(
    "--check",
    "checks",
    metavar="CHECK=OUTCOME",
    callback=read_checks,
    multiple=True,
    help="A check that was made and how it came out; give them in their order.",
)
@click.option(
    "--access",
    type=click.Choice(["outside", "open", "live"]),
    default="outside",
    show_default=True,
    help="How far you may go: nothing opened; cover off, unplugged, proved dead; or cover off "
    "and energised, which is only for people trained for it.",
)
@click.option(
    "--modified",
    metavar="CHANGE",
    multiple=True,
    help="What of the unit is not as it left the maker, as solid-state-rectifier.",
)
@click.option(
    "--reading",
    "readings",
    metavar="READING",
    multiple=True,
    help="A value as found on this unit, as 'first-filter=291 V @ 221 V, idle': test point, value, "
    "mains and state. Needs --family.",
)
@click.option("--plan", is_flag=True, help="A whole sequence of checks, and what it would take.")
@json_option
@click.pass_context
def command(
    ctx: click.Context,
    text: tuple[str, ...],
    family: str | None,
    symptoms: tuple[str, ...],
    absent: tuple[str, ...],
    checks: tuple[tuple[str, str], ...],
    access: str,
    modified: tuple[str, ...],
    readings: tuple[str, ...],
    plan: bool,
    as_json: bool,
) -> None:
    """Likely causes of a complaint, and what to try next.

    TEXT is the complaint in plain words; symptoms it names are recognised.
    """
    with opened_book(ctx) as book:
        answer = book.diagnose(
            " ".join(text), family, symptoms, absent, checks, access, modified, readings, plan
        )
        tell_refused(book)
    if as_json:
        print_json(answer)
    else:
        show_diagnosis(answer, asked=bool(text))


def show_diagnosis(answer: Diagnosis, asked: bool = True) -> None:
    """Print the answer: danger, causes, why, next checks, cautions. `asked` if in free words."""
    for sentence in answer.danger:
        wrapped(sentence, "    ")
    if answer.recognised or answer.denied:
        absent = f"; not there: {', '.join(answer.denied)}" if answer.denied else ""
        wrapped(f"Understood as: {', '.join(answer.recognised) or 'no symptom'}{absent}")
    elif asked:
        wrapped(
            "No symptom of the vocabulary was recognised in these words, so they count little. "
            "Name one with --symptom; they stand in vocabulary/symptoms.yaml."
        )
    _show_causes(answer)
    _show_second_thoughts(answer)
    _show_why(answer.causes[:EXPLAINED])
    _show_checks(answer.next_checks)
    for sentence in answer.advice:
        wrapped(sentence, "     ", "  => " if sentence == answer.advice[0] else None)
    if answer.plan:
        show_plan(answer.plan, answer.plan_advice)
    show_further(answer.further)
    for note in answer.notes:
        if not note.startswith(NAMED_ABOVE):
            say()
            wrapped(note)
    heading("Before you start")
    for caution in answer.cautions:
        wrapped(caution, "    ", "  - ")


def _show_causes(answer: Diagnosis) -> None:
    level = round(100 * answer.level)
    faults = "1 fault" if answer.faults_known == 1 else f"{answer.faults_known} faults"
    heading(f"Likely causes, from {faults} with a known cause ({level} % ranges in brackets)")
    for c in answer.causes[:SHOWN]:
        low, high = (round(100 * x) for x in c.interval)
        wrapped(
            f"{_bar(c.probability)} {_percent(c.probability)} ({low} to {high})  {c.label}",
            INDENT,
            " ",
        )
        cases = ", ".join(c.cases[:4]) + (
            f" and {len(c.cases) - 4} more" if len(c.cases) > 4 else ""
        )
        wrapped(f"{c.cause}; {cases}", INDENT, INDENT)
    others = answer.causes[SHOWN:]
    if others:
        rest = sum(c.probability for c in others)
        say(f" {_bar(rest)} {_percent(rest)}  {len(others)} other known causes together")
    say(f" {_bar(answer.unseen)} {_percent(answer.unseen)}  a cause that is not in this book yet")


def _show_second_thoughts(answer: Diagnosis) -> None:
    """Whether it may be two faults, and how long it may take."""
    labels = {c.cause: c.label for c in answer.causes}
    two, time = answer.two_faults, answer.time
    if two:
        told = " and ".join(
            f"{labels[cause]} (for {', '.join(_bare(e) for e in explained) or 'the rest'})"
            for cause, explained in zip(two.causes, two.explains, strict=True)
        )
        say()
        wrapped(f"Perhaps two faults ({_percent(two.probability).strip()}): {told}.")
    if time:
        say()
        wrapped(
            f"Time: {round(10 * time.share)} of 10 such faults took up to {_hours(time.under)} "
            f"hands on, half of them up to {_hours(time.middle)} (times noted in {time.faults} "
            "faults of the likely causes, and in the rest of the book)."
        )


def _bare(evidence: str) -> str:
    return evidence.partition(":")[2]


def _hours(minutes: float) -> str:
    if minutes < 90:
        return f"{minutes:.0f} min"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def _show_why(causes: tuple[LikelyCause, ...]) -> None:
    if not causes:
        return
    heading("Why (how much likelier or less likely than under the other causes)")
    for cause in causes:
        prior, *evidence = cause.why
        before = _percent(_chance(prior.log_odds)).strip()
        wrapped(f"{cause.label}: {before} before the evidence", "    ", "  ")
        for piece in sorted(evidence, key=lambda w: -abs(w.log_odds)):
            wrapped(f"{_strength(piece.log_odds)}  {piece.evidence}", "      ", "      ")
        for behind in cause.behind:
            times = "once" if behind.faults <= 1 else f"{behind.faults:g} times"
            wrapped(
                f"before you blame it: {behind.label} took it along {times}; look there too",
                "        ",
                "      ",
            )
        for remark in cause.remarks:
            wrapped(remark, "        ", "      ")
        if cause.confirm:
            wrapped(f"to confirm: {cause.confirm}", "        ", "      ")
    wrapped(
        "Confirming may take the cover off or power on: the access that you allow, and its "
        "cautions, hold for that too.",
        "  ",
        "  ",
    )


def _show_checks(checks: tuple[NextCheck, ...]) -> None:
    heading("What to try next")
    if not checks:
        wrapped(
            "Nothing that this book has seen within this access would tell the likely causes "
            "apart. A young book knows few checks: begin with what needs no tool.",
            "  ",
            "  ",
        )
    for number, check in enumerate(checks[:TRIED], 1):
        first = "FIRST: " if check.first else ""
        owner = "; the owner may do it" if check.owner_ok else ""
        wait = f" and {check.wait:g} min waiting" if check.wait else ""
        told = f"; tells {check.bits:.2f} bits" if check.bits >= LEAST_TOLD else ""
        wrapped(f"{first}{check.label} ({check.check})", "     ", f"  {number}. ")
        wrapped(f"{check.access}, {check.minutes:g} min{wait}{owner}{told}", "     ", "     ")
        if check.how and (check.first or check.access == "live"):
            wrapped(" ".join(check.how.split()), "     ", "     ")
        if check.first:
            continue  # what it may show is no guess to act on
        for outcome, chance in sorted(check.outcomes.items(), key=lambda x: (-x[1], x[0])):
            after = [
                f"{cause} {_percent(p).strip()}" for cause, p in check.then.get(outcome, {}).items()
            ]
            then = f": then {after[0]}" if after else ""
            wrapped(f"{_percent(chance)} {outcome}{then}", "          ", "     ")


def _bar(p: float) -> str:
    filled = round(BAR * p)
    return "█" * filled + "·" * (BAR - filled)


def _percent(p: float) -> str:
    value = 100 * p
    return f"{value:3.0f} %" if value >= 0.5 or value == 0 else " <1 %"


def _chance(log_odds: float) -> float:
    return 1 / (1 + math.exp(-log_odds)) if log_odds < 700 else 1.0


def _strength(log_odds: float) -> str:
    """How many times likelier or less likely than under the other causes."""
    factor = math.exp(min(abs(log_odds), 20.0))
    if factor < 1.05:
        return "says little"
    return f"odds × {factor:.1f}" if log_odds > 0 else f"odds ÷ {factor:.1f}"
