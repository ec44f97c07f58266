"""The page that says how good the ranking has been."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from invented_answers import REPLAY
from invented_source import CASES, InventedSource
from msgspec.structs import replace
from page_reader import read

from kb.site import telling, write_site
from kb.site.pages.how_good import _verdict, summary
from kb.values_replay import CalibrationBin, Differences

PAGE = "how-good.html"


def test_every_case_that_says_what_the_book_would_have_said_links_to_it(tame: Path) -> None:
    for case in CASES:
        page = read(tame / f"cases/{case.case}.html")
        assert ("../how-good.html" in page.addresses) == ("would have said" in page.text)
    assert "how-good.html" in read(tame / "index.html").addresses


def test_the_diagram_is_drawn_from_the_figures_and_can_be_heard(tame: Path) -> None:
    source = (tame / PAGE).read_text("utf-8")
    assert '<circle class="dot" cx="25.00%" cy="90.00%"' in source
    assert '<line class="whisker" x1="25.00%" x2="25.00%" y1="96.00%" y2="80.00%"/>' in source
    heard = [a["aria-label"] for a in read(tame / PAGE).named("svg") if a.get("role") == "img"]
    assert "said 25\u202f%, came true 10\u202f%" in heard[0]


def test_the_table_says_what_the_diagram_draws(tame: Path) -> None:
    shown = read(tame / PAGE).text
    assert "20 to 30 % 40 25 % 10 % 4 % to 20 %" in shown


def test_both_simpler_rules_are_compared_in_words(tame: Path) -> None:
    shown = read(tame / PAGE).text
    assert (
        "Against “what this family has had most often”: the cause stood among the first three "
        "14 more in a hundred (95 % range +7 to +21): better than chance explains; it gave the "
        "true cause 1.6 times the probability, typically." in shown
    )
    assert "−1 in a hundred (95 % range −6 to +5): no more than chance can explain" in shown


def test_what_went_wrong_is_told_with_its_reason_and_its_case(tame: Path) -> None:
    shown = read(tame / PAGE).text
    assert "For 24 of 40 faults the cause was not among the first three" in shown
    assert "The cause was new to the book 20" in shown
    assert (
        "It was Carbon resistor, noisy, in place 7 with < 1 %: other causes fitted better" in shown
    )
    assert "which the book did not know yet (it kept 31 % for that)" in shown
    assert "cases/2024-0300.html" in read(tame / PAGE).addresses
    assert "3 of 5 2024-0117 1 h 30 min 30 min each" in shown


def test_a_comparison_over_too_few_visits_has_no_range_and_says_so() -> None:
    one = Differences(-0.4, (math.nan, math.nan), 0.5, (math.nan, math.nan))
    assert telling.against(one) == "+50 in a hundred: too few visits for a range"
    assert "too few visits" in telling.surprise(one)


def _bin(low: float, high: float, said: float, true: tuple[float, float], n: int) -> CalibrationBin:
    return CalibrationBin(low, high, n, said, sum(true) / 2, true)


@pytest.mark.parametrize(
    ("bins", "said"),
    [
        ([], "Too little was said"),
        ([_bin(0.2, 0.3, 0.25, (0.0, 0.1), 3)], "Too little was said"),
        ([_bin(0.2, 0.3, 0.25, (0.1, 0.4), 30)], "It can be taken at its word"),
        (
            [_bin(0.2, 0.3, 0.25, (0.0, 0.1), 30), _bin(0.3, 0.4, 0.35, (0.1, 0.2), 30)],
            "Less came true than it said where it said 20 to 40",
        ),
        ([_bin(0.2, 0.3, 0.25, (0.5, 0.9), 30)], "More came true than it said where it said 20"),
    ],
)
def test_the_verdict_follows_from_the_ranges(bins: list[CalibrationBin], said: str) -> None:
    assert _verdict(tuple(bins)).startswith(said)


def test_a_young_book_says_that_there_is_too_little_to_ask(tmp_path: Path, templates: Path) -> None:
    source = InventedSource()
    nothing = dict.fromkeys(("top1", "top3", "log_loss", "brier"), math.nan)
    source._replay = replace(
        REPLAY, cases=0, calibration=(), baselines={}, missed={}, worst=(), **nothing
    )
    write_site(source, tmp_path, templates)
    shown = read(tmp_path / PAGE).text
    assert "Too few faults to ask: 2 faults of known cause came in before any other" in shown
    assert summary(source._replay) == ""
    assert "how-good.html" not in read(tmp_path / "index.html").addresses
