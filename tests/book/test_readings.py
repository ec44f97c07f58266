"""Readings of whole books: what is fetched, what the sample book shows, what a question gets."""

from __future__ import annotations

import subprocess
import sys

import pytest
from small_book import closed

from kb.book import Book
from kb.errors import QuestionError
from kb.measuring import Measured, measured, placed
from kb.store import readings as stored

READ = "{at: %s, value: %s, when: %s, state: idle, mains: %s V}"


def reading(value, at="first-filter", when="as-left", mains=230) -> str:
    return READ % (at, value, when, mains)


def with_readings(case: str, *readings: str, cause="carbon-resistor/noisy", **keys: str) -> str:
    return closed(case, cause, readings=f"[{', '.join(readings)}]", **keys)


@pytest.fixture
def read_book(small):
    """A book whose first filter follows the mains and whose heater supply does not."""
    for i in range(12):
        mains = 221 + 2 * i
        small.write(f"R{i}", with_readings(
            f"R{i}",
            reading(f"{318 * mains / 230 + (-1, 0, 1)[i % 3]:.0f} V", mains=mains),
            reading(f"{(12.0, 12.1, 11.9)[i % 3]} V", "heater supply", mains=mains),
        ))  # fmt: skip
    small.write("X1", with_readings(
        "X1", reading("291 V", "First Filter", "as-found", 243),
        cause="electrolytic-capacitor/high-esr",
    ))  # fmt: skip
    return small


def test_only_points_that_follow_the_mains_get_a_narrower_range(read_book):
    with read_book.open() as book:
        points = {p.at: p for p in book.readings("drover-22").points}
    followed, steady = points["first-filter"], points["heater supply"]
    assert (followed.mains, followed.exponent) == ("follows", 1.0)
    assert followed.high - followed.low < (followed.raw[1] - followed.raw[0]) / 2
    assert (steady.mains, steady.exponent) == ("does-not-follow", 0.0)
    assert (steady.low, steady.high) == steady.raw


def test_a_wrong_reading_is_marked_with_its_cause_and_speaks_for_it(read_book):
    with read_book.open() as book:
        (marked,) = [u for p in book.readings("drover-22").points for u in p.unusual]
        (pointer,) = book.readings("drover-22").points[0].pointers
    assert (marked.case, marked.side, marked.noted) == ("X1", "low", "291 V")
    assert marked.cause_labels == ("Electrolytic capacitor tired",)
    assert marked.brought_to == pytest.approx(291 * 230 / 243)
    assert (pointer.cause, pointer.count) == ("electrolytic-capacitor/high-esr", 1.0)


def test_the_store_gives_readings_with_what_tells_healthy_ones(small):
    small.write("A1", with_readings("A1", reading("1 V"), closed_as="declined", unit="U-1"))
    small.write("A2", with_readings("A2", reading("2 mA"), modified="[b, a, a]"))
    small.write(
        "A3", with_readings("A3", "{at: p, value: 3 V}", "{at: q, value: 4 V, when: as-found}")
    )
    with small.open() as book:
        book.index()
        with book._opened.store.reading() as connection:
            rows = {r.case: r for r in stored.taken(connection)}
            assert stored.unsaid(connection, "drover-22") == 1
    assert (rows["A1"].well, rows["A1"].serial, rows["A1"].mains) == (False, "U-1", 230.0)
    assert (rows["A2"].well, rows["A2"].unit, rows["A2"].modified) == (True, "mA", ("a", "b"))
    assert (rows["A3"].at, rows["A3"].when, rows["A3"].state) == ("q", "as-found", None)


def test_the_faults_of_a_visit_share_its_readings_and_an_assumed_cause_counts_half(small):
    small.write("A1", with_readings("A1", reading("1 V"), confirmed_by="assumed"))
    two = "[{symptom: hum, root_cause: fuse/blown, fix: replace}, {symptom: smoke, root_cause: tape-head/worn, fix: replace}]"
    text = with_readings("A2", reading("1 V"), faults=two)
    small.write("A2", "\n".join(x for x in text.split("\n") if x[:4] not in ("root", "fix:")))
    with small.open() as book:
        assert book.index().refused == 0
        with book._opened.store.reading() as connection:
            found = stored.causes(connection)
    assert found["A1"] == {"carbon-resistor/noisy": 0.5}
    assert found["A2"] == {"fuse/blown": 0.5, "tape-head/worn": 0.5}


def test_an_incremental_sync_gives_what_a_rebuild_gives(read_book):
    with read_book.open() as book:
        book.readings("drover-22")
    read_book.write("R0", with_readings("R0", reading("390 V")))
    read_book.path("R3").unlink()
    with read_book.open() as book:
        synced = book.readings("drover-22")
        book.index(rebuild=True)
        assert book.readings("drover-22") == synced


def test_what_is_typed_at_the_bench_is_a_check_with_an_outcome(read_book):
    with read_book.open() as book:
        known = asked(book)
    low = placed(known, "drover-22", "First Filter=0.291 kV @ 240 V, Idle", 230.0)
    assert (low.check, low.judged.outcome) == ("reading:first-filter:idle", "low")
    assert low.check in known.told
    assert (
        placed(known, "drover-22", "first-filter=300 V @ 217 V, idle", 230.0).judged.outcome
        == "usual"
    )
    for text, why in [
        ("first-filter=300 mA, idle", "only as first-filter (idle, V)"),
        ("nowhere=300 V", "names such a point"),
        ("first-filter=150 V @ 115 V, idle", "too far from"),
    ]:
        lost = placed(known, "drover-22", text, 230.0)
        assert lost.judged is None
        assert why in lost.why
    with pytest.raises(QuestionError, match="has no unit"):
        placed(known, "drover-22", "first-filter=300", 230.0)


def asked(book: Book) -> Measured:
    book.index()
    with book._opened.store.reading() as connection:
        return measured(connection, book.vocabulary, book.settings.mains_voltage)


def test_an_unknown_family_is_refused_with_the_nearest(sample):
    with pytest.raises(QuestionError) as refused:
        sample.readings("drover-2")
    assert "drover-22" in refused.value.hint


def test_the_sample_book_has_ranges_and_planted_wrong_readings_in_several_families(sample):
    worth = 0
    for family in ("drover-22", "sallow-15", "sallow-30r", "serin-40"):
        points = sample.readings(family).points
        ranged = [p for p in points if p.by == "readings" and p.nominal is not None]
        worth += bool(ranged) and any(
            u.causes and not u.modified for p in ranged for u in p.unusual
        )
    assert worth >= 2


@pytest.mark.parametrize(
    ("family", "at", "case", "side", "cause"),
    [
        ("sallow-15", "first-filter", "2023-0018", "low", "electrolytic-capacitor/high-esr"),
        ("sallow-30r", "power-valve-cathode", "2023-0020", "low", "cathode-resistor/drifted"),
        ("serin-40", "power-valve-cathode", "2023-0017", "high", "coupling-capacitor/leaky"),
        ("fellgate-8p", "output-offset", "2021-0004", "high", "output-transistor/shorted"),
    ],
)
def test_a_planted_wrong_reading_is_found_with_its_cause(sample, family, at, case, side, cause):
    found = {
        (p.at, u.case, u.side): u.causes for p in sample.readings(family).points for u in p.unusual
    }
    assert cause in found[at, case, side]


def test_no_reading_as_left_stands_out_in_the_sample_book(sample):
    left = [
        (f, p.at, u.case)
        for f in sample.vocabulary.families
        for p in sample.readings(f).points
        for u in p.unusual
        if u.when == "as-left"
    ]
    assert left == []


def test_readings_are_answered_without_scipy(small):
    code = (
        "import sys; from kb.book import Book\n"
        f"Book.open({str(small.folder)!r}, {str(small.cache)!r}).readings('drover-22')\n"
        "sys.exit('scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0
