"""`benchbook site`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.common import opened_book, tell_refused
from kb.cli.output import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.site import PrivateLooking

MOST_SHOWN = 20
"""More would scroll the rest out of sight; the next run shows what is then left."""


@click.command("site")
@click.argument("folder", metavar="DIR", type=click.Path(file_okay=False))
@click.pass_context
def command(ctx: click.Context, folder: str) -> None:
    """Write the static site into DIR.

    DIR is new, empty, or a site that was written before: only what changed is written again. The
    pages work from the folder itself, without a server. Warns about text that looks like a
    telephone number, an e-mail or a street address and is published all the same.
    """
    with opened_book(ctx) as book:
        report = book.write_site(folder)
        tell_refused(book)
    _warn(report.looks_private)
    say(f"{report.written} files written, {report.unchanged} unchanged, {report.removed} removed.")
    say(f"Open {click.format_filename(folder)}/index.html")


def _warn(found: Sequence[PrivateLooking]) -> None:
    """Say what looks private, by its place alone: messages end up in logs."""
    for one in found[:MOST_SHOWN]:
        article = "an" if one.kind.startswith("e") else "a"
        said = f"{one.field} has what looks like {article} {one.kind}, and is published"
        say(f"{one.file}:{one.line}:{one.column}: warning: {said}", err=True)
    if len(found) > MOST_SHOWN:
        say(f"benchbook: and {len(found) - MOST_SHOWN} more", err=True)
    if found:
        remedy = "put it under `private`, or its key under `publish: {hide: …}`"
        say(f"benchbook: what nobody else should read: {remedy}, and write the site anew", err=True)
