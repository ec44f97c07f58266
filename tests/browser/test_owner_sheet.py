"""The owner's sheet in a real browser: by itself, on a telephone, in the dark, and on one page A4."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from invented_source import hostile_source

from kb.book import Book
from kb.notes.settings import Settings
from kb.owner_checks import habits
from kb.owner_page import owner_page
from kb.owner_sheets import OwnerSheets

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
_FULLEST = 5


@pytest.fixture(scope="module")
def fullest(sample: Book, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The sheets of the sample book with most on them, the fullest first."""
    folder = tmp_path_factory.mktemp("sheets")
    sheets = {case.case: sample.owner_sheet_page(case.case) for case in sample.cases()}
    longest = sorted(sheets, key=lambda number: -len(sheets[number]))[:_FULLEST]
    for number in longest:
        (folder / f"{number}.html").write_text(sheets[number], encoding="utf-8")
    return [folder / f"{number}.html" for number in longest]


def pages_on_paper(page: Page, file: Path) -> int:
    page.goto(file.as_uri())
    # ISO 32000-1, 7.7.3.3: every page is an object of the type Page.
    return len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4")))


def test_the_fullest_sheets_of_the_sample_book_fit_one_page_a4(
    fullest: list[Path], page: Page
) -> None:
    assert {file.stem: pages_on_paper(page, file) for file in fullest} == {
        file.stem: 1 for file in fullest
    }


def test_the_count_of_pages_can_tell_one_from_two(fullest: list[Path], page: Page) -> None:
    long = fullest[0].with_name("long.html")
    text = fullest[0].read_text("utf-8")
    long.write_text(text.replace("</article>", "<p>more</p>" * 300 + "</article>"), "utf-8")
    assert pages_on_paper(page, long) > 1


def test_it_is_styled_without_a_complaint_and_asks_for_nothing(
    fullest: list[Path], page: Page
) -> None:
    complaints: list[str] = []
    asked: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(fullest[0].as_uri())
    assert page.evaluate("getComputedStyle(document.querySelector('.jobcard')).display") == "grid"
    assert complaints == []
    assert asked == [fullest[0].as_uri()]


def test_it_does_not_scroll_sideways_on_a_telephone(fullest: list[Path], page: Page) -> None:
    page.set_viewport_size({"width": 390, "height": 800})
    page.goto(fullest[0].as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    assert page.locator(".stub .label").is_visible()


def test_it_is_black_on_white_on_paper_whatever_the_screen(fullest: list[Path], page: Page) -> None:
    page.emulate_media(color_scheme="dark")
    page.goto(fullest[0].as_uri())
    dark = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.emulate_media(media="print", color_scheme="dark")
    style = (
        "(({color, backgroundColor}) => [color, backgroundColor])(getComputedStyle(document.body))"
    )
    assert page.evaluate(style) == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"]
    assert dark != "rgb(255, 255, 255)"


def test_hostile_text_runs_nothing_in_it(tmp_path: Path, page: Page) -> None:
    source = hostile_source()
    sheets = OwnerSheets(
        Settings(title=source.title, currency=source.currency),
        source.vocabulary,
        habits(source.cases(), source.vocabulary),
    )
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    for case in source.cases():
        file = tmp_path / "sheet.html"
        file.write_text(owner_page(sheets.of(case)), encoding="utf-8")
        page.goto(file.as_uri())
        assert page.evaluate("window.__pwned") is None
    assert complaints == []


def test_its_policy_stops_a_script_and_a_style_that_got_into_it(
    fullest: list[Path], tmp_path: Path, page: Page
) -> None:
    spoilt = tmp_path / "spoilt.html"
    text = fullest[0].read_text("utf-8")
    added = "<script>window.__pwned = 1</script><style>h1 { color: rgb(1, 2, 3) }</style>"
    spoilt.write_text(text.replace("</article>", added + "</article>"), encoding="utf-8")
    page.goto(spoilt.as_uri())
    assert page.evaluate("window.__pwned") is None
    assert page.evaluate("getComputedStyle(document.querySelector('h1')).color") != "rgb(1, 2, 3)"
