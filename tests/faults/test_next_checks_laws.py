"""Laws of the expected information that hold for any book and any evidence."""

from __future__ import annotations

from math import fsum, log2

import pytest
from drawn_books import LINEAGE, OUTCOMES, PARENTS, evidences, records, tally
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.faults.experience import experience_of
from kb.faults.information import Beliefs, expect
from kb.faults.next_checks import Bench, next_checks
from kb.faults.ranking import Ranking, rank
from kb.faults.strengths import Strengths
from kb.values import CheckOption, Evidence, FaultRecord

LAW = settings(max_examples=60)
OPTIONS = tuple(
    CheckOption(check=c, label=c, access="outside", minutes=3.0, outcomes=OUTCOMES[c])
    for c in OUTCOMES
)


def entropy(ranking: Ranking) -> float:
    every = [*(c.probability for c in ranking.causes), ranking.unseen]
    return -fsum(p * log2(p) for p in every if p > 0)


@LAW
@given(records(), evidences(), st.sampled_from(sorted(OUTCOMES)), st.sampled_from([0.3, 0.5, 1.0]))
def test_bits_are_the_expected_fall_in_entropy_worked_out_the_long_way(
    faults: list[FaultRecord], evidence: Evidence, check: str, weight: float
) -> None:
    book = experience_of(tally(faults), LINEAGE, PARENTS, Strengths(weight=weight))
    evidence = replace(evidence, checks=tuple(p for p in evidence.checks if p[0] != check))
    ranking = rank(book, evidence)
    expected = expect(book, Beliefs.of(ranking), check)
    after = {
        outcome: rank(book, replace(evidence, checks=(*evidence.checks, (check, outcome))))
        for outcome in expected.outcomes
    }
    left = fsum(chance * entropy(after[o]) for o, chance in expected.outcomes.items())
    if expected.outcomes:
        assert expected.bits == pytest.approx(max(entropy(ranking) - left, 0.0), abs=1e-9)
    else:
        assert expected.bits == 0.0


@LAW
@given(records(), evidences(), st.sampled_from(sorted(OUTCOMES)))
def test_the_outcomes_of_a_check_sum_to_one_and_with_full_weight_it_can_not_mislead(
    faults: list[FaultRecord], evidence: Evidence, check: str
) -> None:
    book = experience_of(tally(faults), LINEAGE, PARENTS, Strengths(weight=1.0))
    ranking = rank(book, evidence)
    expected = expect(book, Beliefs.of(ranking), check)
    if expected.outcomes:
        assert fsum(expected.outcomes.values()) == pytest.approx(1.0, abs=1e-12)
    assert 0.0 <= expected.bits <= entropy(ranking) + 1e-9


@LAW
@given(records(), evidences(), st.randoms(use_true_random=False))
def test_the_order_of_the_options_does_not_matter(
    faults: list[FaultRecord], evidence: Evidence, chance: object
) -> None:
    book = experience_of(tally(faults), LINEAGE, PARENTS)
    mixed = list(OPTIONS)
    chance.shuffle(mixed)
    ranking = rank(book, evidence)
    one = next_checks(book, ranking, Bench(OPTIONS, made=evidence.checks))
    assert next_checks(book, ranking, Bench(mixed, made=evidence.checks)) == one
