"""What several commands share: opening the book, common options, the word on refused notes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import click

from kb.book import Book, find_book
from kb.cli.output import progress, say

F = TypeVar("F", bound=Callable[..., Any])


def json_option(function: F) -> F:
    """Add `--json`."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")(
        function
    )


@contextmanager
def opened_book(ctx: click.Context) -> Iterator[Book]:
    """The book that the options name, with progress shown on a long run."""
    chosen = ctx.obj["book"]
    folder = Path(chosen) if chosen else find_book(Path.cwd())
    with progress() as tell, Book.open(folder, ctx.obj["cache"]) as book:
        book.progress = tell
        yield book


def tell_refused(book: Book) -> None:
    """Say on standard error that some notes could not be used, and what else is odd."""
    for remark in book.remarks:
        say(f"benchbook: {remark}", err=True)
    refused = book.refused()
    faulty = sum(p.severity == "error" for p in book.vocabulary_problems)
    if refused:
        notes = "1 note" if refused == 1 else f"{refused} notes"
        say(f"benchbook: {notes} left out because of a fault: see benchbook check", err=True)
    if faulty:
        say("benchbook: book.yaml or the vocabulary has faults: see benchbook check", err=True)


def read_date(ctx: click.Context, param: click.Parameter, value: str | None) -> dt.date | None:
    """Read YYYY-MM-DD, a year and month, or a year; a shorter form means its first day."""
    if value is None:
        return None
    whole = value + {4: "-01-01", 7: "-01"}.get(len(value), "")
    try:
        return dt.datetime.strptime(whole, "%Y-%m-%d").date()
    except ValueError as fault:
        message = f"'{value}' is not a date: write 2024-03-31, 2024-03 or 2024"
        raise click.BadParameter(message, ctx, param) from fault
