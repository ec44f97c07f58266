"""How the cause of a fault was found, told with what the rest of the book would have said."""

from __future__ import annotations

import pytest
from drawn_books import LINEAGE, PARENTS, closed, evidences, records, tally
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.faults.experience import experience_of
from kb.faults.ranking import rank
from kb.faults.trail import follow
from kb.values import Evidence, FaultRecord, Step


def step(check: str, outcome: str) -> Step:
    return Step(
        check=check, label=f"Do {check}", outcome=outcome, minutes=3.0, at=None, note="n",
        access="outside", hazards=(), ruled_out=(), leading=(),
    )  # fmt: skip


def fault(number: int, cause: str, *symptoms: str, **checks: str) -> FaultRecord:
    return FaultRecord(
        case=f"2021-{number:03}",
        family="piper-8",
        cause=cause,
        symptoms=closed(symptoms),
        checks=tuple(checks.items()),
    )


VALVES = [fault(i, "valve/microphonic", "crackle", tap="stops") for i in range(9)]
POTS = [fault(30 + i, "pot/dirty", "crackle", tap="stays") for i in range(12)]
ONE_OFF = fault(20, "wire/broken", "crackle", tap="stays")
BOOK = experience_of(tally([*VALVES, *POTS, ONE_OFF]), LINEAGE, PARENTS)
INTAKE = Evidence(family="piper-8", symptoms=("crackle",))


def test_a_check_that_speaks_against_a_cause_is_said_to() -> None:
    trail = follow(BOOK, POTS[0], INTAKE, [step("tap", "stays")])
    told = trail.steps[0]
    assert told.ruled_out == ("valve/microphonic",)
    assert told.leading[0][0] == "pot/dirty"
    assert (told.label, told.minutes, told.note) == ("Do tap", 3.0, "n")


def test_the_book_does_not_answer_from_the_very_case_it_tells() -> None:
    trail = follow(BOOK, ONE_OFF, INTAKE, [step("tap", "stays")])
    assert "wire/broken" not in dict(trail.at_intake)
    assert all("wire/broken" not in dict(told.leading) for told in trail.steps)


def test_a_fault_that_is_in_no_counts_is_followed_with_the_whole_book() -> None:
    trail = follow(BOOK, None, INTAKE, [])
    expected = [(c.cause, c.probability) for c in rank(BOOK, INTAKE).causes[:3]]
    assert trail.steps == ()
    assert [c for c, _ in trail.at_intake] == [c for c, _ in expected]
    assert [p for _, p in trail.at_intake] == pytest.approx([p for _, p in expected])


def test_the_cause_that_was_found_is_named_at_intake_even_far_down() -> None:
    others = [fault(30 + i, f"part-{i}/worn", "crackle") for i in range(4) for _ in range(3)]
    rare = [fault(50 + i, "fuse/blown", "no-sound") for i in range(2)]
    book = experience_of(tally([*others, *rare]), LINEAGE, PARENTS)
    trail = follow(book, rare[0], INTAKE, [])
    assert len(trail.at_intake) == 4
    assert trail.at_intake[-1][0] == "fuse/blown"


def test_a_check_during_which_nothing_showed_changes_nothing() -> None:
    trail = follow(BOOK, POTS[0], INTAKE, [step("tap", "not-showing"), step("tap", "odd")])
    assert all(told.ruled_out == () for told in trail.steps)
    assert all(told.leading == trail.at_intake[:3] for told in trail.steps)


@settings(max_examples=60)
@given(records(least=1), evidences(), st.data())
def test_each_step_says_what_the_ranking_without_the_case_says(
    faults: list[FaultRecord], evidence: Evidence, data: st.DataObject
) -> None:
    book = experience_of(tally(faults), LINEAGE, PARENTS)
    record = data.draw(st.sampled_from(faults))
    made = [
        (check, data.draw(st.sampled_from(["stops", "stays", "burnt", "good", "not-showing"])))
        for check in data.draw(st.lists(st.sampled_from(["tap", "look", "swap"]), max_size=4))
    ]
    trail = follow(book, record, evidence, [step(*pair) for pair in made])
    before = {c.cause: c.probability for c in rank(book.without(record), evidence).causes}
    for count, told in enumerate(trail.steps, start=1):
        asked = replace(evidence, checks=(*evidence.checks, *made[:count]))
        ranking = rank(book.without(record), asked)
        after = {c.cause: c.probability for c in ranking.causes}
        assert [p for _, p in told.leading] == pytest.approx(
            [c.probability for c in ranking.causes[:3]], abs=1e-12
        )
        assert set(told.ruled_out) == {
            c for c, p in before.items() if p >= 0.03 and after[c] < p / 2
        }
        before = after
