"""Targets: what a book puts on a page, a whole book with a spoilt note, and a cache from elsewhere."""

from __future__ import annotations

import os
import pickle
import shutil
from functools import cache
from pathlib import Path
from random import Random
from urllib.parse import urlsplit

from fuzz import grammar, material
from fuzz.engine import Target
from fuzz.guard import guarded
from fuzz.mutate import mutated, noise
from fuzz.reading import some_note
from invented_source import CASES, VOCABULARY
from page_reader import PageRead
from small_book import SmallBook

from kb.book import Book
from kb.errors import BenchbookError
from kb.notes.read_case import read_case
from kb.site.markdown import Prose
from kb.site.media import Media
from kb.site.names import Names

TAGS = frozenset(
    "p h3 h4 h5 h6 ul ol li blockquote pre code em strong hr br a span div table thead tbody tr th td "
    "img audio figure figcaption".split()
)
ATTRIBUTES = frozenset(
    "class href rel role tabindex aria-label start src alt controls preload".split()
)


@cache
def _prose() -> Prose:
    return Prose(Names(VOCABULARY, CASES), Media(material.media_book() / "media"))


def some_body(chance: Random) -> bytes:
    """Markdown that wants to be HTML."""
    kind = chance.random()
    if kind < 0.5:
        return grammar.markdown(chance, material.words())
    if kind < 0.9:
        return mutated(chance, grammar.markdown(chance, material.words()), material.words())
    return noise(chance, material.words())


def render(data: bytes, _seed: int) -> None:
    """Only elements and addresses of ours come out, and nothing that runs or fetches from outside."""
    text = data.decode("utf-8", "replace")
    with guarded(readable=[material.media_book()]):
        made = str(_prose().html(text, "cases/2023/2023-0871.md", "cases/2023-0871.html"))
        _prose().plain(text)
    page = PageRead()
    page.feed(made)
    page.close()
    for tag, attrs in page.elements:
        assert tag in TAGS, tag
        assert set(attrs) <= ATTRIBUTES, attrs
        away = urlsplit(attrs.get("href", ""))
        assert away.scheme in ("", "http", "https")
        assert bool(away.netloc) == bool(away.scheme)
        if away.scheme:
            assert attrs["rel"] == "noreferrer"
        elif "href" in attrs:
            assert attrs["href"].startswith("../")
        if "src" in attrs:
            assert attrs["src"] in ("../media/vent.png", "../media/hum.wav")


@cache
def _spoilt_book() -> tuple[SmallBook, Book]:
    small = material.written(material.folder() / "spoilt")
    (small.folder / "media").mkdir()
    book = small.open()
    book.index()
    return small, book


def index_note(data: bytes, seed: int) -> None:
    """A note is stored and read back as it was read, or left out; the others answer."""
    small, book = _spoilt_book()
    path = small.path("A1")
    path.write_bytes(data)
    fresh = read_case(
        path.relative_to(small.folder).as_posix(), data, book.vocabulary, small.folder
    )
    with guarded([small.cache, material.folder() / "site"], [small.folder]):
        book.index()
        kept = {case.case.casefold(): case for case in book.cases()}
        if fresh.case is None:
            assert book.refused() == 1
        elif fresh.case.case.casefold() not in {f"c{i}" for i in range(12)}:
            assert kept[fresh.case.case.casefold()] == fresh.case
        assert "c5" in kept
        assert book.search("hums", limit=3).total >= 11
        assert isinstance(book.check(), tuple)
        if seed % 50 == 0:
            book.write_site(material.folder() / "site")


class _Trap:
    """Unpickling one of these is noticed by the guard: it would start a shell."""

    def __reduce__(self) -> tuple[object, ...]:
        return (os.system, ("exit 7",))


def some_cache(chance: Random) -> bytes:
    """What somebody left where the cache should be: names of files and what is in them."""
    names = b"benchbook-cache book.db text text/_MAIN_1.toc text/text-index-format site.lock x text/x.seg lock".split()
    lines = [
        chance.choice((b"file ", b"trap ", b"link ", b"pipe ", b"folder ")) + chance.choice(names)
        for _ in range(chance.randint(0, 5))
    ]
    return b"\n".join(lines)


def meet_cache(data: bytes, _seed: int) -> None:
    """A foreign cache is refused or made anew; nothing in it runs, nothing outside is touched."""
    top = material.folder() / "met"
    shutil.rmtree(top, ignore_errors=True)
    small = SmallBook(top / "book", top / "cache")
    small.write("A1", symptom="hum")
    precious = top / "precious"
    precious.mkdir()
    (precious / "mine").write_text("mine")
    with small.open() as book:
        cache = _cache_of(book)
    for line in data.decode().splitlines():
        kind, name = line.split(" ")
        if kind == "link" and name in ("benchbook-cache", "lock", "site.lock"):
            kind = (
                "file"  # written in place, so that nobody but the owner may be able to put it there
            )
        place = cache / name
        if os.path.lexists(place) or place.parent.is_symlink() or not place.parent.is_dir():
            continue
        if kind == "link":
            place.symlink_to(precious)
        elif kind == "pipe" and hasattr(os, "mkfifo"):
            os.mkfifo(place)
        elif kind == "folder":
            place.mkdir()
        else:
            place.write_bytes(pickle.dumps(_Trap()) if kind == "trap" else b"made by somebody")
    with guarded([small.cache], [small.folder]):
        try:
            with small.open() as book:
                assert book.index().notes == 1
        except (BenchbookError, OSError) as fault:  # the command line words an OSError too
            assert str(fault)
    assert [path.name for path in precious.iterdir()] == ["mine"]
    assert (precious / "mine").read_text() == "mine"


def _cache_of(book: Book) -> Path:
    from kb.cache import cache_folder

    folder = cache_folder(book.folder, book.folder.parent / "cache")
    for file in folder.iterdir():
        file.unlink()
    return folder


TARGETS = (
    Target("prose of a page", some_body, render, 24),
    Target("book with a note", some_note, index_note, 1),
    Target("foreign cache", some_cache, meet_cache, 1),
)
