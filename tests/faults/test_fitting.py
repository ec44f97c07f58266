"""Fitting the strengths: exact in leaving out, the same for the same faults, best where it ends."""

from __future__ import annotations

import subprocess
import sys
from math import log

import msgspec
import numpy as np
import pytest
from drawn_books import LINEAGE, PARENTS, records, tally
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.faults.asking import at_intake, on_the_bench, steps
from kb.faults.counting import counts_of
from kb.faults.experience import Experience, experience_of
from kb.faults.fitting import LEAST_FAULTS, MOST_ASKED, fit
from kb.faults.fitting.prior import fit_prior
from kb.faults.fitting.questions import Questions
from kb.faults.fitting.strengths import asked
from kb.faults.fitting.weights import fit_weights, loss_and_slope
from kb.faults.ranking import rank
from kb.faults.strengths import FIXED, Strengths
from kb.values import FaultRecord

LAW = settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])


def book_of(faults: list[FaultRecord]) -> Experience:
    return experience_of(tally(faults), LINEAGE, PARENTS)


def one_by_one(book: Experience, faults: list[FaultRecord], strengths: Strengths) -> float:
    """The loss as `rank` gives it, each fault taken out of the book first."""
    total = 0.0
    for fault in faults:
        rest = replace(book, strengths=strengths).without(fault)
        questions = [at_intake(fault), *(on_the_bench(fault, made) for made in steps(fault))]
        for evidence in questions:
            answer = rank(rest, evidence)
            found = {c.cause: c.probability for c in answer.causes}
            loss = -log(found.get(fault.cause, answer.unseen))
            total += fault.weight * loss / len(questions)
    return total


def drawn(seed: int, faults: int = 60) -> list[FaultRecord]:
    """Faults in which symptoms and checks say something about the cause."""
    rng = np.random.default_rng(seed)
    found = []
    for i in range(faults):
        cause = int(rng.integers(6))
        symptom = ("hum", "crackle", "no-sound")[cause % 3 if rng.random() < 0.8 else 0]
        tap = "stops" if rng.random() < (0.9 if cause < 2 else 0.2) else "stays"
        look = ("burnt", "loose", "clean")[cause // 2 if rng.random() < 0.7 else 2]
        closed = {symptom, "noise"} if symptom != "no-sound" else {symptom}
        found.append(
            FaultRecord(
                case=f"2021-{i:03}",
                family=("piper-8", "piper-30", "finch-bass")[int(rng.integers(3))],
                cause=f"part-{cause}/worn",
                symptoms=frozenset(closed),
                at_counter=(symptom,),
                checks=(("tap", tap), ("look", look), ("swap", "good")),
                words=frozenset({"loud"} if rng.random() < 0.5 else {"warm"}),
            )
        )
    return found


@LAW
@given(records(least=2), st.floats(0.1, 1.2), st.integers(0, 2))
def test_leaving_out_in_arrays_gives_the_loss_of_asking_one_by_one(
    faults: list[FaultRecord], weight: float, first: int
) -> None:
    faults = [replace(f, at_intake=min(first, len(f.checks))) for f in faults]
    book = book_of(faults)
    strengths = replace(FIXED, symptom=0.7, check=1.3, word=2.0, weight=weight)
    questions = Questions(book, faults, strengths)
    found, _ = loss_and_slope(questions, np.full(len(questions.findings), weight))
    assert found == pytest.approx(one_by_one(book, faults, strengths), rel=1e-9)


@LAW
@given(records(least=3), st.integers(0, 999))
def test_the_slope_is_what_a_small_change_of_each_weight_does(
    faults: list[FaultRecord], seed: int
) -> None:
    questions = Questions(book_of(faults), faults, FIXED)
    weights = np.random.default_rng(seed).uniform(0.1, 1.2, len(questions.findings))
    slope = loss_and_slope(questions, weights)[1]
    for j in range(len(weights)):
        step = np.zeros_like(weights)
        step[j] = 1e-6
        up, down = (loss_and_slope(questions, weights + s)[0] for s in (step, -step))
        assert slope[j] == pytest.approx((up - down) / 2e-6, abs=1e-5)


@settings(max_examples=5, deadline=None)
@given(st.integers(0, 99), st.randoms(use_true_random=False))
def test_the_order_of_the_notes_does_not_matter(seed: int, chance: object) -> None:
    faults = drawn(seed)
    mixed = list(faults)
    chance.shuffle(mixed)
    assert fit(mixed, LINEAGE, PARENTS) == fit(faults, LINEAGE, PARENTS)


@pytest.mark.parametrize("seed", range(3))
def test_no_other_weights_near_by_are_better(seed: int) -> None:
    faults = drawn(seed)
    questions = Questions(book_of(faults), faults, FIXED)
    fitted = fit_weights(questions, (0.4,))

    def cost(common: float, each: np.ndarray) -> float:
        pull = ((each - common) ** 2).sum() / 0.4**2 + (common - 0.5) ** 2 / 0.5**2
        return loss_and_slope(questions, each)[0] + pull / 2

    least = cost(fitted.common, fitted.each)
    rng = np.random.default_rng(seed)
    for _ in range(50):
        step = rng.normal(0, 0.03, len(fitted.each) + 1)
        near = np.maximum(fitted.each + step[1:], 0.0)
        assert cost(fitted.common + step[0], near) >= least - 1e-6


def test_of_two_checks_that_always_agree_each_counts_about_half() -> None:
    once = [replace(f, checks=f.checks[:1], at_intake=1) for f in drawn(5, 400)]
    twice = [
        replace(f, checks=(*f.checks, ("tap-again", f.checks[0][1])), at_intake=2) for f in once
    ]
    one, both = (fit(f, LINEAGE, PARENTS) for f in (once, twice))
    alone = one.weight_of("check:tap=stops")
    assert both.weight_of("check:tap") == pytest.approx(both.weight_of("check:tap-again"))
    assert both.weight_of("check:tap") == pytest.approx(alone / 2, rel=0.25)


def test_a_finding_that_says_nothing_gets_less_weight_than_one_that_does() -> None:
    fitted = fit(drawn(6, 300), LINEAGE, PARENTS)
    assert fitted.weight_of("text") < fitted.weight_of("check:tap")


def test_a_book_that_is_too_small_keeps_the_fixed_strengths() -> None:
    assert fit(drawn(1, LEAST_FAULTS - 1), LINEAGE, PARENTS) is FIXED
    assert fit(drawn(1, LEAST_FAULTS), LINEAGE, PARENTS) != FIXED


def test_a_fault_that_was_only_assumed_counts_less() -> None:
    sure = drawn(2, 40)
    half = [replace(f, weight=0.5) if f.cause == "part-0/worn" else f for f in sure]
    one, other = (counts_of(f).faults["piper-8"]["part-0/worn"] for f in (sure, half))
    assert other == one / 2
    assert fit(half, LINEAGE, PARENTS) != fit(sure, LINEAGE, PARENTS)


def test_a_check_that_did_not_show_the_fault_changes_nothing() -> None:
    faults = drawn(3)
    shy = [replace(f, checks=(("wait", "not-showing"), *f.checks)) for f in faults]
    questions = Questions(book_of(faults), faults, FIXED)
    with_it = Questions(book_of(faults), shy, FIXED)
    assert with_it.findings == questions.findings


def test_of_a_large_book_the_same_faults_are_asked_whatever_their_order() -> None:
    faults = drawn(4, MOST_ASKED + 200)
    chosen = asked(faults)
    assert len(chosen) == MOST_ASKED
    assert {f.case for f in asked(faults[::-1])} == {f.case for f in chosen}


def test_fitted_strengths_survive_being_kept_as_json() -> None:
    fitted = fit(drawn(7), LINEAGE, PARENTS)
    kept = msgspec.json.encode(fitted)
    assert msgspec.json.decode(kept, type=Strengths) == fitted
    assert msgspec.json.encode(msgspec.json.decode(kept, type=Strengths)) == kept


def test_a_fitted_prior_is_no_worse_on_its_own_faults_than_the_fixed_one() -> None:
    faults = drawn(8, 80)
    book = book_of(faults)
    fitted = fit_prior(faults, book.tree, LINEAGE)

    def loss(strengths: Strengths) -> float:
        total = 0.0
        for fault in faults:
            prior = replace(book, strengths=strengths).without(fault).prior(fault.family)
            total -= log(prior.causes.get(fault.cause, prior.unseen))
        return total

    assert loss(fitted) < loss(FIXED)


def test_asking_needs_neither_numpy_nor_scipy() -> None:
    code = (
        "import sys, msgspec; from kb.faults.ranking import rank\n"
        "from kb.faults.experience import experience_of; from kb.faults.strengths import Strengths\n"
        "from kb.values import Counts, Evidence\n"
        "kept = msgspec.json.encode(Strengths(weights={'symptom:hum': 0.4}))\n"
        "strengths = msgspec.json.decode(kept, type=Strengths)\n"
        "counts = Counts(faults={'a': {'b': 1.0}}, symptoms={'hum': {'b': 1.0}})\n"
        "rank(experience_of(counts, {}, {}, strengths), Evidence('a', ('hum',)))\n"
        "sys.exit(bool({'numpy', 'scipy'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0
