"""What the commands print with: streams that cannot fail, JSON, tables, progress."""

from __future__ import annotations

import codecs
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from kb.indexing import Progress

_PLAIN = {
    "Ω": "ohm", "\u2126": "ohm", "µ": "u", "μ": "u", "°": "deg ", "–": "-", "—": "-", "…": "...",
    "→": "->", "×": "x", "±": "+/-", "≥": ">=", "≤": "<=", "·": "*", "‘": "'", "’": "'",
    "“": '"', "”": '"', "•": "*", "█": "#", "─": "-", "½": "1/2", "²": "2", "£": "GBP ",
}  # fmt: skip
WIDTH = 80
PATIENCE = 1.0
"""Seconds before a run counts as long."""


def _plain(fault: UnicodeError) -> tuple[str, int]:
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    part = fault.object[fault.start : fault.end]
    return "".join(_PLAIN.get(c, "?") for c in part), fault.end


def prepare_streams() -> None:
    """Let output survive a terminal that cannot print "Ω": it then prints "ohm"."""
    codecs.register_error("benchbook-plain", _plain)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="benchbook-plain")


def say(text: str | bytes = "", err: bool = False) -> None:
    """Print a line; the stream is named, or click would write UTF-8 to an ASCII terminal."""
    click.echo(text, file=sys.stderr if err else sys.stdout)


def print_json(value: Any) -> None:
    """Print a value as JSON on standard output."""
    import msgspec

    text = msgspec.json.format(msgspec.json.encode(value), indent=2).decode()
    say(text.encode("utf-8"))


def heading(text: str) -> None:
    """Print a heading, set off by an empty line."""
    say()
    say(click.style(text, bold=True))


def wrapped(text: str, indent: str = "", first: str | None = None) -> None:
    """Print text wrapped to the terminal's width, at most 80 columns."""
    lead = indent if first is None else first
    say(click.wrap_text(text, width=width(), initial_indent=lead, subsequent_indent=indent))


def width() -> int:
    """How many columns to use: the terminal's, from 40 to 100."""
    import shutil

    return max(40, min(shutil.get_terminal_size((WIDTH, 24)).columns, 100))


def marked(snippet: str) -> str:
    """A snippet with its `**` marks turned into bold type, or left as they are in a pipe."""
    if not sys.stdout.isatty():
        return snippet
    parts = snippet.split("**")
    return "".join(click.style(p, bold=True) if i % 2 else p for i, p in enumerate(parts))


def table(
    headings: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = ()
) -> None:
    """Print a table that fits the terminal; the columns in `right` are set flush right."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    grid = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, header_style="bold")
    for i, name in enumerate(headings):
        grid.add_column(name, justify="right" if i in right else "left", overflow="fold")
    from rich.text import Text

    for row in rows:
        grid.add_row(*(Text(cell) for cell in row))
    console = Console(width=width(), highlight=False, emoji=False, markup=False)
    with console.capture() as printed:
        console.print(grid)
    for line in printed.get().rstrip("\n").split("\n"):
        say(line.rstrip())


@contextmanager
def progress() -> Iterator[Progress]:
    """A progress line on standard error that shows only on a terminal and only on a long run."""
    import time

    started = time.monotonic()
    bar: Any = None
    task: Any = None

    def tell(what: str, done: int, total: int) -> None:
        nonlocal bar, task
        if bar is None:
            if not sys.stderr.isatty() or time.monotonic() - started < PATIENCE:
                return
            from rich.console import Console
            from rich.progress import Progress as Bar

            bar = Bar(console=Console(stderr=True), transient=True)
            task = bar.add_task(what)
            bar.start()
        bar.update(task, description=what, completed=done, total=total)

    try:
        yield tell
    finally:
        if bar is not None:
            bar.stop()
