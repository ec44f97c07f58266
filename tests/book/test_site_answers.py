"""What a book's site shows beside its cases: the same answers as the commands give."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest
from page_reader import read
from small_book import SmallBook, closed

import kb.faults.replay.run
from kb.book import Book


@pytest.fixture
def site(small: SmallBook, tmp_path: Path) -> Callable[[], Path]:
    """Writes the site of the small book and gives its folder."""

    def write() -> Path:
        with small.open() as book:
            book.write_site(tmp_path / "site")
        return tmp_path / "site"

    return write


@pytest.fixture
def replays(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many faults each replay was given, in their order."""
    made: list[int] = []
    real = kb.faults.replay.run.replay

    def counted(records: list[object], *rest: object) -> object:
        made.append(len(records))
        return real(records, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(kb.faults.replay.run, "replay", counted)
    return made


def test_an_unchanged_book_is_not_asked_its_past_twice(
    site: Callable[[], Path], replays: list[int]
) -> None:
    first = (site() / "how-good.html").read_bytes()
    again = (site() / "how-good.html").read_bytes()
    assert len(replays) == 1
    assert first == again


def test_a_new_case_or_another_vocabulary_asks_it_anew_and_a_mended_text_does_not(
    small: SmallBook, site: Callable[[], Path], replays: list[int]
) -> None:
    site()
    small.write("A2", closed("A2", "carbon-resistor/noisy", symptom="crackle",
        checks="[{check: tap-valves, outcome: no-change, minutes: 4}]",
        body="# Mended\n\nAnother word in the story."))  # fmt: skip
    site()
    assert len(replays) == 1
    small.write("A9", closed("A9", "carbon-resistor/noisy", symptom="crackle"))
    site()
    assert len(replays) == 2
    causes = small.folder / "vocabulary/causes.yaml"
    causes.write_text(causes.read_text("utf-8").replace("Carbon", "Old carbon", 1), "utf-8")
    site()
    assert len(replays) == 3


def test_a_kept_replay_that_was_spoilt_is_made_again(
    small: SmallBook, site: Callable[[], Path], replays: list[int]
) -> None:
    site()
    (kept,) = small.cache.rglob("replay")
    for spoilt in (b"", b"nonsense", kept.read_bytes()[:-1], bytes(4)):
        kept.write_bytes(spoilt)
        for memory in small.cache.rglob("site-*"):
            memory.unlink()  # else nobody asks, because nothing has changed
        before = len(replays)
        site()
        assert len(replays) == before + 1


def test_the_figures_of_the_page_are_those_of_the_command(sample: Book, tmp_path: Path) -> None:
    sample.write_site(tmp_path)
    shown = read(tmp_path / "how-good.html").text
    answer = sample.replay()
    assert f"Past faults asked {answer.cases} " in shown
    assert f"Among the first three {round(answer.top3 * answer.cases)} " in shown
    for one in answer.worst[:12]:
        assert one.case in shown
    for one in answer.calibration:
        assert f"{100 * one.low:.0f} to {100 * one.high:.0f} % {one.count} " in shown
    for family in sample.vocabulary.families:
        page = read(tmp_path / f"families/{family}.html").text
        for look in sample.while_open(family).suggestions[:8]:
            assert " ".join(look.why.split()) in page
            for caution in look.cautions:
                assert caution in page
        for caution in sample.while_open(family).cautions:
            assert caution in page
        measured = sample.readings(family)
        for caution in measured.cautions if measured.points else ():
            assert caution in page
        for point in measured.points:
            for odd in point.unusual[:6]:
                assert odd.case in page
        for back in sample.comebacks(family).comebacks[:8]:
            assert f"{back.back_as} " in page
            assert f"{back.days} days" in page


def test_what_is_new_on_the_home_page_is_what_the_command_says(
    sample: Book, tmp_path: Path
) -> None:
    sample.write_site(tmp_path)
    shown = read(tmp_path / "index.html").text
    last = max(d for c in sample.cases() for d in (c.received, c.finished, c.returned) if d)
    answer = sample.weak_points(since=dt.date(last.year - 1, last.month, last.day))
    new, rising = answer.new, answer.rising
    assert new
    assert rising
    told = shown[shown.index("What is new") : shown.index("Latest finished cases")]
    for one in new:
        assert f"{one.point.label} in " in told
        assert f"{one.point.count} of {one.cases} here" in told
    for one in rising:
        change = one.point.trend.change
        assert f"{one.point.label} in {one.family_label}" in told
        assert f"{change.after[0]} of {change.after[1]} visits since {change.since}" in told
        assert f"Then it was {one.then_count} of {one.then_cases}" in told


def test_the_spares_of_the_site_are_those_of_the_command(sample: Book, tmp_path: Path) -> None:
    sample.write_site(tmp_path)
    shown = read(tmp_path / "drawer.html").text
    answer = sample.drawer()
    places = [shown.index(one.part) for one in answer.spares]
    assert places == sorted(places)
    for family in ("mole-12a", "drover", "drover-22"):
        page = read(tmp_path / f"families/{family}.html").text
        theirs = sample.drawer([family])
        assert f"{theirs.repairs} repairs used parts" in page
        for one in theirs.spares[: min(theirs.enough, 8)]:
            assert one.part in page
    assert 'id="spares"' not in (tmp_path / "families/gyre-2.html").read_text("utf-8")
