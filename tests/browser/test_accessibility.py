"""No violation on any type of page, by the rules of an engine that others made: axe-core."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page_types import open_page, page_types

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

COLOUR_RULES = ("color-contrast", "link-in-text-block")

Check = Callable[..., list[str]]


@pytest.fixture(scope="session")
def violations() -> Check:
    """What the engine finds in a page: its rules for WCAG 2.0 to 2.2, A and AA, and its best practice."""
    packaged = pytest.importorskip(
        "axe_playwright_python.sync_playwright",
        reason="needs axe-core: pip install axe-playwright-python",
    )
    engine = packaged.Axe()

    def found(page: Page, only: tuple[str, ...] = ()) -> list[str]:
        options = {"resultTypes": ["violations"]} | ({"runOnly": list(only)} if only else {})
        result = engine.run(page, options=options).response
        assert result["passes"], "the engine looked at nothing"
        return [
            f"{broken['id']}: {node['html'][:160]}"
            for broken in result["violations"]
            for node in broken["nodes"]
        ]

    return found


@pytest.fixture(params=["light", "dark"])
def scheme(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def examined(browser: Browser, scheme: str) -> Iterator[Page]:
    """A page into which the engine may be put: the site's own policy would not have it."""
    context = browser.new_context(
        bypass_csp=True, color_scheme="dark" if scheme == "dark" else "light"
    )
    context.set_default_timeout(90_000)
    yield context.new_page()
    context.close()


def test_no_type_of_page_breaks_a_rule(
    scheme: str, sample_site: Path, examined: Page, violations: Check
) -> None:
    """All rules on a wide screen in the light and on a telephone in the dark; for the two other
    pairs the rules about colour, which alone can differ there.
    """
    whole = {"light": 1280, "dark": 390}[scheme]
    broken = {}
    for name, path in page_types(sample_site).items():
        examined.set_viewport_size({"width": whole, "height": 900})
        open_page(examined, sample_site.as_uri(), path)
        found = violations(examined)
        examined.set_viewport_size({"width": 1280 + 390 - whole, "height": 900})
        found += violations(examined, only=COLOUR_RULES)
        if found:
            broken[name] = found
    assert len(page_types(sample_site)) > 15
    assert broken == {}


def test_the_engine_finds_what_is_planted(
    scheme: str, sample_site: Path, examined: Page, violations: Check
) -> None:
    open_page(examined, sample_site.as_uri(), "index.html")
    examined.evaluate(
        """() => {
            const add = (html) => document.querySelector("main").insertAdjacentHTML("beforeend", html);
            add('<p id="pale" style="color:#888;background:#777">hard to read</p>');
            add('<img src="assets/mark.svg"><button></button><input type="text">');
        }"""
    )
    rules = {found.partition(":")[0] for found in violations(examined)}
    assert {"color-contrast", "image-alt", "button-name", "label"} <= rules
