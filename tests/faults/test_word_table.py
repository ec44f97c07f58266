"""The words of a complaint as arrays: the figures of the ranking, to rounding."""

from __future__ import annotations

import pytest
from drawn_books import LINEAGE, PARENTS, WORDS, records, tally
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.faults.experience import experience_of
from kb.faults.findings import read_evidence
from kb.faults.word_table import WordTable
from kb.values import Evidence, FaultRecord


@settings(max_examples=60, deadline=None)
@given(
    records(least=2),
    st.sets(st.sampled_from((*WORDS, "unheard")), max_size=4),
    st.integers(0, 19),
)
def test_they_are_those_of_a_book_from_which_the_fault_was_taken_out(
    faults: list[FaultRecord], words: set[str], which: int
) -> None:
    experience = experience_of(tally(faults), LINEAGE, PARENTS)
    table = WordTable(experience)
    for without in (None, faults[which % len(faults)]):
        rest = experience.without(without) if without else experience
        pieces = read_evidence(rest, Evidence(words=tuple(words))).pieces
        found = table.log_likelihoods(words, without)
        if not pieces or not rest.causes:
            assert found is None or not rest.causes
            continue
        assert found == pytest.approx(
            pieces[0].log_likelihoods(rest.causes, rest.strengths.weight), abs=1e-12
        )
