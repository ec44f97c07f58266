"""Pages and the templates that make them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from msgspec import Struct

from kb.site import wording
from kb.site.addresses import root_of
from kb.site.direction import isolated
from kb.site.looks_private import PrivateLooking
from kb.site.material import Material

# Control characters, lone surrogates and non-characters, which no HTML document may hold.
_UNPRINTABLE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"
)


class Page(Struct, frozen=True):
    """One page to be made.

    `section` is the entry of the navigation that it belongs to. `values` gives what its template
    shows; it is called when the page's turn comes, so that a large book is not held at once.
    `basis` gives what the page is made from, beyond what every page rests on: while it stays the
    same, the page does. A page without one is made anew each time. `looks_private` gives what
    somebody should look at before the page is shown to strangers.
    """

    path: str
    template: str
    title: str
    description: str
    section: str
    values: Callable[[], Mapping[str, object]]
    basis: Callable[[], object] | None = None
    looks_private: Callable[[], tuple[PrivateLooking, ...]] = tuple


class Renderer:
    """Makes pages from a folder of templates; every value in them is escaped."""

    def __init__(self, templates: Path, material: Material) -> None:
        self._environment = _environment(templates)
        self._shared = {
            "book_title": material.title,
            "newest_day": material.newest_day,
            "case_count": len(material.ledger.cases),
        }

    def html(self, page: Page) -> str:
        """The page as an HTML document."""
        return _made(
            self._environment,
            page.template,
            {"page": page, "root": root_of(page.path), **self._shared, **page.values()},
        )


def made_of(templates: Path, template: str, **values: object) -> str:
    """A document that belongs to no site, from a template of this folder."""
    return _made(_environment(templates), template, values)


def _made(environment: Environment, template: str, values: Mapping[str, object]) -> str:
    made = environment.get_template(template).render(values)
    return _UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", made)


@lru_cache(maxsize=4)
def _environment(templates: Path) -> Environment:
    """The templates of a folder, compiled once however many sites are written."""
    made = Environment(
        loader=FileSystemLoader(templates),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_finalize,
    )
    made.globals["access_words"] = wording.ACCESS
    made.filters |= {
        "day": wording.day,
        "minutes": wording.minutes,
        "price": wording.price,
        "percent": wording.percent,
        "quantity": wording.quantity,
        "words": wording.words,
        "sentence": wording.sentence,
        "counted": wording.counted,
        "chance": wording.chance,
    }
    return made


def _finalize(value: object) -> object:
    """Every text that a template shows keeps its units and its direction; made HTML stays."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return _shown(value)
    return value


# Labels and the words of the note format come again on thousands of pages.
@lru_cache(maxsize=16_384)
def _shown(text: str) -> str:
    return isolated(wording.kept_together(text))
