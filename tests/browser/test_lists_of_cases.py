"""The end of a long list of cases: a search that finds those of the list, and the older ones."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from kb.book import Book
from kb.site.addresses import term_page

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

SHORT = 3
"""cases in a list, here"""
LISTS = {
    "family": ("drover-22", "All cases of this family"),
    "symptom": ("hum", "All cases with this symptom"),
    "cause": ("power-valve/worn", "All cases with this cause"),
    "check": ("tap-valves", "All cases in which this was checked"),
}


@pytest.fixture(scope="module")
def short(sample: Book, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample site with lists that end after `SHORT` cases."""
    folder = tmp_path_factory.mktemp("short lists")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("kb.site.material.LISTED", SHORT)
        sample.write_site(folder)
    return folder


@pytest.mark.parametrize("kind", LISTS)
def test_the_end_of_a_list_leads_to_a_search_that_finds_them_all(
    kind: str, short: Path, page: Page
) -> None:
    key, said = LISTS[kind]
    page.goto((short / term_page(kind, key)).as_uri())
    end = page.locator("main p", has_text=re.compile(r"^And \d+ older ones?, among")).last
    listed = end.locator("xpath=preceding-sibling::ul[1]").locator(".number").all_text_contents()
    older = int(re.findall(r"\d+", end.inner_text())[0])
    assert len(listed) == SHORT
    assert said.lower() in end.inner_text()
    end.get_by_role("link").click()
    page.locator(".hits .number").first.wait_for()
    found = page.locator(".hits .number").all_text_contents()
    assert set(found) >= set(listed)
    count = int(page.locator(".told").inner_text().split()[0])
    if kind == "cause":  # a cause is also sought where it was not the root
        assert count >= SHORT + older
    else:
        assert count == SHORT + older
    assert "best" not in page.locator(".told").inner_text()
    if count <= 30:
        assert len(found) == count
    else:
        assert "the newest 30 shown" in page.locator(".told").inner_text()
    assert page.locator(f"#only-{kind}").input_value() == key
    assert page.locator(f"#only-{kind}").is_visible()
    assert page.locator("#only-check").is_visible() == (kind == "check")


def test_the_filter_of_a_check_goes_away_once_it_is_taken_off(short: Path, page: Page) -> None:
    page.goto((short / "search.html").as_uri() + "#check=tap-valves")
    page.locator(".hits .number").first.wait_for()
    page.get_by_role("button", name="Take the filters off").click()
    assert page.locator("#only-check").is_hidden()
    assert page.locator("#listed").is_visible()


def test_without_scripts_the_search_leads_to_all_cases(short: Path, browser: Browser) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((short / "search.html").as_uri() + "#family=drover-22")
    assert page.locator("noscript a[href='cases.html']").count() == 1
    assert page.locator("#listed .number").count() > SHORT
    context.close()
