"""Laws of the ranking that hold for any book and any evidence."""

from __future__ import annotations

from math import fsum, isclose, log

import pytest
from drawn_books import LINEAGE, OUTCOMES, PARENTS, evidences, records, tally
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.faults.experience import Experience, experience_of
from kb.faults.likelihood import rate
from kb.faults.ranking import Ranking, posterior, rank
from kb.faults.strengths import BackOff, Strengths
from kb.values import Evidence, FaultRecord, LikelyCause

STRENGTHS = st.builds(
    Strengths,
    family=st.builds(BackOff, st.floats(0.1, 20), st.floats(0, 0.9)),
    kind=st.builds(BackOff, st.floats(0.1, 20), st.floats(0, 0.9)),
    book=st.builds(BackOff, st.floats(0.1, 20), st.floats(0, 0.9)),
    symptom=st.floats(0.1, 5),
    check=st.floats(0.1, 5),
    weight=st.floats(0.1, 1),
    weights=st.dictionaries(
        st.sampled_from(
            ("text", "symptom:hum", "absent:noise", *(f"check:{check}" for check in OUTCOMES))
        ),
        st.floats(0.05, 1.5),
    ),
    spread=st.floats(0, 0.5),
)

LAW = settings(max_examples=60)


def known(faults: list[FaultRecord], strengths: Strengths | None = None) -> Experience:
    return experience_of(tally(faults), LINEAGE, PARENTS, strengths or Strengths())


def table(ranking: Ranking) -> dict[str, float]:
    return {c.cause: c.probability for c in ranking.causes}


@LAW
@given(records(), evidences(), STRENGTHS)
def test_probabilities_and_the_unseen_sum_to_one(
    faults: list[FaultRecord], evidence: Evidence, strengths: Strengths
) -> None:
    ranking = rank(known(faults, strengths), evidence)
    assert fsum([*table(ranking).values(), ranking.unseen]) == pytest.approx(1.0, abs=1e-12)
    assert posterior(known(faults, strengths), evidence) == (table(ranking), ranking.unseen)
    assert ranking.unseen > 0
    assert all(c.probability > 0 for c in ranking.causes)


@LAW
@given(records(least=1), evidences(), st.randoms(use_true_random=False))
def test_the_order_in_which_evidence_is_given_does_not_matter(
    faults: list[FaultRecord], evidence: Evidence, chance: object
) -> None:
    def shuffled(items: tuple) -> tuple:
        mixed = list(items)
        chance.shuffle(mixed)
        return tuple(mixed)

    again = Evidence(
        family=evidence.family,
        symptoms=shuffled(evidence.symptoms),
        absent=shuffled(evidence.absent),
        checks=shuffled(evidence.checks),
        words=shuffled(evidence.words),
    )
    assert rank(known(faults), again) == rank(known(faults), evidence)


@LAW
@given(records(least=1), st.randoms(use_true_random=False), evidences())
def test_the_order_of_the_notes_does_not_matter(
    faults: list[FaultRecord], chance: object, evidence: Evidence
) -> None:
    mixed = list(faults)
    chance.shuffle(mixed)
    one, other = rank(known(faults), evidence), rank(known(mixed), evidence)
    assert table(one) == pytest.approx(table(other), abs=1e-12)


@LAW
@given(records(least=1), evidences(), st.sampled_from(sorted(OUTCOMES)), st.integers(0, 3))
def test_a_fault_that_was_not_showing_during_a_check_changes_nothing(
    faults: list[FaultRecord], evidence: Evidence, check: str, place: int
) -> None:
    made = (*evidence.checks[:place], (check, "not-showing"), *evidence.checks[place:])
    assert rank(known(faults), replace(evidence, checks=made)) == rank(known(faults), evidence)


@LAW
@given(records(least=1), evidences(), STRENGTHS)
def test_the_reasons_of_a_cause_add_up_to_its_log_odds(
    faults: list[FaultRecord], evidence: Evidence, strengths: Strengths
) -> None:
    ranking = rank(known(faults, strengths), evidence)
    for cause in ranking.causes:
        rest = fsum([c.probability for c in ranking.causes if c is not cause] + [ranking.unseen])
        assert cause.why[0].evidence == "prior"
        assert fsum(w.log_odds for w in cause.why) == pytest.approx(
            log(cause.probability / rest), abs=1e-9
        )


@LAW
@given(records(least=1), evidences(), st.sampled_from(sorted(OUTCOMES)), st.data(), STRENGTHS)
def test_a_check_outcome_less_likely_under_a_cause_than_under_the_rest_lowers_it(
    faults: list[FaultRecord],
    evidence: Evidence,
    check: str,
    data: st.DataObject,
    strengths: Strengths,
) -> None:
    outcome = data.draw(st.sampled_from(OUTCOMES[check]))
    book = known(faults, strengths)
    rates = book.check_rates(check).get(outcome)
    assume(rates is not None)
    others = tuple(pair for pair in evidence.checks if pair[0] != check)
    before = rank(book, replace(evidence, checks=others))
    after = table(rank(book, replace(evidence, checks=(*others, (check, outcome)))))
    had = table(before)

    weight = strengths.weight_of(f"check:{check}={outcome}")

    def likelihood(cause: str) -> float:
        return rate(rates.of(cause)) ** weight

    for cause, p in had.items():
        rivals = [q * likelihood(c) for c, q in had.items() if c != cause]
        rivals.append(before.unseen * rates.of_unseen(strengths.weight) ** weight)
        ratio = likelihood(cause) * (1 - p) / fsum(rivals)
        if not isclose(ratio, 1.0, abs_tol=1e-9):
            assert (after[cause] < p) == (ratio < 1.0)


@LAW
@given(records(least=1), evidences(), STRENGTHS)
def test_evidence_less_likely_under_a_cause_than_under_every_rival_never_raises_it(
    faults: list[FaultRecord], evidence: Evidence, strengths: Strengths
) -> None:
    book = known(faults, strengths)
    for check, outcome in evidence.checks:
        rates = book.check_rates(check).get(outcome)
        if rates is None:
            continue
        likelihoods = {c: rate(rates.of(c)) for c in book.causes}
        least = min(likelihoods, key=likelihoods.__getitem__)
        rivals = [v for c, v in likelihoods.items() if c != least] + [
            rates.of_unseen(strengths.weight)
        ]
        if likelihoods[least] < min(rivals):
            why = next(c.why for c in rank(book, evidence).causes if c.cause == least)
            assert all(w.log_odds < 0 for w in why if w.evidence == f"check:{check}={outcome}")


@LAW
@given(records(least=1), evidences(), STRENGTHS, st.sampled_from(sorted(OUTCOMES)))
def test_a_finding_of_weight_nothing_changes_no_probability(
    faults: list[FaultRecord], evidence: Evidence, strengths: Strengths, check: str
) -> None:
    mute = replace(strengths, weights={**strengths.weights, f"check:{check}": 0.0})
    without = tuple(pair for pair in evidence.checks if pair[0] != check)
    asked = rank(known(faults, mute), evidence)
    assert table(asked) == pytest.approx(
        table(rank(known(faults, mute), replace(evidence, checks=without))), abs=1e-12
    )


@LAW
@given(records(least=1), st.sampled_from(sorted(OUTCOMES)), st.floats(0.1, 1))
def test_the_rate_of_the_unseen_lies_among_those_of_the_known_causes(
    faults: list[FaultRecord], check: str, power: float
) -> None:
    for rates in known(faults).check_rates(check).values():
        means = rates.means(rates.made)
        assert min(means) - 1e-12 <= rates.of_unseen(power) <= max(means) + 1e-12
        assert rates.of_unseen(power) <= rates.of_unseen(1.0) + 1e-12


@LAW
@given(records(least=1), evidences(), st.data())
def test_leaving_a_fault_out_is_the_same_as_never_having_counted_it(
    faults: list[FaultRecord], evidence: Evidence, data: st.DataObject
) -> None:
    record = data.draw(st.sampled_from(faults))
    book = known(faults)
    rank(book, evidence)
    left_out = rank(book.without(record), evidence)
    never_in = rank(known([f for f in faults if f is not record]), evidence)
    assert table(left_out) == pytest.approx(table(never_in), abs=1e-12)
    assert left_out.unseen == pytest.approx(never_in.unseen, abs=1e-12)
    assert left_out.notes == never_in.notes
    assert [c.cases for c in left_out.causes] == [c.cases for c in never_in.causes]


@LAW
@given(records(least=1), evidences(), st.floats(0.5, 0.99))
def test_an_interval_holds_its_probability_and_a_higher_level_is_wider(
    faults: list[FaultRecord], evidence: Evidence, level: float
) -> None:
    narrow, wide = rank(known(faults), evidence, 0.4), rank(known(faults), evidence, level)
    for inner, outer in zip(narrow.causes, wide.causes, strict=True):
        assert 0 <= outer.interval[0] <= inner.interval[0] <= inner.probability
        assert inner.probability <= inner.interval[1] <= outer.interval[1] <= 1


@LAW
@given(records(least=6), st.data())
def test_a_book_with_every_fault_twice_narrows_the_interval_of_the_leader(
    faults: list[FaultRecord], data: st.DataObject
) -> None:
    """Strengths and weights held; asked with what faults of the leading cause were seen with.

    Of what was never seen with a cause more faults only say that it is rarer still, and how rare
    stays open downwards.
    """
    asked = data.draw(st.sampled_from(faults))
    evidence = Evidence(asked.family, tuple(asked.symptoms), checks=asked.checks)
    strengths = Strengths(spread=0.0)
    once, twice = (rank(known(book, strengths), evidence) for book in (faults, faults * 2))
    leader = once.causes[0]
    own = [fault for fault in faults if fault.cause == leader.cause]
    assume(all(any(s in fault.symptoms for fault in own) for s in asked.symptoms))
    assume(all(any(pair in fault.checks for fault in own) for pair in asked.checks))
    again = next(c for c in twice.causes if c.cause == leader.cause)
    assert width(again) < width(leader)


def width(cause: LikelyCause) -> float:
    """Of the interval, on the scale of log odds, on which it is made."""
    low, high = cause.interval
    return log(high / (1 - high)) - log(low / (1 - low))
