"""What a browser loads before a page of the sample site can be used, in bytes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page_types import open_page, page_types

from kb.resources import site_templates
from kb.site.stylesheet import ORDER, composed

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

MOST = 100_000
"""bytes of a page as it opens, without its media: document, stylesheet, scripts and data as they
lie in the folder, for from a stick nothing is compressed"""
MOST_IN_ALL = {"bench.html": 160_000, "study.html": 200_000, "search.html": 600_000}
"""The same once a reader has made the page do everything that it can: what is fetched by what
somebody does is counted apart. The search holds all words of the sample book by then, study one
case. The larger the book, the more: the words and past faults come in files of their own."""

APPEARANCE = """() => [...document.querySelectorAll("body, body *")].map(part => {
    const style = getComputedStyle(part), box = part.getBoundingClientRect();
    const told = ["", "::before", "::after"].map(pseudo => {
        const own = getComputedStyle(part, pseudo);
        return [own.content, own.display, own.color, own.backgroundColor, own.fill, own.stroke, own.borderWidth].join(" ");
    });
    return [part.tagName, part.className.toString(), box.x, box.y, box.width, box.height, style.font,
            style.padding, style.margin, style.border, style.background, ...told].join(" ");
})"""
WHOLE_STYLESHEET = """() => new Promise(done => {
    const link = document.querySelector("link[rel=stylesheet]");
    link.onload = () => done(true);
    link.href += "?whole";
})"""


@contextmanager
def heard(page: Page, site: Path) -> Iterator[set[Path]]:
    """Every file that a page asks for meanwhile, without pictures and sound."""
    files: set[Path] = set()

    def hear(request) -> None:
        if request.resource_type not in ("image", "media") and request.url.startswith("file:"):
            path = request.url.partition("#")[0].partition("?")[0]
            files.add(site / path.removeprefix(f"{site.as_uri()}/"))

    page.on("request", hear)
    yield files
    page.wait_for_load_state("networkidle")
    page.remove_listener("request", hear)


def size(files: set[Path]) -> int:
    return sum(file.stat().st_size for file in files)


def do_everything(page: Page, path: str) -> None:
    """Make a working page fetch all that it ever does: a question to each of its parts."""
    if path == "bench.html":
        page.get_by_label("Find a symptom").fill("hum")
        page.locator("#symptom-groups input:visible").first.check()
        page.get_by_role("button", name="Start a case note").click()
        page.locator("#note-text").wait_for()
    if path == "study.html":
        page.locator("#study-cases a").first.click()
        page.locator("#desk h1").wait_for()
    if path == "search.html":
        page.get_by_label("Search the cases").fill('"hum" crackel zzyzx ')
        page.get_by_label("Search the cases").press("Enter")
        page.locator(".told:not(:empty)").wait_for()
        page.get_by_label("Search the cases").fill("hum when warm")
        page.locator(".hits .snippet").first.wait_for()


def test_every_type_of_page_is_light(sample_site: Path, page: Page) -> None:
    opened, in_all = {}, {}
    for path in page_types(sample_site).values():
        with heard(page, sample_site) as files:
            page.goto((sample_site / path).as_uri(), wait_until="networkidle")
        assert len(files) >= 2, path
        opened[path] = size(files)
        if path in MOST_IN_ALL:
            with heard(page, sample_site) as more:
                do_everything(page, path)
            assert more - files, path
            in_all[path] = size(files | more)
    print("\nbytes as the page opens (once everything has been asked of it)")
    for path, weight in sorted(opened.items(), key=lambda pair: -pair[1]):
        print(f"{weight:8,} {path}" + (f" ({in_all[path]:,})" if path in in_all else ""))
    assert in_all.keys() == MOST_IN_ALL.keys()
    assert {path: weight for path, weight in opened.items() if weight >= MOST} == {}
    assert {p: weight for p, weight in in_all.items() if weight >= MOST_IN_ALL[p]} == {}


@pytest.mark.parametrize("width", [1280, 390])
def test_a_page_looks_as_it_would_by_the_whole_stylesheet(
    width: int, sample_site: Path, page: Page
) -> None:
    whole = composed(site_templates(), ORDER)
    page.route("**/*.css?whole", lambda route: route.fulfill(body=whole, content_type="text/css"))
    page.set_viewport_size({"width": width, "height": 900})
    for path in page_types(sample_site).values():
        open_page(page, sample_site.as_uri(), path)
        page.wait_for_load_state("networkidle")
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        page.wait_for_timeout(100)
        light = page.evaluate(APPEARANCE)
        assert page.evaluate(WHOLE_STYLESHEET)
        whole_too = page.evaluate(APPEARANCE)
        different = [pair for pair in zip(light, whole_too, strict=True) if pair[0] != pair[1]]
        assert different == [], path
