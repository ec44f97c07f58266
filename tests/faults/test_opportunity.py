"""What else is worth a look while a unit is open."""

import pytest
from faults.visits import fault, visit

from kb.faults.opportunity import (
    COVER,
    LEAN,
    LOOK,
    SECOND_VISIT,
    SEEN,
    CauseFacts,
    tally_of,
    worth_looking,
)
from kb.values_history import Visit, WorthLooking


def seen(cause: str, times: int, family: str = "drover", **keys) -> list[Visit]:
    return [
        visit(f"{family}-{cause}-{i}", 0, fault(cause, **keys), family=family) for i in range(times)
    ]


FACTS = {
    "socket/loose": CauseFacts("Socket", frozenset({"sallow"}), "chassis out"),
    "relay/burnt": CauseFacts("Relay", frozenset({"sallow"}), "top cover"),
    "valve/worn": CauseFacts("Valve", frozenset({"sallow"}), None),
}


def looked(visits: list[Visit], **keys) -> dict[str, WorthLooking]:
    return {w.cause: w for w in worth_looking(tally_of(visits), "drover", FACTS, **keys)}


def test_the_minutes_saved_are_those_of_the_formula() -> None:
    visits = seen("socket/loose", 6, minutes_of_checks=55) + seen(
        "valve/worn", 6, minutes_of_checks=20
    )
    visits += seen("socket/loose", 1, "sallow") + seen("valve/worn", 9, "sallow")
    found = looked(visits)["socket/loose"]
    share = (6 + LEAN * 0.1) / (12 + LEAN)
    assert found.share == pytest.approx(share)
    assert found.finding == 55
    assert found.saved == pytest.approx(share * SEEN * (SECOND_VISIT + 55) - LOOK)
    assert (found.count, found.visits, found.comparable_count, found.comparable_visits) == (
        6,
        12,
        1,
        10,
    )
    assert found.interval[0] < share < found.interval[1]


def test_what_fails_often_comes_before_what_fails_seldom() -> None:
    visits = seen("relay/burnt", 2) + seen("socket/loose", 6) + seen("valve/worn", 1)
    assert list(looked(visits))[:2] == ["socket/loose", "relay/burnt"]


def test_what_takes_long_to_find_comes_before_what_is_found_at_once() -> None:
    visits = seen("relay/burnt", 3, minutes_of_checks=120) + seen(
        "socket/loose", 3, minutes_of_checks=5
    )
    assert list(looked(visits)) == ["relay/burnt", "socket/loose"]


def test_behind_another_cover_a_look_has_to_pay_for_taking_it_off() -> None:
    visits = seen("relay/burnt", 6, minutes_of_checks=60) + seen("socket/loose", 6)
    found = looked(visits, doing=("fuse/blown",), off="chassis out")
    assert (found["socket/loose"].free, found["socket/loose"].look) == (True, LOOK)
    assert (found["relay/burnt"].free, found["relay/burnt"].look) == (False, LOOK + COVER)
    assert list(found) == ["socket/loose", "relay/burnt"]


def test_under_a_tilted_harp_the_lid_is_off_too_but_not_the_other_way_round() -> None:
    facts = {
        "pin/loose": CauseFacts("Pin", cover="lid"),
        "tip/worn": CauseFacts("Tip", cover="lid and harp tilted"),
    }
    visits = seen("pin/loose", 6) + seen("tip/worn", 6, minutes_of_checks=60)
    tilted = worth_looking(tally_of(visits), "drover", facts, off="lid and harp tilted")
    assert all(w.free for w in tilted)
    only_lid = {
        w.cause: w.free for w in worth_looking(tally_of(visits), "drover", facts, off="lid")
    }
    assert only_lid == {"pin/loose": True, "tip/worn": False}


@pytest.mark.parametrize("cover", [None, "none (open back)"])
def test_what_nothing_covers_is_always_in_reach(cover) -> None:
    facts = {"valve/worn": CauseFacts("Valve", cover=cover)}
    (found,) = worth_looking(tally_of(seen("valve/worn", 6)), "drover", facts, off="top cover")
    assert found.free


def test_what_is_being_put_right_is_not_proposed() -> None:
    visits = seen("relay/burnt", 6) + seen("socket/loose", 6)
    assert "relay/burnt" not in looked(visits, doing=("relay/burnt",))


def test_cases_that_a_mishap_brought_on_do_not_count() -> None:
    visits = seen("relay/burnt", 6, brought_on_by="liquid") + seen("valve/worn", 6)
    assert list(looked(visits)) == ["valve/worn"]


def test_a_single_case_that_nobody_else_had_is_not_worth_a_look() -> None:
    visits = seen("relay/burnt", 1) + seen("valve/worn", 11)
    assert list(looked(visits)) == ["valve/worn"]


def test_a_family_never_seen_leans_on_comparable_units_alone() -> None:
    found = looked(seen("relay/burnt", 5, "sallow") + seen("valve/worn", 5, "sallow"))
    assert found["relay/burnt"].share == pytest.approx(0.5)
    assert found["relay/burnt"].visits == 0


def test_the_reasoning_is_said_in_words() -> None:
    visits = seen("relay/burnt", 5, minutes_of_checks=57) + seen("valve/worn", 7)
    why = looked(visits, off="chassis out")["relay/burnt"].why
    assert "5 of 12 visits of this family" in why
    assert "no comparable unit was ever here" in why
    assert "about 28 % of its next visits" in why
    assert "57 min" in why
    assert "more off (top cover), 12 min" in why
