"""The same site from a plain web server: what works from a folder works there too."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page_types import TICKED, open_page, page_types

from kb.book import Book

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

QUESTIONS = ("hum when warm", "crackles after a while", "heater joint dark valve silent")


@pytest.fixture
def visited(page: Page, server: str, watch):
    watched = watch(server)
    yield page
    # A browser asks a server of its own accord for an icon of the whole host.
    complaints = [said for said in watched.complaints if "favicon" not in said]
    assert complaints == []
    assert watched.outside == set()


def test_every_type_of_page_opens_without_a_complaint(
    visited: Page, server: str, sample_site: Path
) -> None:
    types = page_types(sample_site)
    assert len(types) > 15
    for path in types.values():
        open_page(visited, server, path)
        assert visited.locator("h1").count() == 1


@pytest.mark.parametrize("place", range(len(QUESTIONS)))
def test_search_gives_the_order_of_the_command(
    place: int, sample: Book, visited: Page, server: str
) -> None:
    visited.goto(f"{server}/search.html")
    visited.get_by_label("Search the cases").fill(f"{QUESTIONS[place]} ")
    visited.locator(".hits .number").first.wait_for()
    shown = visited.locator(".hits .number").all_text_contents()[:10]
    answer = sample.search(QUESTIONS[place], limit=10)
    assert shown == [hit.case for hit in answer.hits]


def test_the_bench_page_gives_the_answer_of_the_command(
    sample: Book, visited: Page, server: str
) -> None:
    open_page(visited, server, "bench.html")
    answer = sample.diagnose(
        family="drover-22",
        symptoms=("hum",),
        absent=("crackle",),
        checks=(("tap-valves", "no-change"),),
        access="open",
    )
    assert TICKED == ("unit=drover-22&there=hum&not=crackle&made=tap-valves:no-change&access=open")
    shown = visited.locator("#causes > li").all_inner_texts()
    assert len(shown) > 3
    for text, cause in zip(shown, answer.causes, strict=False):
        assert cause.label in text
        assert f"{cause.probability * 100:.0f} %" in text.replace("\u00a0", " ").replace(
            "\u202f", " "
        )
