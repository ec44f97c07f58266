"""`benchbook site`."""

from __future__ import annotations

import click

from kb.cli.common import opened_book, tell_refused
from kb.cli.output import say


@click.command("site")
@click.argument("folder", metavar="DIR", type=click.Path(file_okay=False))
@click.pass_context
def command(ctx: click.Context, folder: str) -> None:
    """Write the static site into DIR.

    DIR is new, empty, or a site that was written before: only what changed is written again. The
    pages work from the folder itself, without a server.
    """
    with opened_book(ctx) as book:
        report = book.write_site(folder)
        tell_refused(book)
    say(f"{report.written} files written, {report.unchanged} unchanged, {report.removed} removed.")
    say(f"Open {click.format_filename(folder)}/index.html")
