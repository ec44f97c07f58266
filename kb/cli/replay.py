"""`benchbook replay`."""

from __future__ import annotations

import datetime as dt

import click

from kb.cli.common import json_option, opened_book, read_date, tell_refused
from kb.cli.output import heading, print_json, say, table, wrapped
from kb.values import Interval
from kb.values_replay import WHY, Baseline, CalibrationBin, EarlyCheck, Figures, PoorRanking, Replay

BAR = 24
SHOWN_POOR, SHOWN_CHECKS, SHOWN_CASES = 8, 5, 3
FEW = 10
"""of a probability that was given less often than this no sentence is made"""
OTHERS = {
    "most-common-in-family": "most common in family",
    "text-only": "most alike complaint",
}


@click.command("replay")
@click.option("--family", metavar="F", help="Ask only about this family or line.")
@click.option(
    "--since",
    metavar="DATE",
    callback=read_date,
    help="Ask only about faults received from then on (2024-03-31, 2024-03 or 2024).",
)
@json_option
@click.pass_context
def command(ctx: click.Context, family: str | None, since: dt.date | None, as_json: bool) -> None:
    """How well diagnose would have done on past faults.

    Each finished fault is asked as it stood on the day it came in, of what was finished by then.
    """
    with opened_book(ctx) as book:
        answer = book.replay(family, since)
        tell_refused(book)
    if as_json:
        print_json(answer)
    else:
        show_replay(answer)


def show_replay(answer: Replay) -> None:
    """Print how good the answers were, the calibration, what went badly and what came late."""
    if not answer.cases:
        _show_nothing(answer)
        return
    _show_sentences(answer)
    _show_figures("At intake", answer, answer.baselines)
    if answer.after_checks.cases:
        after = answer.after_checks
        _show_figures(
            f"After each check but the last ({_number(after.questions, 'question')} of "
            f"{_number(after.cases, 'fault')})",
            after,
            after.baselines,
        )
    _show_calibration(answer.calibration)
    _show_poor(answer)
    _show_early(answer.early_checks)
    say()
    wrapped(
        "A replay judges the answers that the notes would have got, not the bench: causes are "
        "those that were noted, and a fault that nobody found can't be asked."
    )


def _show_nothing(answer: Replay) -> None:
    if answer.too_early:
        came = _number(answer.too_early, "fault")
        wrapped(
            f"Too few faults to ask: {came} of known cause came in before any other was finished, "
            "so there was nothing to answer from."
        )
    else:
        wrapped("Too few faults to ask: no finished fault of known cause is among these.")


def _show_sentences(answer: Replay) -> None:
    heading(f"{_number(answer.cases, 'past fault')}, asked on the day each came in")
    first, three = (round(share * answer.cases) for share in (answer.top1, answer.top3))
    wrapped(
        f"The cause stood first for {first} ({_percent(answer.top1)}), among the first three for "
        f"{three} ({_percent(answer.top3)})."
    )
    telling = [b for b in answer.calibration if b.low >= 0.2 and b.count >= FEW]
    for b in sorted(telling, key=lambda b: (abs(b.low - 0.4), b.low))[:1]:
        came = round(b.observed * b.count)
        wrapped(
            f"Of {b.count} times it said {_range(b)} (on average {_percent(b.predicted)}), it came "
            f"true {came} times ({_percent(b.observed)})."
        )
    new = round(answer.unseen.observed * answer.cases)
    wrapped(
        f"To causes that the book didn't know yet it gave {_percent(answer.unseen.predicted)} on "
        f"average; so it was for {new} ({_percent(answer.unseen.observed)})."
    )
    if answer.assumed:
        wrapped(f"Of {_number(answer.assumed, 'fault')} the cause was assumed, never confirmed.")
    if answer.too_early:
        wrapped(f"{_number(answer.too_early, 'more')} came in before any fault was finished.")


def _show_figures(title: str, ours: Figures, others: dict[str, Baseline]) -> None:
    heading(title)
    rows = [
        (
            name,
            f"{f.log_loss:.2f}",
            _percent(f.top1),
            _percent(f.top3),
            f"{f.mean_reciprocal_rank:.2f}",
            f"{f.brier:.2f}",
        )
        for name, f in [("this ranking", ours), *((OTHERS[key], o) for key, o in others.items())]
    ]
    titles = ["", "log loss", "first", "first three", "mean 1/place", "Brier"]
    table(titles, rows, right=range(1, 6))
    for key, other in others.items():
        less = other.ours_less
        wrapped(
            f"less {OTHERS[key]}: log loss {less.log_loss:+.2f} "
            f"({_between(less.log_loss_interval)}), first three {100 * less.top3:+.0f} points "
            f"({_between(less.top3_interval, 100)})",
            "      ",
            "  ",
        )


def _show_calibration(bins: tuple[CalibrationBin, ...]) -> None:
    heading("What it said of a cause, and how often that came true (95 % ranges in brackets)")
    for b in bins:
        low, high = b.observed_interval
        said = f"{_range(b):>12}{b.count:>9} times"
        say(f"{said}      said {_bar(b.predicted)}")
        say(f"{'':27} came true {_bar(b.observed)} ({100 * low:.0f} to {100 * high:.0f})")


def _show_poor(answer: Replay) -> None:
    if not answer.missed:
        return
    missed = sum(answer.missed.values())
    heading(f"Not among the first three: {missed} of {answer.cases}")
    for why, number in answer.missed.items():
        say(f"  {number:>5}  {WHY[why]}")
    heading("The worst of them")
    for poor in answer.worst[:SHOWN_POOR]:
        wrapped(_of_poor(poor), "      ", "  ")


def _of_poor(poor: PoorRanking) -> str:
    place = (
        f"which the book did not know (it gave {_percent(poor.probability)} to that)"
        if poor.rank is None
        else f"in place {poor.rank} with {_percent(poor.probability)}: {WHY[poor.why]} "
        f"({_number(poor.seen, 'past fault')} of it)"
    )
    return (
        f"{poor.case}, {poor.family}: likeliest was {poor.likeliest_label} "
        f"({_percent(poor.likeliest_probability)}); it was {poor.label}, {place}"
    )


def _show_early(checks: tuple[EarlyCheck, ...]) -> None:
    if not checks:
        return
    heading("Checks that told much, but late: minutes spent on other checks before them")
    rows = [
        (
            f"{c.label}\n{c.check}",
            f"{c.faults} of {c.late}",
            f"{c.minutes_before:.0f}",
            f"{c.per_fault:.0f}",
            "" if c.own_minutes is None else f"{c.own_minutes:g}",
            ", ".join(c.cases[:SHOWN_CASES]),
        )
        for c in checks[:SHOWN_CHECKS]
    ]
    table(["check", "telling", "min before", "each", "takes", "cases"], rows, right=(1, 2, 3, 4))
    wrapped(
        "“Telling”: of the times that it came late, so often it confirmed the cause or moved it up "
        "most. What this can't know: whether it could have come first (no part is swapped before "
        "one is suspected), whether it would have been understood without the others, and what it "
        "would have cost where it tells nothing."
    )


def _bar(p: float) -> str:
    filled = round(BAR * p)
    return "█" * filled + "·" * (BAR - filled) + f" {_percent(p):>5}"


def _percent(p: float) -> str:
    value = 100 * p
    return f"{value:.0f} %" if value >= 9.5 or value == 0 else f"{value:.1f} %"


def _range(b: CalibrationBin) -> str:
    return f"{100 * b.low:.0f} to {100 * b.high:.0f} %"


def _between(interval: Interval, times: float = 1.0) -> str:
    low, high = (times * x for x in interval)
    return f"{low:+.2f} to {high:+.2f}" if times == 1.0 else f"{low:+.0f} to {high:+.0f}"


def _number(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 or what == "more" else f"{count} {what}s"
