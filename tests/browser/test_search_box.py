"""The search box, without a server."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from invented_source import InventedSource

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser


def hits(page: Page) -> list[str]:
    return page.locator(".hits .number").all_text_contents()


@pytest.mark.parametrize("start", ["index.html", "search.html"])
def test_a_word_of_the_complaint_finds_the_case_and_enter_leads_to_it(
    start: str, tame: Path, page: Page
) -> None:
    page.goto((tame / start).as_uri())
    page.get_by_label("Search the cases").fill("crackles")
    assert hits(page) == ["2024-0117"]
    assert page.get_by_role("status").text_content() == "1 case"
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_url("**/cases/2024-0117.html")
    assert "Crackles on and off" in page.inner_text("h1")


@pytest.mark.parametrize(
    "question",
    ["hum", "dead", "the filter on a", "rehearsals hum dead", "crackles hums case 2024-0117"],
)
def test_the_order_is_the_sum_of_the_weights_with_ties_by_case_number(
    question: str, tame: Path, page: Page
) -> None:
    tables = InventedSource().search_words()
    scores = Counter[str]()
    asked = [word for word in question.split() if word not in tables.ignored]
    for stem in {tables.stems[word] for word in asked if word in tables.stems}:
        for place, weight in tables.weights[stem]:
            scores[tables.documents[place]] += weight
    wanted = sorted(scores, key=lambda case: (-scores[case], case))
    page.goto((tame / "search.html").as_uri())
    page.get_by_label("Search the cases").fill(f"{question} ")
    assert hits(page) == wanted


def test_a_word_still_being_typed_finds_what_begins_with_it(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    page.get_by_label("Search the cases").press_sequentially("reh")
    assert hits(page) == ["2024-0231"]
    page.get_by_label("Search the cases").fill("reh ")
    assert hits(page) == []
    assert page.get_by_role("status").text_content() == "No case has these words."


def test_an_ending_that_no_case_has_does_not_hide_the_word(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    page.get_by_label("Search the cases").fill("crackled ")
    assert hits(page) == ["2024-0117"]


def test_a_case_number_finds_its_case_and_not_the_whole_year(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    page.get_by_label("Search the cases").fill("2024-0230")
    assert hits(page) == ["2024-0230"]


def test_joined_words_that_no_case_has_are_asked_for_in_parts(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    page.get_by_label("Search the cases").fill("rehearsals-dead ")
    assert hits(page) == ["2024-0231", "2024-0300"]


def test_matches_are_marked_in_title_and_snippet_whatever_their_ending(
    tame: Path, page: Page
) -> None:
    page.goto((tame / "search.html").as_uri())
    page.get_by_label("Search the cases").fill("hum")
    first = page.locator(".hits li").first
    first.locator(".snippet").wait_for()
    assert first.locator(".what mark").all_text_contents() == ["Hum"]
    assert first.locator(".snippet mark").all_text_contents()[0] in ("Hums", "hum")


def test_the_list_of_cases_makes_room_and_comes_back(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    assert page.locator("#listed").is_visible()
    page.get_by_label("Search the cases").fill("hum")
    assert not page.locator("#listed").is_visible()
    page.keyboard.press("Escape")
    assert page.locator("#listed").is_visible()
    assert page.get_by_label("Search the cases").input_value() == ""


def test_arrow_keys_move_through_the_hits_and_back_to_the_box(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    page.get_by_label("Search the cases").fill("dead hum")
    focused = "document.activeElement.textContent || document.activeElement.id"
    page.keyboard.press("ArrowDown")
    first = page.evaluate(focused)
    page.keyboard.press("ArrowDown")
    assert page.evaluate(focused) != first
    page.keyboard.press("ArrowUp")
    assert page.evaluate(focused) == first
    page.keyboard.press("ArrowUp")
    assert page.evaluate(focused) == "question"


def test_the_way_back_from_a_case_leads_to_what_was_found(tame: Path, page: Page) -> None:
    page.goto((tame / "index.html").as_uri())
    page.get_by_label("Search the cases").fill("hum & dead")
    before = hits(page)
    page.locator(".hits a").first.click()
    page.wait_for_url("**/cases/*.html")
    page.go_back()
    page.locator(".hits li").first.wait_for()
    assert page.get_by_label("Search the cases").input_value() == "hum & dead"
    assert hits(page) == before


def test_hostile_questions_and_hits_are_shown_as_text(hostile: Path, page: Page) -> None:
    page.goto((hostile / "search.html").as_uri())
    for question in ("script", "<img src=x onerror=window.__pwned=1>", "__proto__", "constructor"):
        page.get_by_label("Search the cases").fill(question)
        page.wait_for_timeout(50)
    page.get_by_label("Search the cases").fill("script")
    page.locator(".hits .snippet").first.wait_for()
    assert "<script>" in page.locator(".hits").inner_text()
    assert page.locator(".hits script, .hits img, .hits svg").count() == 0
    assert page.evaluate("window.__pwned") is None


def test_a_question_in_the_address_is_text_too(tame: Path, page: Page) -> None:
    address = (tame / "search.html").as_uri()
    page.goto(f"{address}#q=%3Cimg%20src%3Dx%20onerror%3Dwindow.__pwned%3D1%3E")
    assert page.get_by_label("Search the cases").input_value().startswith("<img")
    page.goto("about:blank")
    page.goto(f"{address}#q=%E0%A4%A")
    assert page.get_by_label("Search the cases").input_value() == ""
    assert page.evaluate("window.__pwned") is None


def test_without_scripts_the_box_is_not_offered_and_the_list_is_there(
    tame: Path, browser: Browser
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((tame / "search.html").as_uri())
    assert not page.locator("form").is_visible()
    assert page.locator(".dockets li").count() == 5
    context.close()
