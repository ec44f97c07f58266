"""CSV for a spreadsheet, after RFC 4180, in UTF-8."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar

import click

from kb.cli.output import say

F = TypeVar("F", bound=Callable[..., Any])
_FORMULA = ("=", "@", "\t", "\r")


def csv_option(function: F) -> F:
    """Add `--csv`."""
    return click.option(
        "--csv", "as_csv", is_flag=True, help="Print CSV for a spreadsheet instead of text."
    )(function)


def one_form(as_json: bool, as_csv: bool) -> None:
    """Raise UsageError if both forms are asked for."""
    if as_json and as_csv:
        raise click.UsageError("--json and --csv exclude each other")


def print_csv(headings: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Print a heading and rows on standard output; None is an empty cell, a list is joined."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(headings)
    writer.writerows([_cell(value) for value in row] for row in rows)
    say(text.getvalue().rstrip("\n").encode("utf-8"))


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, (tuple, list)):
        return _text("; ".join(map(str, value)))
    return _text(str(value)) if isinstance(value, str) else str(value)


def _text(text: str) -> str:
    """Text that a spreadsheet takes for text: a note must not become a formula there."""
    signed = text[:1] in "+-" and not text[1:2].isdigit()
    return f"'{text}" if text and (text.startswith(_FORMULA) or signed) else text
