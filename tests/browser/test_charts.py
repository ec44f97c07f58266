"""The charts of the family pages and of the record, as a browser lays them out."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from invented_answers import REPLAY

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

BOXES = """selector => [...document.querySelectorAll(selector)].map(e => e.getBoundingClientRect())
    .map(box => [box.left, box.top, box.right, box.bottom])"""
WIDTHS = pytest.mark.parametrize("width", [1280, 390])


@WIDTHS
def test_the_diagram_is_square_and_its_dots_stand_where_the_figures_say(
    width: int, tame: Path, page: Page
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto((tame / "how-good.html").as_uri())
    left, top, right, bottom = page.evaluate(BOXES, ".diagram > svg")[0]
    assert right - left == pytest.approx(bottom - top, abs=1)
    assert right <= width
    dots = page.evaluate(BOXES, ".diagram:first-of-type .dot")
    for one, dot in zip(REPLAY.calibration, dots, strict=False):
        across = ((dot[0] + dot[2]) / 2 - left) / (right - left)
        up = (bottom - (dot[1] + dot[3]) / 2) / (bottom - top)
        assert across == pytest.approx(one.predicted, abs=0.01)
        assert up == pytest.approx(one.observed, abs=0.01)


@WIDTHS
def test_all_that_a_strip_shows_lies_within_its_cell(width: int, tame: Path, page: Page) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto((tame / "families/heron-20.html").as_uri())
    cells = page.evaluate(BOXES, ".drawing td")
    strips = page.evaluate(BOXES, ".strip-chart")
    assert len(strips) == len(cells) == 3
    for cell, strip in zip(cells, strips, strict=True):
        assert cell[0] - 1 <= strip[0]
        assert strip[2] <= cell[2] + 1
    odd = page.evaluate(BOXES, ".strip-chart .odd")
    assert len(odd) == 2
    assert all(box[0] >= 0 and box[2] <= width for box in odd)


@WIDTHS
def test_the_years_stand_side_by_side_without_touching(width: int, tame: Path, page: Page) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto((tame / "families/heron-20.html").as_uri())
    for part in (".years .visits", ".years text:not(.year)", ".years .year"):
        boxes = page.evaluate(BOXES, part)
        assert len(boxes) == 4
        for before, after in pairwise(boxes):
            assert before[2] < after[0], part
    filled, outlines = (page.evaluate(BOXES, f".years .{which}") for which in ("with", "visits"))
    heights = [box[3] - box[1] for box in (filled[3], outlines[3])]
    assert heights[0] / heights[1] == pytest.approx(4 / 6, abs=0.05)


def test_the_links_within_a_family_page_lead_to_its_sections(tame: Path, page: Page) -> None:
    page.goto((tame / "families/heron-20.html").as_uri())
    for link in page.locator(".on-page a").all():
        link.click()
        name = str(link.get_attribute("href"))
        assert page.locator(name).is_visible()
        assert page.evaluate("location.hash") == name


def test_a_printed_family_page_keeps_its_charts_and_leaves_out_the_way_about(
    tame: Path, page: Page
) -> None:
    page.emulate_media(media="print")
    page.goto((tame / "families/heron-20.html").as_uri())
    assert not page.locator(".on-page").is_visible()
    assert page.locator(".strip-chart").first.is_visible()
    assert page.locator(".years svg").first.is_visible()


@WIDTHS
def test_no_figure_of_the_record_is_broken_in_two(width: int, tame: Path, page: Page) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto((tame / "how-good.html").as_uri())
    lines = page.evaluate(
        """() => [...document.querySelectorAll('.rules-beside td')].map(cell => {
            const text = document.createRange();
            text.selectNodeContents(cell);
            return text.getClientRects().length;
        })"""
    )
    assert set(lines) == {1}
