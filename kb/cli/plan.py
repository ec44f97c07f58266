"""How the terminal shows a plan of checks, and what going further would take."""

from __future__ import annotations

from collections.abc import Sequence

from kb.cli.output import heading, say, wrapped
from kb.values import Further, Plan

RESTS_ON = {
    "symptoms-and-kind": "faults with such symptoms in such units",
    "symptoms": "faults with such symptoms",
    "kind": "faults of such units",
    "book": "faults of the whole book",
}
NEARLY_ALL = 0.9
LEAST_TOLD = 0.005


def show_plan(plan: Plan, advice: Sequence[str]) -> None:
    """Print the checks along the likeliest outcomes, where they end, and the minutes."""
    heading("A plan, along the likeliest outcomes (by this book's own model)")
    for number, step in enumerate(plan.steps, 1):
        first = "FIRST: " if step.first else ""
        cover = ", the cover comes off here" if step.opens else ""
        wait = f" and {step.wait:g} min waiting" if step.wait else ""
        wrapped(f"{first}{step.label} ({step.check})", "     ", f"  {number}. ")
        wrapped(f"{step.access}, {step.minutes:g} min{wait}{cover}", "     ", "     ")
        if step.outcome:
            wrapped(
                f"likeliest: {step.outcome} ({100 * step.chance:.0f} %), then {step.leads_label} "
                f"leads with {100 * step.probability:.0f} %",
                "     ",
                "     ",
            )
    for number, sentence in enumerate(advice):
        wrapped(sentence, "     ", None if number else "  => ")
    say()
    say("  Hands-on minutes to the cause put right, on average over all outcomes:")
    say(f"  {plan.expected:6.0f}  by this plan")
    if plan.usual and plan.usual_expected is not None:
        told = f"{plan.usual.faults} {RESTS_ON.get(plan.usual.rests_on, 'faults')}"
        say(f"  {plan.usual_expected:6.0f}  by the order usual here (from {told})")
    say(f"  {plan.trying:6.0f}  by trying parts at once, the likeliest first")
    if plan.usual:
        wrapped(f"Usual here: {', '.join(plan.usual.checks[:6])}", "    ", "  ")
    if plan.followed < NEARLY_ALL:
        wrapped(
            f"{100 * (1 - plan.followed):.0f} % of what may happen was not followed to its end.",
            "    ",
            "  ",
        )


def show_further(further: Sequence[Further]) -> None:
    """Print what the best checks above the allowed access would tell and take."""
    for access in dict.fromkeys(f.access for f in further):
        there = [f for f in further if f.access == access]
        heading(f"Not proposed: these take access “{access}”")
        for f in there:
            cover = f", {f.cover:g} of them to open it safely" if f.cover else ""
            bits = f"{f.bits:.2f} bits" if f.bits >= LEAST_TOLD else "little"
            told = f"tells {bits} in {f.minutes:.0f} min{cover}"
            wrapped(f"{f.label}: {told}", "      ", "    - ")
        wrapped(there[0].caution, "    ", "    ")
