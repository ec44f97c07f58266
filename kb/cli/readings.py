"""`benchbook readings`."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil, log10

import click

from kb.cli.common import json_option, opened_book, tell_refused
from kb.cli.output import heading, print_json, say, table, wrapped
from kb.cli.sheet import csv_option, one_form, print_csv
from kb.values_readings import FamilyReadings, PointReadings, Unusual

POINTED = 3
"""How many causes are named for one side of a point."""
TELLING = 1.5
"""A likelihood ratio below this is not worth a line; --json and --csv have all."""
MOST_PLACES = 9


@click.command("readings")
@click.argument("family")
@json_option
@csv_option
@click.pass_context
def command(ctx: click.Context, family: str, as_json: bool, as_csv: bool) -> None:
    """What a healthy unit of a FAMILY measures, and which readings stood out.

    Each unusual reading stands with the cause that was found with it.
    """
    one_form(as_json, as_csv)
    with opened_book(ctx) as book:
        answer = book.readings(family)
        tell_refused(book)
    if as_json:
        print_json(answer)
    elif as_csv:
        _print_sheet(answer)
    else:
        _show(answer)


def _show(answer: FamilyReadings) -> None:
    heading(f"What a healthy {answer.label} measures ({answer.family})")
    if not answer.points:
        say("  Nobody has noted a reading, and the vocabulary has no nominal value.")
        if answer.families:
            wrapped(f"Ask for one of its families: {', '.join(answer.families)}", "  ")
        return
    say()
    wrapped(
        "Most of these points are live while they are measured. Everything that must be read "
        "before that stands at the end.",
        "    ",
        "  ! ",
    )
    say()
    table(
        ["test point", "usual from … to", "median", "nominal", "readings"],
        [_row(p) for p in answer.points if p.count or p.nominal is not None],
        right=(1, 2, 3, 4),
    )
    _show_footing(answer)
    _show_unusual(answer)
    heading("Before you measure any of it")
    for text in answer.cautions:
        wrapped(text, "    ", "  ! ")


def _row(p: PointReadings) -> tuple[str, ...]:
    usual = ""
    if p.low is not None and p.high is not None:
        usual = f"{_number(p, p.low)} … {_number(p, p.high)} {p.unit}"
    return (
        _named(p) + ("\nbrought to nominal mains" if p.exponent else ""),
        usual + ("\nby the nominal" if p.by == "nominal" else ""),
        "" if p.median is None else _value(p, p.median),
        "" if p.nominal is None else f"{p.nominal:g} {p.unit}" + _tolerance(p),
        str(p.count) if p.count == p.units else f"{p.count}\n{p.units} units",
    )


def _tolerance(p: PointReadings) -> str:
    if p.nominal_range is None or p.nominal is None:
        return ""
    reach = p.nominal_range[1] - p.nominal
    return f"\n± {reach:.3g} {p.unit}"


def _show_footing(answer: FamilyReadings) -> None:
    follows = [p for p in answer.points if p.exponent]
    if follows:
        say()
        wrapped(
            f"These follow the mains, as their readings show, and are given for "
            f"{answer.mains:g} V: {'; '.join(map(_following, follows))}.",
            "  ",
        )
    few = [p for p in answer.points if p.by != "readings"]
    if few:
        say()
        wrapped(
            "Where healthy readings are too few for a narrower range, the nominal value and its "
            "tolerance stand in, if there are any.",
            "  ",
        )
    left_out: dict[str, int] = {}
    for p in answer.points:
        for why, count in p.left_out.items():
            left_out[why] = left_out.get(why, 0) + count
    if left_out:
        reasons = ", ".join(f"{why} {count}" for why, count in sorted(left_out.items()))
        say()
        wrapped(f"Readings as left that do not count as healthy: {reasons}.", "  ")
    if answer.unsaid:
        say()
        wrapped(f"Of {answer.unsaid} more nobody wrote whether they are as found or as left.", "  ")


def _following(p: PointReadings) -> str:
    how = "" if p.exponent == 1 else f" (to the power of {p.exponent:.1f})"
    if p.raw is None:
        return f"{_named(p)}{how}"
    return (
        f"{_named(p)}{how} (not brought to one voltage: {_number(p, p.raw[0])} to "
        f"{_number(p, p.raw[1])} {p.unit})"
    )


def _show_unusual(answer: FamilyReadings) -> None:
    telling = [p for p in answer.points if p.unusual]
    heading("What stood out, and what was found")
    if not telling:
        say("  No reading stood out.")
    for p in telling:
        say()
        wrapped(_named(p), "  ")
        for one in p.unusual:
            wrapped(_sentence(one), "      ", "    - ")
        for side in dict.fromkeys(one.side for one in p.unusual):
            _show_pointers(p, side)


def _sentence(one: Unusual) -> str:
    mains = "" if one.mains is None else f" at {one.mains:g} V mains"
    within = ", though within the tolerance" if one.within_nominal else ""
    if one.modified:
        found = f"the unit is modified: {', '.join(one.modified)}"
    elif one.cause_labels:
        found = " and ".join(one.cause_labels)
    else:
        found = "no cause noted"
    return (
        f"{one.side} {one.when.replace('-', ' ')}{within}: {one.noted}{mains} in "
        f"{one.case}: {found} (score {one.score:.1f})"
    )


def _show_pointers(p: PointReadings, side: str) -> None:
    told = [pointer for pointer in p.pointers if pointer.side == side and pointer.ratio > TELLING]
    if not told:
        return
    wrapped(f"{side} here pointed to, in all families:", "    ")
    for one in told[:POINTED]:
        others = "never with others"
        if one.others:
            others = f"with others in {one.others:.3g} of {one.others_read:.3g}"
        elif not one.others_read:
            others = "never read with others"
        wrapped(
            f"{one.label}: in {one.count:.3g} of {one.read:.3g} visits, {others} "
            f"(likelihood ratio {one.ratio:.1f})",
            "        ",
            "      ",
        )


def _named(p: PointReadings) -> str:
    return p.at if p.state is None else f"{p.at}, {p.state}"


def _value(p: PointReadings, value: float) -> str:
    return f"{_number(p, value)} {p.unit}"


def _number(p: PointReadings, value: float) -> str:
    """As many decimals as the width of the usual range makes sense of."""
    width = abs(value) / 10
    if p.low is not None and p.high is not None:
        width = p.high - p.low
    places = ceil(-log10(width / 10)) if width > 0 else 0
    # An unusual reading must not look like the end of the range that it lies beyond.
    ends = [end for end in (p.low, p.high) if end is not None]
    strange = [u.value if u.brought_to is None else u.brought_to for u in p.unusual]
    while places < MOST_PLACES and any(
        round(end, places) == round(read, places) for end in ends for read in strange if read != end
    ):
        places += 1
    return f"{value:.{min(max(places, 0), MOST_PLACES)}f}"


def _print_sheet(answer: FamilyReadings) -> None:
    print_csv(
        ("row", "at", "state", "unit", "when", "case", "value", "score", "side", "mains",
         "causes", "count", "units", "median", "low", "high", "by", "nominal", "nominal_low",
         "nominal_high", "follows_mains", "exponent", "raw_low", "raw_high", "visits",
         "visits_read", "others", "others_read", "ratio"),
        (row for p in answer.points for row in _sheet_rows(p)),
    )  # fmt: skip


def _sheet_rows(p: PointReadings) -> Iterable[tuple[object, ...]]:
    place = (p.at, p.state, p.unit)
    none = (None, None)
    yield (
        "healthy", *place, p.when, *(None,) * 6, p.count, p.units, p.median, p.low, p.high, p.by,
        p.nominal, *(p.nominal_range or none), p.mains, p.exponent, *(p.raw or none), *(None,) * 5,
    )  # fmt: skip
    for one in p.unusual:
        yield (
            "unusual", *place, one.when, one.case, one.value, one.score, one.side, one.mains,
            one.causes, *(None,) * 18,
        )  # fmt: skip
    for told in p.pointers:
        yield (
            "pointed to", *place, *(None,) * 4, told.side, None, told.cause, *(None,) * 13,
            told.count, told.read, told.others, told.others_read, told.ratio,
        )  # fmt: skip
