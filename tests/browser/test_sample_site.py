"""The sample book's own site: valid, whole, and searchable from a folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page_reader import broken_links, pages, read

from kb import cautions
from kb.book import Book
from kb.notes.vocabulary import ACCESS

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


@pytest.fixture
def site(sample_site: Path) -> Path:
    return sample_site


def test_the_whole_sample_site_is_valid_html(site: Path, validator) -> None:
    assert validator(*pages(site)) == []


def test_no_link_of_the_sample_site_is_broken(site: Path) -> None:
    assert len(pages(site)) > 400
    assert broken_links(site) == []


def test_every_page_of_the_sample_site_is_light(site: Path) -> None:
    assert max(page.stat().st_size for page in pages(site)) < 100_000


def test_every_check_that_opens_a_unit_anywhere_carries_every_rule_for_it_in_full(
    sample: Book, site: Path
) -> None:
    told = 0
    for check in sample.vocabulary.checks:
        shown = read(site / f"checks/{check}.html").text
        for family in (None, *sample.vocabulary.families):
            access = sample.vocabulary.access_needed(check, family)
            for level in ACCESS[1 : ACCESS.index(access) + 1]:
                for rule in (*cautions.ACCESS[level], "Local codes and licensed practice"):
                    assert rule in shown, (check, family)
                    told += 1
    assert told > 1000


def test_nothing_private_is_anywhere_in_the_sample_site(sample: Book, site: Path) -> None:
    everything = "".join(
        f.read_text(encoding="utf-8") for f in site.rglob("*") if f.suffix in {".html", ".js"}
    )
    assert "01632" not in everything
    units = {case.unit for case in sample.cases() if case.unit}
    assert len(units) > 50
    assert not [unit for unit in units if unit in everything]


def test_the_search_box_finds_a_case_of_the_sample_book_from_a_folder(
    site: Path, page: Page
) -> None:
    page.goto((site / "index.html").as_uri())
    page.get_by_label("Search the cases").fill("heater joint dark valve silent second half")
    assert page.locator(".hits .number").first.text_content() == "2024-0003"
    page.locator(".hits a").first.click()
    page.wait_for_url("**/cases/2024-0003.html")
    assert page.url.startswith("file:")
    assert "heater joint" in page.inner_text("h1")


def test_more_than_the_first_hits_can_be_shown(site: Path, page: Page) -> None:
    page.goto((site / "search.html").as_uri())
    page.get_by_label("Search the cases").fill("valve ")
    page.get_by_role("button", name="Show more").wait_for()
    assert page.locator(".hits .number").count() == 30
    page.get_by_role("button", name="Show more").click()
    page.locator("form.ask[aria-busy=false]").wait_for()
    shown = page.locator(".hits .number").count()
    assert 30 < shown <= 60
    assert page.evaluate("document.activeElement.tagName") == "A"


def test_the_arrow_keys_reach_the_button_for_more_and_a_new_question_starts_afresh(
    site: Path, page: Page
) -> None:
    page.goto((site / "search.html").as_uri())
    box = page.get_by_label("Search the cases")
    box.fill("valve ")
    page.get_by_role("button", name="Show more").wait_for()
    page.locator(".hits .what a").last.focus()
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.textContent") == "Show more"
    page.keyboard.press("Enter")
    page.locator("form.ask[aria-busy=false]").wait_for()
    assert page.locator(".hits .number").count() > 30
    page.keyboard.press("Escape")
    box.fill("valve ")
    page.get_by_role("button", name="Show more").wait_for()
    assert page.locator(".hits .number").count() == 30


def test_on_a_wide_screen_a_step_says_beside_it_what_it_meant_and_on_a_narrow_one_below_it(
    site: Path, page: Page
) -> None:
    places = """[".done", ".meant"].map(part =>
        document.querySelector(`.step ${part}`).getBoundingClientRect())
        .map(box => [box.left, box.top, box.right, box.bottom])"""
    page.goto((site / "cases/2023-0003.html").as_uri())
    done, meant = page.evaluate(places)
    assert meant[0] > done[2]
    assert meant[1] == done[1]
    page.set_viewport_size({"width": 390, "height": 800})
    done, meant = page.evaluate(places)
    assert meant[0] == done[0]
    assert meant[1] >= done[3]
