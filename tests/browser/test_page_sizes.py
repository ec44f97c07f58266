"""What a browser loads before a page of the sample site can be used, in bytes."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page_types import page_types

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

MOST = 100_000
"""bytes of a page without its media"""
WORKING = ("bench.html", "search.html", "study.html")
"""The pages that are programs. As they lie in the folder, uncompressed, they are larger than
`MOST`: each carries its scripts, and the bench page and study the counts that they rank with. A
stick does not mind; over a network they are counted as a server sends them, compressed."""

APPEARANCE = """() => [...document.querySelectorAll("body *")].map(part => {
    const style = getComputedStyle(part), box = part.getBoundingClientRect();
    return [part.tagName, part.className.toString(), box.x, box.y, box.width, box.height, style.color,
            style.backgroundColor, style.font, style.display, style.padding, style.border].join(" ");
})"""
WHOLE_STYLESHEET = """() => new Promise(done => {
    const link = document.querySelector("link[rel=stylesheet]");
    link.onload = done;
    link.href = link.href.replace("page.css", "bench.css");
})"""


def loaded(page: Page, site: Path, path: str) -> list[Path]:
    """Every file that a page asks for until it asks for nothing more, without pictures and sound."""
    asked: set[str] = set()

    def hear(request) -> None:
        if request.resource_type not in ("image", "media"):
            asked.add(request.url.partition("#")[0])

    page.on("request", hear)
    page.goto((site / path).as_uri(), wait_until="networkidle")
    page.remove_listener("request", hear)
    return [site / url.removeprefix(f"{site.as_uri()}/") for url in sorted(asked)]


def test_every_type_of_page_is_light(sample_site: Path, page: Page) -> None:
    """Counted is the document with every script, stylesheet and data file that it loads at first:
    as these lie in the folder, but the working pages compressed.
    """
    weights = {}
    for path in page_types(sample_site).values():
        contents = [file.read_bytes() for file in loaded(page, sample_site, path)]
        assert len(contents) >= 2, path
        if path in WORKING:
            contents = [gzip.compress(content, 6) for content in contents]
        weights[path] = sum(map(len, contents))
    assert set(WORKING) <= weights.keys()
    assert {path: weight for path, weight in weights.items() if weight >= MOST} == {}


def test_a_page_without_scripts_looks_as_it_would_by_the_whole_stylesheet(
    sample_site: Path, page: Page
) -> None:
    compared = 0
    for path in page_types(sample_site).values():
        page.goto((sample_site / path).as_uri())
        if page.locator("link[href$='page.css']").count():
            light = page.evaluate(APPEARANCE)
            page.evaluate(WHOLE_STYLESHEET)
            assert page.evaluate(APPEARANCE) == light, path
            compared += 1
    assert compared > 10
