"""Reads the pages of a written site with the standard library's parser, for the tests."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

_BLOCKS = frozenset("p li dt dd td th tr div section h1 h2 h3 h4 ul ol table figcaption".split())


@dataclass
class PageRead(HTMLParser):
    """What stands in a page: its elements in order, its ids, and its text, single-spaced."""

    elements: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def __hash__(self) -> int:
        return id(self)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if tag in _BLOCKS:
            self.texts.append(" ")

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.texts).split())

    @property
    def ids(self) -> list[str]:
        return [attrs["id"] for _, attrs in self.elements if "id" in attrs]

    def named(self, *tags: str) -> list[dict[str, str]]:
        return [attrs for tag, attrs in self.elements if tag in tags]

    @property
    def addresses(self) -> list[str]:
        """Everything that the page refers to."""
        return [
            attrs[name]
            for _, attrs in self.elements
            for name in ("href", "src", "srcset", "action", "poster", "data", "xlink:href")
            if name in attrs
        ]


@cache
def read(page: Path) -> PageRead:
    made = PageRead()
    made.feed(page.read_text("utf-8"))
    made.close()
    return made


def pages(site: Path) -> list[Path]:
    return sorted(site.rglob("*.html"))


def target(page: Path, address: str) -> Path:
    """The file that a relative address means."""
    path = unquote(urlsplit(address).path)
    return (page.parent / path).resolve() if path else page.resolve()


def broken_links(site: Path) -> list[str]:
    """Every reference that leads nowhere, or out of the site without saying so."""
    return [
        f"{page.relative_to(site)}: {attrs[name]}"
        for page in pages(site)
        for tag, attrs in read(page).elements
        for name in ("href", "src")
        if name in attrs and not _resolves(site, page, tag, attrs, attrs[name])
    ]


def _resolves(site: Path, page: Path, tag: str, attrs: dict[str, str], address: str) -> bool:
    parts = urlsplit(address)
    if parts.scheme or parts.netloc:
        away = tag == "a" and parts.scheme in ("http", "https")
        return away and attrs.get("rel") == "noreferrer"
    file = target(page, address)
    if not file.is_relative_to(site.resolve()) or not file.is_file():
        return False
    # The bench page reads a sheet from its address, the search its filters: no place in the page.
    if file.name in ("bench.html", "search.html") and "=" in parts.fragment:
        return True
    return not parts.fragment or parts.fragment in read(file).ids
