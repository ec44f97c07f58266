"""What stands beside a likely cause: victims, modifications, the time it may take."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.faults.reasons import LIMITS, MOST, behind_it, changed_there, time_needed

TIMES = st.dictionaries(
    st.sampled_from([10.0, 25.0, 40.0, 70.0, 150.0, 400.0]),
    st.integers(1, 9).map(float),
    min_size=1,
)


def test_a_dead_part_names_what_took_it_along_most_often_first():
    damage = {
        "fuse/blown": {"rectifier/shorted": 1.0, "power-valve/shorted": 3.0, "fuse/blown": 9.0}
    }
    found = behind_it("fuse/blown", damage)
    assert [(b.cause, b.faults) for b in found] == [
        ("power-valve/shorted", 3.0),
        ("rectifier/shorted", 1.0),
    ]


def test_what_was_never_a_victim_has_nothing_behind_it():
    assert behind_it("fuse/blown", {"tweeter/open": {"amp/failed": 1.0}}) == ()


@pytest.mark.parametrize(
    ("cause", "names", "found"),
    [
        ("rectifier-valve/worn", (), ("solid-state-rectifier",)),
        ("valve/worn", ("Rectifier, tired",), ("solid-state-rectifier",)),
        ("tape-head/worn", ("Tape head",), ()),
        ("the-of/worn", (), ()),
    ],
)
def test_a_modification_counts_where_it_shares_a_word_with_the_place(cause, names, found):
    assert changed_there(cause, names, ("solid-state-rectifier", "new-handle-of-old")) == found


def test_the_time_is_that_of_the_likely_cause_as_far_as_it_was_noted():
    durations = {"quick": {20.0: 30.0}, "slow": {200.0: 30.0}}
    quick = time_needed({"quick": 0.99, "slow": 0.01}, durations)
    slow = time_needed({"quick": 0.01, "slow": 0.99}, durations)
    assert quick.under == 30.0
    assert slow.under == 240.0
    assert quick.middle == 20.0
    assert quick.faults == 30


def test_with_few_noted_times_nothing_is_said():
    assert time_needed({"quick": 1.0}, {"quick": {20.0: 4.0}}) is None
    assert time_needed({}, {}) is None


@given(st.dictionaries(st.sampled_from("abcd"), TIMES, min_size=1), st.data())
def test_the_limit_is_the_first_that_holds_the_share_it_says(durations, data):
    parts = [data.draw(st.floats(0.0, 1.0)) for _ in durations]
    beliefs = {c: p / (sum(parts) + 0.2) for c, p in zip(durations, parts, strict=True)}
    found = time_needed(beliefs, durations)
    noted = sum(sum(row.values()) for row in durations.values())
    if noted < 5:
        assert found is None
        return
    assert found.under in LIMITS
    assert MOST <= found.share <= 1.0 + 1e-9
    # A mean of shares lies between that of the quickest and that of the slowest cause.
    shares = [
        sum(n for minutes, n in row.items() if minutes <= found.under) / sum(row.values())
        for row in durations.values()
    ]
    assert min(shares) - 1e-9 <= found.share <= max(shares) + 1e-9
    shorter = [limit for limit in LIMITS if limit < found.under]
    if shorter and all(
        sum(n for m, n in row.items() if m <= shorter[-1]) / sum(row.values()) >= MOST
        for row in durations.values()
    ):
        pytest.fail("a shorter limit would have done")


def test_a_cause_without_noted_times_takes_what_the_book_takes():
    durations = {"known": {20.0: 8.0, 100.0: 8.0}}
    assert time_needed({"other": 1.0}, durations).middle == time_needed({}, durations).middle
