"""The sample book: what it promises to hold, and what must be found in it."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter

from kb.book import Book
from kb.resources import sample_book

PLANTED = {
    ("drover-22", "carbon-resistor/noisy"),
    ("sallow-30r", "valve-socket/loose-contacts"),
    ("brock-d500", "relay/burnt-contacts"),
    ("larkspur-ii", "connector/oxidised"),
    ("lantern-echo", "signal-transistor/noisy"),
}
RISING = ("mole-12a", "start-resistor/open")
CHANCE = ("drover-50", "power-valve/worn")


def test_the_sample_book_has_no_fault(sample: Book):
    assert sample.check() == ()


def test_every_planted_weak_point_is_flagged_and_nothing_else(sample: Book):
    flagged = {
        (family.family, cause.cause)
        for family in sample.weak_points().families
        for cause in family.causes
        if cause.flag
    }
    assert flagged == PLANTED


def test_the_pair_that_is_only_chance_is_listed_and_not_flagged(sample: Book):
    (family,) = sample.weak_points(CHANCE[0]).families
    pair = next(c for c in family.causes if c.cause == CHANCE[1])
    assert (pair.count, pair.comparable_count) == (3, 6)
    assert not pair.flag


def test_the_planted_trend_is_found_and_no_other(sample: Book):
    changing = {
        (family.family, cause.cause): cause.trend.direction
        for family in sample.weak_points().families
        for cause in family.causes
        if cause.trend.direction != "steady"
    }
    assert changing == {RISING: "rising"}


def test_the_planted_trend_is_told_by_its_years_and_against_the_intake(sample: Book):
    (family,) = sample.weak_points(RISING[0]).families
    point = next(c for c in family.causes if c.cause == RISING[1])
    assert family.visits == {2020: 1, 2022: 1, 2023: 2, 2024: 2, 2025: 5, 2026: 6}
    assert point.by_year == {2025: 3, 2026: 4}
    # Dealing 7 cases out to 17 visits: all of them among the last 11 in 330 of 19,448 ways.
    assert point.trend.p < 2 * 330 / 19_448
    assert point.trend.change is not None
    assert (point.trend.change.before, point.trend.change.after) == ((0, 6), (7, 11))


def test_the_planted_trend_is_new_since_it_began_and_no_longer_once_it_could_be_seen(
    sample: Book,
):
    def rising(since: dt.date) -> list[tuple[str, str]]:
        return [(n.family, n.point.cause) for n in sample.weak_points(since=since).rising]

    assert rising(dt.date(2025, 1, 1)) == [RISING]
    assert rising(dt.date(2026, 9, 1)) == [RISING]
    latest = max(c.finished for c in sample.cases() if c.finished)
    assert rising(latest + dt.timedelta(days=1)) == []
    # From the date on which the test first speaks of it, it is news no more.
    days = sorted(c.finished for c in sample.cases() if c.finished and c.family == RISING[0])
    told = [rising(day + dt.timedelta(days=1)) == [RISING] for day in days[-4:]]
    assert told == sorted(told, reverse=True)
    assert told[0] is True


def test_a_trend_is_no_weak_point_where_hardly_a_unit_can_be_compared(sample: Book):
    (family,) = sample.weak_points(RISING[0]).families
    point = next(c for c in family.causes if c.cause == RISING[1])
    assert (point.count, point.comparable_count, point.comparable_cases) == (7, 0, 12)
    assert not point.flag


def test_the_book_is_as_long_and_as_varied_as_a_real_one(sample: Book):
    cases = sample.cases()
    assert len(cases) >= 118
    assert len({c.family for c in cases}) >= 8
    assert len({c.received.year for c in cases}) >= 6
    assert sum(len(c.faults) > 1 for c in cases) >= 6
    assert sum(c.is_open for c in cases) >= 3
    assert sum(c.comeback_of is not None for c in cases) >= 4
    assert sum(any(f.took_with_it for f in c.faults) for c in cases) >= 4
    assert sum(any(f.brought_on_by == "earlier-repair" for f in c.faults) for c in cases) >= 4
    assert sum(any(f.reproduced == "sometimes" for f in c.faults) for c in cases) >= 8
    assert sum(bool(c.modified) for c in cases) >= 4
    assert sum(len(c.body.split()) >= 500 for c in cases) >= 6
    assert {"no-fault-found", "declined", "beyond-repair", "referred"} <= {
        c.closed_as for c in cases
    }
    batches = Counter(p.batch for c in cases for f in c.faults for p in f.parts if p.batch)
    assert batches.most_common(1)[0][1] >= 3


def test_most_causes_are_a_long_tail(sample: Book):
    seen = Counter(cause for case in sample.cases() for cause in case.root_causes)
    assert sum(count <= 2 for count in seen.values()) > len(seen) / 2


def test_no_note_copies_another(sample: Book):
    """No two bodies share a stretch of twelve words."""
    owner: dict[tuple[str, ...], str] = {}
    for case in sample.cases():
        words = re.findall(r"\w+", case.body.lower())
        for i in range(len(words) - 11):
            stretch = tuple(words[i : i + 12])
            assert owner.setdefault(stretch, case.case) == case.case, " ".join(stretch)


def test_telephone_numbers_are_from_the_range_reserved_for_fiction():
    """Ofcom reserves 01632 960000 to 960999 for drama use."""
    found = 0
    for path in sample_book().rglob("*.md"):
        for number in re.findall(r"\b0\d{4} ?\d{6}\b", path.read_text(encoding="utf-8")):
            found += 1
            assert re.fullmatch(r"01632 960\d{3}", number), path
    assert found


def test_every_live_check_in_the_vocabulary_names_a_hazard(sample: Book):
    for check in sample.vocabulary.checks.values():
        if check.access == "live":
            assert check.hazards, check.key


def test_every_check_says_how_it_is_made(sample: Book):
    assert not [c.key for c in sample.vocabulary.checks.values() if not c.how]
