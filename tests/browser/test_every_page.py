"""Every page in a real browser, straight from the folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page_reader import pages, read

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

# Everything that a hand could do to a page: type, choose, tick, open, press.
WORK = """() => {
    const tell = (part, kind) => part.dispatchEvent(new Event(kind, {bubbles: true}));
    for (const box of document.querySelectorAll("input[type=search], input[type=text]")) {
        box.value = box.value || "constructor __proto__ script pwned ";
        tell(box, "input");
    }
    for (const choice of document.querySelectorAll("select")) {
        choice.selectedIndex = choice.options.length - 1;
        tell(choice, "input");
        tell(choice, "change");
    }
    document.querySelectorAll("details").forEach(part => { part.open = true; });
    for (const tick of [...document.querySelectorAll("input[type=radio], input[type=checkbox]")]
            .slice(0, 60)) if (tick.isConnected) tick.click();
    for (const button of [...document.querySelectorAll("button[type=button]")].slice(0, 20))
        if (button.isConnected && button.checkVisibility()) button.click();
}"""


@pytest.fixture(params=["tame", "hostile", "hostile_book"])
def site(request: pytest.FixtureRequest) -> Path:
    folder: Path = request.getfixturevalue(request.param)
    return folder


def test_no_page_complains_asks_outside_or_runs_what_a_book_says(
    site: Path, page: Page, watch
) -> None:
    watched = watch(site.as_uri())
    for file in pages(site):
        page.goto(file.as_uri())
        assert page.evaluate("window.__pwned") is None, file
    assert watched.complaints == []
    assert watched.outside == set()


def test_nothing_that_a_book_says_runs_while_a_page_is_worked_with(
    site: Path, page: Page, watch
) -> None:
    page.add_init_script("window.print = () => {}")
    watched = watch(site.as_uri())
    shown = set()
    for file in pages(site):
        if not any(tag == "script" for tag, _ in read(file).elements):
            continue
        page.goto(file.as_uri())
        for _ in range(2):  # what the first round brings up is worked with in the second
            page.evaluate(WORK)
            page.wait_for_timeout(150)
        assert page.evaluate("window.__pwned") is None, file
        assert page.evaluate("document.querySelectorAll('[onerror], [onload], iframe').length") == 0
        shown.add(file.name)
    assert {"bench.html", "search.html", "index.html"} <= shown
    assert watched.complaints == []
    assert watched.outside == set()


def test_text_that_turns_the_direction_of_writing_moves_nothing_beside_it(
    hostile_book: Path, page: Page
) -> None:
    """Beside each such text, in the same run of text, the page's own words still go rightwards."""
    looked_at = 0
    for file in [*pages(hostile_book)[::2], hostile_book / "index.html"]:
        page.goto(file.as_uri())
        runs = page.evaluate(
            """() => {
                const found = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
                for (let node; (node = walker.nextNode());) {
                    const end = node.data.lastIndexOf("\\u2069"), range = document.createRange();
                    if (end < 0 || !/[\\u202e\\u2067\\u0590-\\u06ff]/.test(node.data)) continue;
                    const places = [];
                    for (let at = end + 1; at < node.data.length; at++) {
                        if (!/[a-z0-9]/i.test(node.data[at])) continue;
                        range.setStart(node, at); range.setEnd(node, at + 1);
                        const box = range.getBoundingClientRect();
                        if (box.width) places.push([Math.round(box.top), box.left]);
                    }
                    if (places.length > 1) found.push(places);
                }
                return found;
            }"""
        )
        for places in runs:
            assert places == sorted(places), file
            looked_at += 1
    assert looked_at > 3


def test_no_page_scrolls_sideways_on_a_telephone(site: Path, page: Page) -> None:
    page.set_viewport_size({"width": 390, "height": 800})
    wide = []
    for file in pages(site):
        page.goto(file.as_uri())
        if page.evaluate("document.documentElement.scrollWidth") > 390:
            wide.append(file.relative_to(site).as_posix())
    assert wide == []


def test_the_stylesheet_and_the_pictures_load_from_the_folder(tame: Path, page: Page) -> None:
    page.goto((tame / "cases/2023-0871.html").as_uri())
    assert page.evaluate("getComputedStyle(document.querySelector('.jobcard')).display") == "grid"
    assert page.evaluate("document.querySelector('figure img').naturalWidth") == 1


def test_the_policy_stops_a_script_that_got_into_a_page(tame: Path, page: Page) -> None:
    page.goto((tame / "index.html").as_uri())
    page.evaluate(
        """() => {
            const script = document.createElement("script");
            script.textContent = "window.__pwned = 1";
            document.body.append(script);
            document.body.insertAdjacentHTML("beforeend", '<img src=x onerror="window.__pwned=1">');
        }"""
    )
    page.wait_for_timeout(100)
    assert page.evaluate("window.__pwned") is None


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_follow_the_scheme_of_the_tablet(scheme: str, tame: Path, page: Page) -> None:
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    page.goto((tame / "index.html").as_uri())
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    lightness = sum(map(int, ground.removeprefix("rgb(").removesuffix(")").split(","))) / 3
    assert (lightness > 200) == (scheme == "light")


def test_paper_gets_the_page_without_its_navigation(tame: Path, page: Page) -> None:
    page.emulate_media(media="print", color_scheme="dark")
    page.goto((tame / "cases/2023-0871.html").as_uri())
    assert not page.locator("nav").is_visible()
    assert page.locator("h1").is_visible()
    colours = page.evaluate(
        "[document.body, document.querySelector('.trails a')].map(e => getComputedStyle(e).color)"
    )
    assert colours == ["rgb(0, 0, 0)", "rgb(0, 0, 0)"]


def test_the_first_stop_of_the_keyboard_leads_past_the_navigation(tame: Path, page: Page) -> None:
    page.goto((tame / "cases.html").as_uri())
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
