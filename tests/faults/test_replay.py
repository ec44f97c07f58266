"""Asking the past again: the ranking's own probabilities, and nothing known before its day."""

from __future__ import annotations

import datetime as dt
from math import log

import numpy as np
import pytest
from drawn_books import LINEAGE, PARENTS, evidences, records, tally
from drawn_shops import LINEAGE as SHOP_LINEAGE
from drawn_shops import dated_faults, draw_shop
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import asdict, replace

from kb.faults.asking import at_intake, on_the_bench, steps
from kb.faults.counting import counts_of
from kb.faults.experience import experience_of
from kb.faults.fitting import fit
from kb.faults.ranking import posterior
from kb.faults.replay.past import Past
from kb.faults.replay.run import replay
from kb.faults.replay.score import Forecasts
from kb.faults.stages import stage
from kb.faults.strengths import FIXED, BackOff, Strengths
from kb.values import Evidence, FaultRecord
from kb.values_replay import WHY, Replay

LAW = settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
STRENGTHS = (
    FIXED,
    Strengths(
        family=BackOff(2.0, 0.3),
        symptom=0.4,
        check=0.3,
        word=5.0,
        weight=0.9,
        weights={"symptom:hum": 0.2, "absent:hum": 1.1, "check:tap": 0.7, "text": 0.05},
    ),
)


def known_then(faults: list[FaultRecord], record: FaultRecord) -> list[FaultRecord]:
    """What was finished before this one came in, in the order it was finished."""
    past = [f for f in faults if f.finished < record.received]
    return sorted(past, key=lambda f: (f.finished, f.case))


def by_hand(
    faults: list[FaultRecord],
    record: FaultRecord,
    evidence: Evidence,
    fitted: dict[tuple[FaultRecord, ...], Strengths],
) -> tuple[float, bool]:
    """The probability of what it was as the ranking itself gives it, and whether it was known."""
    past = known_then(faults, record)
    first = tuple(past[: stage(len(past))])
    if first not in fitted:
        fitted[first] = fit(first, SHOP_LINEAGE, {})
    book = experience_of(counts_of(past), SHOP_LINEAGE, {}, fitted[first])
    known, unseen = posterior(book, evidence)
    return known.get(record.cause, unseen), record.cause in known


@pytest.fixture(scope="module")
def shop() -> list[FaultRecord]:
    rng = np.random.default_rng(11)
    return dated_faults(rng, draw_shop(rng), 45)


@pytest.fixture(scope="module")
def answer(shop: list[FaultRecord]) -> Replay:
    return replay(shop, SHOP_LINEAGE, {})


# ---------------------------------------------------------------- the same numbers


@LAW
@given(records(least=1), evidences(), st.sampled_from(STRENGTHS))
def test_the_past_in_arrays_answers_as_the_ranking_does(
    faults: list[FaultRecord], evidence: Evidence, strengths: Strengths
) -> None:
    past = Past([f.cause for f in faults] + ["never/seen"], LINEAGE, PARENTS)
    past.strengths = strengths
    half = len(faults) // 2
    for i, fault in enumerate(faults):
        past.add(fault)
        if i >= half:
            book = experience_of(tally(faults[: i + 1]), LINEAGE, PARENTS, strengths)
            known, unseen = posterior(book, evidence)
            p = past.ask(evidence)
            found = {c: p[past.at[c]] for c in known}
            assert found == pytest.approx(known, abs=1e-9)
            assert p[-1] == pytest.approx(unseen, abs=1e-9)
            assert p.sum() == pytest.approx(1.0, abs=1e-9)


def test_a_whole_replay_scores_what_the_ranking_would_have_said(
    shop: list[FaultRecord], answer: Replay
) -> None:
    asked = [f for f in shop if known_then(shop, f)]
    fitted: dict[tuple[FaultRecord, ...], Strengths] = {}
    told = [by_hand(shop, f, at_intake(f), fitted) for f in asked]
    assert answer.cases == len(asked)
    assert answer.log_loss == pytest.approx(np.mean([-log(p) for p, _ in told]), abs=1e-9)
    assert answer.unseen.observed == pytest.approx(np.mean([not known for _, known in told]))
    later = [
        np.mean([-log(by_hand(shop, f, on_the_bench(f, made), fitted)[0]) for made in steps(f)])
        for f in asked
        if steps(f)
    ]
    assert answer.after_checks.log_loss == pytest.approx(np.mean(later), abs=1e-9)
    assert answer.after_checks.cases == len(later)


# ---------------------------------------------------------------- nothing known before its day


def test_what_comes_later_changes_no_answer(shop: list[FaultRecord], answer: Replay) -> None:
    later = (dt.date.fromisoformat(max(f.received for f in shop)) + dt.timedelta(1)).isoformat()
    more = [
        replace(f, case=f"later-{f.case}", cause="c0", received=later, finished=later)
        for f in shop[:30]
    ]
    whole = replay(shop + more, SHOP_LINEAGE, {})
    alone = replay(more + shop, SHOP_LINEAGE, {}, since=later)
    assert (alone.cases, whole.cases) == (len(more), answer.cases + len(more))
    for ours, theirs in (
        (whole, alone),
        (whole.baselines["text-only"], alone.baselines["text-only"]),
    ):
        sums = ours.log_loss * whole.cases, theirs.log_loss * alone.cases
        before = answer if ours is whole else answer.baselines["text-only"]
        assert sums[0] - sums[1] == pytest.approx(before.log_loss * answer.cases)


def test_faults_of_one_visit_never_serve_each_other() -> None:
    first = FaultRecord("a", "piper-8", "part-0/worn", received="2020-01-01", finished="2020-01-02")
    visit = [
        replace(first, case="b", cause="part-1/worn", received="2020-02-01", finished=day)
        for day in ("2020-02-01", "2020-01-15")  # a note may have its dates wrong
    ]
    found = replay([first, *visit], LINEAGE, PARENTS)
    assert found.cases == 2
    assert found.unseen.observed == 1.0
    assert found.missed == {"new-cause": 2}


def test_a_fault_finished_on_the_day_another_comes_in_is_not_known_yet() -> None:
    one = FaultRecord("a", "piper-8", "part-0/worn", received="2020-01-01", finished="2020-01-05")
    same_day = replace(one, case="b", received="2020-01-05", finished="2020-01-06")
    next_day = replace(one, case="c", received="2020-01-06", finished="2020-01-06")
    found = replay([one, same_day, next_day], LINEAGE, PARENTS)
    assert (found.cases, found.too_early) == (1, 2)


def test_open_visits_and_faults_without_a_cause_take_no_part(
    shop: list[FaultRecord], answer: Replay
) -> None:
    odd = [replace(shop[3], case="open", finished=""), replace(shop[4], case="none", cause="")]
    assert replay([*odd, *shop], SHOP_LINEAGE, {}) == answer


def test_the_order_of_the_records_does_not_matter(shop: list[FaultRecord], answer: Replay) -> None:
    mixed = [shop[i] for i in np.random.default_rng(2).permutation(len(shop))]
    assert replay(mixed, SHOP_LINEAGE, {}) == answer


# ---------------------------------------------------------------- scores


def test_a_cause_that_is_new_scores_the_unseen_and_misses_every_place() -> None:
    old = FaultRecord("a", "piper-8", "part-0/worn", received="2020-01-01", finished="2020-01-02")
    new = replace(old, case="b", cause="part-1/worn", received="2020-02-01", finished="2020-02-01")
    found = replay([old, new], LINEAGE, PARENTS)
    unseen = posterior(experience_of(counts_of([old]), LINEAGE, PARENTS), at_intake(new))[1]
    assert found.log_loss == pytest.approx(-log(unseen))
    assert (found.top1, found.top3, found.mean_reciprocal_rank) == (0.0, 0.0, 0.0)
    assert found.brier == pytest.approx(2 * (1 - unseen) ** 2)
    for other in found.baselines.values():
        assert other.log_loss == pytest.approx(-log(unseen))
    poor = found.worst[0]
    assert (poor.case, poor.rank, poor.probability) == ("b", None, pytest.approx(unseen))
    assert poor.why == "new-cause"


def test_places_go_by_probability_and_then_by_name() -> None:
    forecasts = Forecasts()
    for came in range(4):
        forecasts.add(np.array([0.2, 0.3, 0.2, 0.2, 0.1]), came)
    assert forecasts.place == [2, 1, 3, 4]
    assert forecasts.figures().mean_reciprocal_rank == pytest.approx(
        (1 / 2 + 1 + 1 / 3 + 1 / 4) / 4
    )


def test_the_calibration_table_holds_everything_that_was_said(
    shop: list[FaultRecord], answer: Replay
) -> None:
    asked = [f for f in shop if known_then(shop, f)]
    said = sum(len({p.cause for p in known_then(shop, f)}) for f in asked)
    table = answer.calibration
    assert sum(b.count for b in table) == said
    mass = sum(b.count * b.predicted for b in table) / len(asked)
    came = sum(b.count * b.observed for b in table) / len(asked)
    assert mass + answer.unseen.predicted == pytest.approx(1.0)
    assert came + answer.unseen.observed == pytest.approx(1.0)
    for b in table:
        assert b.low <= b.predicted <= b.high
        assert b.observed_interval[0] <= b.observed <= b.observed_interval[1]


def test_questions_after_checks_share_the_one_vote_of_their_fault(answer: Replay) -> None:
    after = answer.after_checks
    assert after.questions > after.cases
    mass = sum(b.count for b in after.calibration)
    assert mass > after.questions


def test_asking_of_some_families_only_is_a_part_of_asking_of_all(
    shop: list[FaultRecord], answer: Replay
) -> None:
    families = sorted({f.family for f in shop})
    halves = families[::2], families[1::2]
    parts = [replay(shop, SHOP_LINEAGE, {}, families=half) for half in halves]
    assert sum(p.cases for p in parts) == answer.cases
    for name in ("log_loss", "top3", "brier"):
        total = sum(asdict(p)[name] * p.cases for p in parts)
        assert total == pytest.approx(asdict(answer)[name] * answer.cases)
    for name, whole in answer.baselines.items():
        total = sum(p.baselines[name].log_loss * p.cases for p in parts)
        assert total == pytest.approx(whole.log_loss * answer.cases)


def test_differences_are_ours_less_theirs(answer: Replay) -> None:
    for other in answer.baselines.values():
        less = other.ours_less
        assert less.log_loss == pytest.approx(answer.log_loss - other.log_loss)
        assert less.top3 == pytest.approx(answer.top3 - other.top3)
        assert less.log_loss_interval[0] < less.log_loss < less.log_loss_interval[1]


def test_nothing_to_ask_is_no_error() -> None:
    found = replay([], LINEAGE, PARENTS)
    assert found.cases == 0
    assert np.isnan(found.log_loss)
    assert found.calibration == found.worst == found.early_checks == ()


# ---------------------------------------------------------------- what the shop can learn


def test_rankings_that_did_badly_say_why(answer: Replay) -> None:
    assert sum(answer.missed.values()) == round((1 - answer.top3) * answer.cases)
    assert set(answer.missed) <= set(WHY)
    assert all(p.rank is None or p.rank > 3 for p in answer.worst)
    assert all((p.rank is None) == (p.why == "new-cause") for p in answer.worst)


def visit(case: str, month: int, **keys: object) -> FaultRecord:
    plain = FaultRecord(
        case,
        "piper-8",
        "part-0/worn",
        symptoms=frozenset({"hum", "noise"}),
        at_counter=("hum",),
        received=f"2020-{month:02}-01",
        finished=f"2020-{month:02}-02",
    )
    return replace(plain, **keys)


@pytest.mark.parametrize(
    ("keys", "reason"),
    [
        ({"at_counter": ()}, "nothing-recognised"),
        ({"family": "lark-echo"}, "new-family"),
        ({"at_counter": ("crackle",)}, "never-with-these-symptoms"),
        ({}, "few-cases"),
    ],
)
def test_each_reason_is_given_where_it_holds(keys: dict[str, object], reason: str) -> None:
    others = [visit(f"o{i}", 1, cause=f"part-{i}/worn") for i in range(1, 6) for _ in range(3)]
    odd = visit("odd", 1, symptoms=frozenset({"crackle", "noise"}), cause="part-5/worn")
    found = replay([*others, odd, visit("one", 1), visit("asked", 2, **keys)], LINEAGE, PARENTS)
    assert [(p.case, p.why) for p in found.worst] == [("asked", reason)]


def test_a_late_check_that_confirmed_counts_the_minutes_before_it() -> None:
    checks = (("tap", "stays"), ("look", "clean"), ("swap", "good"))
    times = (("tap", 4.0), ("swap", 1.0), ("look", 6.0), ("swap", 2.0))
    found = replay([visit("a", 1), visit("b", 2, checks=checks, times=times)], LINEAGE, PARENTS)
    (early,) = found.early_checks
    assert (early.check, early.faults, early.late) == ("swap", 1, 1)
    assert early.minutes_before == 10.0
    assert early.own_minutes == 1.5
    assert early.cases == ("b",)


def test_a_late_check_that_moved_the_true_cause_most_counts_too() -> None:
    checks = (("tap", "stays"), ("look", "burnt"), ("swap", "good"))
    times = (("tap", 4.0), ("look", 6.0), ("swap", 2.0))
    past = [visit(f"a{i}", 1, checks=(("look", "burnt"),)) for i in range(3)]
    past += [visit(f"b{i}", 1, cause="part-1/worn", checks=(("look", "clean"),)) for i in range(3)]
    found = replay([*past, visit("c", 2, checks=checks, times=times)], LINEAGE, PARENTS)
    assert {e.check: e.minutes_before for e in found.early_checks} == {"swap": 10.0, "look": 4.0}


def test_a_check_without_noted_minutes_before_it_saves_none() -> None:
    checks = (("tap", "stays"), ("swap", "good"))
    found = replay([visit("a", 1), visit("b", 2, checks=checks)], LINEAGE, PARENTS)
    assert found.early_checks == ()
