"""Every page in a real browser, straight from the folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page_reader import pages

if TYPE_CHECKING:
    from playwright.sync_api import Dialog, Page

pytestmark = pytest.mark.browser


@pytest.fixture(params=["tame", "hostile"])
def site(request: pytest.FixtureRequest) -> Path:
    folder: Path = request.getfixturevalue(request.param)
    return folder


def test_no_page_complains_asks_outside_or_runs_what_a_book_says(site: Path, page: Page) -> None:
    complaints: list[str] = []
    asked: set[str] = set()

    def dismissed(dialog: Dialog) -> None:
        complaints.append(dialog.message)
        dialog.dismiss()

    page.on("console", lambda said: complaints.append(said.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("dialog", dismissed)
    page.on("request", lambda request: asked.add(request.url))
    for file in pages(site):
        page.goto(file.as_uri())
        assert page.evaluate("window.__pwned") is None, file
    assert complaints == []
    assert [url for url in asked if not url.startswith(site.as_uri())] == []


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
