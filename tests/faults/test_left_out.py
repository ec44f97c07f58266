"""One fault after the other left out of an experience, with what is remembered between them."""

from __future__ import annotations

import pytest
from drawn_books import LINEAGE, PARENTS, evidences, records, tally
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.faults.experience import experience_of
from kb.faults.left_out import Shared
from kb.faults.trail import follow
from kb.values import Evidence, FaultRecord, Step


def step(check: str, outcome: str) -> Step:
    return Step(
        check=check, label=check, outcome=outcome, minutes=None, at=None, note="",
        access="outside", hazards=(), ruled_out=(), leading=(),
    )  # fmt: skip


def steps_of(record: FaultRecord) -> list[Step]:
    return [step(check, outcome) for check, outcome in record.checks]


@settings(max_examples=60, deadline=None)
@given(records(least=3), st.lists(evidences(), min_size=1, max_size=3))
def test_trails_are_the_same_whatever_was_asked_before(
    faults: list[FaultRecord], intakes: list[Evidence]
) -> None:
    experience = experience_of(tally(faults), LINEAGE, PARENTS)
    shared = Shared(experience)
    for record in (*faults, None, *faults):
        if record and not experience.without(record).causes:
            continue
        for intake in intakes:
            steps = steps_of(record or faults[0])
            plain = follow(experience, record, intake, steps)
            quick = follow(experience, record, intake, steps, shared)
            assert dict(quick.at_intake) == pytest.approx(dict(plain.at_intake), abs=1e-12)
            for one, other in zip(quick.steps, plain.steps, strict=True):
                assert dict(one.leading) == pytest.approx(dict(other.leading), abs=1e-12)
                assert one.ruled_out == other.ruled_out
