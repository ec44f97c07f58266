"""`benchbook demo`."""

from __future__ import annotations

import shutil
import sys
import time
from pathlib import Path

import click

from kb.book import Book
from kb.cli.diagnose import show_diagnosis
from kb.cli.index import describe
from kb.cli.output import heading, progress, say, wrapped
from kb.cli.search import show_answer
from kb.cli.weak_points import show_weak_points
from kb.errors import BenchbookError
from kb.resources import sample_book

COMPLAINT = "crackles once it is warm"


@click.command("demo")
@click.argument("folder", metavar="[DIR]", default="benchbook-demo", type=click.Path())
@click.pass_context
def command(ctx: click.Context, folder: str) -> None:
    """The whole job on the sample book, from notes to a site.

    The book is copied to DIR/book, where you may change it, and its site is written to DIR/site.
    DIR is benchbook-demo unless you name another; run again, it keeps what you changed.
    """
    started = time.monotonic()
    top = Path(folder)
    book_folder, site_folder = top / "book", top / "site"
    _copy(sample_book(), book_folder)
    with progress() as tell, Book.open(book_folder, ctx.obj["cache"]) as book:
        book.progress = tell
        heading(f"{book.settings.title}: a sample book of an invented shop")
        wrapped(f"Its notes are Markdown files in {book_folder / 'cases'}.")
        _check(book)
        heading("2. Index: the database and the text index, kept in your cache folder")
        say(describe(book.index()))
        heading(f"3. Search:  benchbook search {COMPLAINT}")
        show_answer(book.search(COMPLAINT, limit=3))
        heading(f"4. Diagnose:  benchbook diagnose {COMPLAINT} --family drover-22")
        show_diagnosis(book.diagnose(COMPLAINT, family="drover-22"))
        heading("5. Weak points:  benchbook weak-points")
        show_weak_points(book.weak_points(), everything=False)
        heading("6. Site")
        report = book.write_site(site_folder)
    say(f"{report.written} files written, {report.unchanged} unchanged.")
    say(f"Done in {time.monotonic() - started:.1f} s. Open in a browser:")
    say(f"  {(site_folder / 'index.html').resolve()}")
    say("Ask it yourself:")
    name = "benchbook" if shutil.which("benchbook") else sys.argv[0]
    say(f'  {name} --book {book_folder} diagnose "no sound" --family brock-d500')


def _check(book: Book) -> None:
    heading("1. Check: every fault in the notes and the vocabulary")
    problems = book.check()
    for problem in problems:
        say(str(problem))
    if not problems:
        say("No faults found.")


def _copy(source: Path, target: Path) -> None:
    """Copy the sample book, unless a book is there already."""
    if (target / "book.yaml").is_file():
        return
    if target.exists() and any(target.iterdir()):
        raise BenchbookError(
            f"'{target}' is in use and holds no book",
            "name another folder: benchbook demo DIR",
        )
    shutil.copytree(source, target, dirs_exist_ok=True)
