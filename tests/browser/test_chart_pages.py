"""A fault-finding chart in a real browser: on one page A4, on a telephone, in the dark, by ear."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from invented_source import VOCABULARY, InventedSource

from kb import cautions
from kb.faults.chart import LIMITS
from kb.notes.vocabulary import HAZARDS
from kb.resources import site_templates
from kb.site import Cautions, write_site
from kb.values import CheckOption
from kb.values_chart import Chart, ChartStep, Passed, Point, Suspect, Way

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
PAGE = "charts/heron-20/hum.html"
SUSPECTS = tuple(
    Suspect(cause, 0.24, (0.11, 0.42), Passed(3, 12))
    for cause in ("electrolytic-capacitor/high-esr", "carbon-resistor/noisy")
)


def fullest() -> Chart:
    """As many checks on a way, and as many ends, as a chart may have, with every danger."""
    names = list(VOCABULARY.checks)
    ends = LIMITS.ends - LIMITS.checks

    def point(depth: int) -> Point:
        made = tuple((check, "no-change") for check in names[:depth])
        if depth == LIMITS.checks:
            return Point(made, Passed(0, 0), SUSPECTS, 0.2, end="thin")
        others = 1 if depth else ends
        option = CheckOption(
            names[depth], names[depth], "live", 12.0, hazards=HAZARDS[:6], needs=("powered", "warm")
        )
        sides = tuple(
            Way("fault-changes", 0.3, Point(made, Passed(9, 40), SUSPECTS, 0.2, end="untold"))
            for _ in range(others)
        )
        return Point(
            made,
            Passed(9, 40),
            SUSPECTS,
            0.2,
            step=ChartStep(option, 22.0, 0.3, opens=not depth, said=("It stays off first.",)),
            ways=(Way("no-change", 0.5, point(depth + 1)), *sides),
            unmade=Passed(3, 9),
        )

    return Chart("heron-20", "hum", point(0), intermittent=True)


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site of a book whose one chart could not be fuller, with the cautions as they are."""
    source = InventedSource()
    source.cautions = Cautions(cautions.ACCESS, cautions.HAZARDS, cautions.TOPICS)
    source._charts = (fullest(),)
    folder = tmp_path_factory.mktemp("full")
    write_site(source, folder, site_templates())
    return folder


def pages_on_paper(page: Page, file: Path) -> int:
    page.goto(file.as_uri())
    # ISO 32000-1, 7.7.3.3: every page is an object of the type Page.
    return len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4")))


def test_the_charts_of_the_sample_book_and_the_fullest_there_can_be_fit_one_page_a4(
    sample_site: Path, tame: Path, full: Path, page: Page
) -> None:
    charts = [*sorted(sample_site.glob("charts/*/*.html")), tame / PAGE, full / PAGE]
    assert len(charts) > 3
    assert {str(file): pages_on_paper(page, file) for file in charts} == {
        str(file): 1 for file in charts
    }


def test_it_does_not_scroll_sideways_on_a_telephone(full: Path, page: Page) -> None:
    page.set_viewport_size({"width": 390, "height": 800})
    page.goto((full / PAGE).as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    # What a tap ends in stands below it there, and beside it where there is room.
    below = "(e => e.getBoundingClientRect().top)(document.querySelector('.chart-end'))"
    tap = "(e => e.getBoundingClientRect().bottom)(document.querySelector('.way:has(> .chart-end) > .tap'))"
    assert page.evaluate(below) > page.evaluate(tap)
    page.set_viewport_size({"width": 1280, "height": 800})
    assert page.evaluate(below) < page.evaluate(tap)


def test_the_chart_is_one_list_in_the_other_to_a_screen_reader(tame: Path, page: Page) -> None:
    page.goto((tame / PAGE).as_uri())
    chart = page.get_by_role("region").or_(page.locator(".chart-path"))
    assert chart.locator(".ways .ways .ways").count() == 1
    heard = page.locator(".chart-path").aria_snapshot()
    first, second, third = (
        heard.index(name)
        for name in ("Look for burns and bulges", "Try another mains lead", "Ripple on the first")
    )
    assert first < second < third
    assert heard.count("- list") >= 3
    levels = page.evaluate(
        "[...document.querySelectorAll('main :is(h1,h2,h3,h4,h5)')].map(h => +h.tagName[1])"
    )
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_it_is_readable_in_the_dark_and_black_on_white_on_paper(tame: Path, page: Page) -> None:
    page.emulate_media(color_scheme="dark")
    page.goto((tame / PAGE).as_uri())
    end = "getComputedStyle(document.querySelector('.chart-end.clear')).backgroundColor"
    dark = page.evaluate(end)
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate(end) == "rgb(255, 255, 255)" != dark


def test_its_end_leads_to_the_bench_with_everything_ticked(tame: Path, page: Page) -> None:
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.goto((tame / PAGE).as_uri())
    page.locator(".chart-end .go-on").first.click()
    page.locator("#made-block li, .made-list li").first.wait_for()
    assert page.locator(".made-list li").count() == 3
    assert said == []
