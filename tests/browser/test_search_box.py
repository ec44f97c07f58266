"""The search box, without a server."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from search_asked import ask, hits, settle

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("start", ["index.html", "search.html"])
def test_a_word_of_the_complaint_finds_the_case_and_enter_leads_to_it(
    start: str, tame: Path, page: Page
) -> None:
    page.goto((tame / start).as_uri())
    ask(page, "crackles")
    assert hits(page) == ["2024-0117"]
    assert page.get_by_role("status").text_content() == "1 case"
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_url("**/cases/2024-0117.html")
    assert "Crackles on and off" in page.inner_text("h1")


def test_a_word_still_being_typed_finds_what_begins_with_it(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    page.get_by_label("Search the cases").press_sequentially("reh")
    assert hits(page) == ["2024-0231"]
    assert "begin with “reh”" in page.locator(".wider").inner_text()
    ask(page, "reh ")
    assert hits(page) == []
    assert page.get_by_role("status").text_content() == "No case has these words."


def test_an_ending_that_no_case_has_does_not_hide_the_word(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    ask(page, "crackled ")
    assert hits(page) == ["2024-0117"]


def test_a_case_number_finds_its_case_and_not_the_whole_year(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    ask(page, "2024-0230")
    assert hits(page) == ["2024-0230"]


def test_joined_words_that_no_case_has_are_asked_for_in_parts(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    ask(page, "rehearsals-dead ")
    assert {"2024-0231", "2024-0300"} <= set(hits(page))


def test_matches_are_marked_in_title_and_snippet_whatever_their_ending(
    tame: Path, page: Page
) -> None:
    page.goto((tame / "search.html").as_uri())
    ask(page, "humming ")
    card = page.locator(".hits li", has=page.get_by_text("2023-0871", exact=True))
    card.locator(".snippet").wait_for()
    marked = card.locator("mark").all_text_contents()
    assert {word.lower() for word in marked} <= {"hum", "hums"}
    assert "Hums" in marked


def test_the_symptom_that_the_words_name_is_told(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    ask(page, "it hums ")
    assert "Also looked for" in page.locator(".wider").inner_text()
    ask(page, "rehearsals ")
    assert page.locator(".wider").inner_text() == ""


def test_a_misspelt_word_is_offered_as_the_book_spells_it(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    ask(page, "rehersals ")
    page.locator(".perhaps button").click()
    assert page.get_by_label("Search the cases").input_value().strip() == "rehearsals"
    assert hits(page) == ["2024-0231"]


def test_what_cannot_be_asked_is_said(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    status = page.get_by_role("status")
    ask(page, "the and of ")
    assert "Nearly every note" in str(status.text_content())
    ask(page, "word " * 65)
    assert "65 words; at most 64" in str(status.text_content())


def test_filters_stand_in_the_address_and_come_back_with_it(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    ask(page, "hum ")
    page.get_by_label("received from").select_option("2024")
    settle(page)
    kept = hits(page)
    assert kept
    assert all(number.startswith("2024") for number in kept)
    page.get_by_label("Search the cases").press("Enter")
    address = page.url
    assert address.endswith("#q=hum&since=2024")
    page.goto("about:blank")
    page.goto(address)
    assert hits(page) == kept
    assert page.get_by_label("received from").input_value() == "2024"
    page.get_by_role("button", name="Take the filters off").click()
    assert len(hits(page)) > len(kept)


def test_filters_alone_list_their_cases_newest_first_by_keyboard(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    page.get_by_label("that are now").focus()
    page.keyboard.type("R")
    settle(page)
    found = hits(page)
    assert found == sorted(found, reverse=True)
    assert set(page.locator(".hits .found").all_text_contents()) - {""}
    assert "case" in str(page.get_by_role("status").text_content())


def test_a_filter_that_the_book_does_not_know_is_none(tame: Path, page: Page) -> None:
    page.goto(f"{(tame / 'search.html').as_uri()}#q=hum&family=__proto__&since=1&cause=%E0%A4%A")
    everything = hits(page)
    assert everything
    assert page.get_by_role("button", name="Take the filters off").is_hidden()


def test_every_control_is_labelled_and_large_enough_for_a_thumb_at_390_pixels(
    tame: Path, page: Page
) -> None:
    page.set_viewport_size({"width": 390, "height": 800})
    page.goto(f"{(tame / 'search.html').as_uri()}#q=hum&since=2020")
    assert hits(page)
    heights = """[...document.querySelectorAll("form select, form input, form .what a, form button, form summary")]
        .filter(e => e.offsetParent).map(e => e.getBoundingClientRect().height)"""
    assert min(page.evaluate(heights)) >= 44
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    labelled = (
        "[...document.querySelectorAll('form select, form input')].every(e => e.labels.length)"
    )
    assert page.evaluate(labelled)


def test_home_fetches_the_search_only_for_who_turns_to_the_box(tame: Path, page: Page) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto((tame / "index.html").as_uri())
    assert not [url for url in asked if "data/" in url or url.endswith("search.js")]
    ask(page, "crackles ")
    assert hits(page) == ["2024-0117"]


def test_the_list_of_cases_makes_room_and_comes_back(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    assert page.locator("#listed").is_visible()
    ask(page, "hum")
    assert not page.locator("#listed").is_visible()
    page.keyboard.press("Escape")
    assert page.locator("#listed").is_visible()
    assert page.get_by_label("Search the cases").input_value() == ""


def test_arrow_keys_move_through_the_hits_and_back_to_the_box(tame: Path, page: Page) -> None:
    page.goto((tame / "search.html").as_uri())
    ask(page, "dead hum")
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
    ask(page, "hum & dead")
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
        ask(page, question)
        page.wait_for_timeout(50)
    ask(page, "script")
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
