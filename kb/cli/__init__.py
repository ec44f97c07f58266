"""The command line: one module per command; each parses, calls the Book and prints."""

from __future__ import annotations

import importlib
import os
import sys

import click

from kb.cli.output import prepare_streams, say
from kb.errors import BenchbookError
from kb.version import __version__

COMMANDS = (
    "demo", "check", "index", "search", "show", "diagnose", "weak-points", "comebacks", "batch",
    "while-open", "drawer", "ages", "readings", "replay", "owner-sheet", "site",
)  # fmt: skip


class _Commands(click.Group):
    """Loads the module of a command only when that command is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        module = importlib.import_module(f"kb.cli.{name.replace('-', '_')}")
        command: click.Command = module.command
        return command


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.option(
    "--book",
    metavar="DIR",
    type=click.Path(),
    help="The book to use; without it the current folder or the nearest parent with a "
    "book.yaml, else BENCHBOOK.",
)
@click.option(
    "--cache",
    metavar="DIR",
    type=click.Path(),
    help="Where indexes are kept, outside the book; without it BENCHBOOK_CACHE, else your "
    "cache folder.",
)
@click.version_option(__version__, prog_name="benchbook")
@click.pass_context
def group(ctx: click.Context, book: str | None, cache: str | None) -> None:
    """Ask the service history of your bench.

    Case notes go in; past cases, likely causes, the next check, weak points and a site come out.
    Start with: benchbook demo
    """
    ctx.obj = {"book": book, "cache": cache}


def main() -> None:
    """Run the command line. Exit status: 0 done, 1 book or question at fault, 2 wrong usage."""
    prepare_streams()
    try:
        group(prog_name="benchbook")
    except BenchbookError as fault:
        say(f"benchbook: {fault.message}", err=True)
        if fault.hint:
            say(f"  {fault.hint}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        # The reader has gone, as with `| head`: nothing is left to say, and to nobody.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except RecursionError:
        say("benchbook: something in the book is nested too deeply to be read", err=True)
        sys.exit(1)
    except OSError as fault:
        place = f" ('{fault.filename}')" if fault.filename else ""
        say(f"benchbook: {fault.strerror or fault}{place}", err=True)
        say("  Check that you may read and write there, or name another folder.", err=True)
        sys.exit(1)
    except Exception as fault:
        if os.environ.get("BENCHBOOK_TRACE"):
            raise
        kind = type(fault).__name__
        say(f"benchbook: a fault in benchbook itself, not in your notes: {kind}", err=True)
        say(
            "  No note was changed. Set BENCHBOOK_TRACE=1 and run it again for the details "
            "that its makers need.",
            err=True,
        )
        sys.exit(1)
