"""A plan: safe at every step, and its minutes are what following it comes to."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from drawn_books import LINEAGE, OUTCOMES, PARENTS, evidences, records, tally
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.faults import planning_table
from kb.faults.bench import Bench, survey
from kb.faults.costs import COVER_MINUTES, WAIT_RATE
from kb.faults.experience import Experience, experience_of
from kb.faults.information import Beliefs, expect
from kb.faults.next_checks import next_checks
from kb.faults.planning import Node, Walk, expected_minutes, grow, plan, recommended
from kb.faults.planning_table import trying, weigh
from kb.faults.ranking import rank
from kb.faults.stopping import Parts, sentences
from kb.faults.strengths import Strengths
from kb.faults.trying import Trying, expected_trying_minutes
from kb.values import CheckOption, Evidence, FaultRecord, Plan, UsualOrder

CAUSES = ("cap/leaky", "pot/dirty", "valve/worn", "jack/broken")
TRYING = Trying(usual=30.0, search=200.0)


def experience(**checks: str) -> Experience:
    """Twelve faults of each of four causes; of a check, the outcome that each cause shows.

    "ynnn": the first cause shows "yes", the others "no".
    """
    names = {"y": "yes", "n": "no"}
    faults = [
        FaultRecord(
            "1", "piper-8", cause, checks=tuple((c, names[o[i]]) for c, o in checks.items())
        )
        for i, cause in enumerate(CAUSES)
        for _ in range(12)
    ]
    return experience_of(tally(faults), {}, {}, Strengths(weight=1.0))


def option(check: str, **changes: object) -> CheckOption:
    given = {"access": "outside", "minutes": 4.0, "outcomes": ("yes", "no"), **changes}
    return CheckOption(check=check, label=f"Do {check}", **given)


def planned(book: Experience, *options: CheckOption, **bench: object) -> Plan:
    ranking = rank(book, Evidence("piper-8", checks=bench.get("made", ())))
    return plan(book, ranking, Bench(options, **{"trying": TRYING, **bench}))


def order(found: Plan) -> list[str]:
    return [step.check for step in found.steps]


def test_two_checks_that_only_together_name_the_cause_are_both_made() -> None:
    book = experience(half="yynn", other="ynyn")
    found = planned(book, option("half"), option("other"))
    assert order(found) == ["half", "other"]
    assert found.steps[1].probability > 0.7
    assert found.stop.now
    assert found.stop.cause == found.steps[1].leads
    assert sentences(found.stop, "outside", 2)[0].startswith("After these 2 checks trying")
    assert found.expected < found.trying - 20.0


def test_it_ends_at_once_where_no_check_is_worth_its_time() -> None:
    found = planned(experience(half="yynn"), option("half", minutes=300.0))
    assert found.steps == ()
    assert found.expected == pytest.approx(found.trying)
    assert found.stop.now


def test_what_must_come_first_is_the_first_step_and_no_guess_is_made_how_it_comes_out() -> None:
    book = experience(half="yynn")
    found = planned(book, option("half", needs=("powered",)), option("look"), first=("look",))
    assert order(found) == ["look", "half"]
    assert found.steps[0].first
    assert found.steps[0].outcome is None


def test_where_what_came_first_alarms_nothing_with_power_follows() -> None:
    book = experience(half="yynn", look="ynnn")
    options = (option("half", needs=("powered",)), option("look", clears=("no",)))
    ranking = rank(book, Evidence("piper-8"))
    bench = Bench(options, first=("look",), trying=TRYING)
    root = grow(Walk(book, ranking, bench), recommended)
    after = {child.situation.made[-1]: child for child in root.children}
    assert after["look", "yes"].option is None
    assert after["look", "no"].option is not None


def test_nothing_above_the_allowed_access_is_in_it() -> None:
    book = experience(half="yynn", probe="ynyn")
    options = (option("half"), option("probe", access="live"))
    assert order(planned(book, *options, allowed="open")) == ["half"]
    assert "probe" in order(planned(book, *options, allowed="live"))


def test_the_cover_is_paid_once() -> None:
    book = experience(half="yynn", other="ynyn")
    options = (option("half", access="open"), option("other", access="open"))
    found = planned(book, *options, allowed="open", trying=replace(TRYING, usual=60.0))
    assert [(s.opens, s.minutes) for s in found.steps] == [
        (True, 4.0 + COVER_MINUTES),
        (False, 4.0),
    ]


def test_what_a_check_needs_is_a_step_before_it() -> None:
    book = experience(half="yynn")
    options = (option("half", needs=("clip-on",)), option("clip-on", minutes=1.0))
    assert order(planned(book, *options)) == ["clip-on", "half"]


def test_waiting_unattended_costs_little() -> None:
    book = experience(half="yynn")
    quick = planned(book, option("half", minutes=2.0))
    soak = planned(book, option("half", minutes=2.0, wait=60.0))
    assert soak.expected - quick.expected == pytest.approx(60.0 * WAIT_RATE)


def test_what_may_chase_the_fault_away_comes_late_while_it_comes_and_goes() -> None:
    book = experience(reseat="yynn", listen="ynyn")
    options = (option("reseat", minutes=3.0, disturbs=True), option("listen"))
    assert order(planned(book, *options)) == ["reseat", "listen"]
    assert order(planned(book, *options, intermittent=True, prove=60.0))[0] == "listen"


def test_the_usual_order_stands_beside_it_by_the_same_model() -> None:
    book = experience(half="yynn", other="ynyn", useless="yyyy")
    options = (option("half"), option("other"), option("useless", minutes=15.0))
    worse = UsualOrder(("useless", "other", "half"), 9, "kind")
    found = planned(book, *options, usual=worse)
    assert found.usual == worse
    assert found.usual_expected is not None
    assert found.usual_expected == pytest.approx(found.expected + 15.0, abs=1.0)
    same = planned(book, *options, usual=UsualOrder(tuple(order(found)), 9, "kind"))
    assert same.usual_expected == pytest.approx(found.expected)
    assert planned(book, *options).usual_expected is None


def test_what_is_said_is_the_mean_over_faults_drawn_from_the_model_and_followed() -> None:
    book = experience(half="yynn", other="ynyn")
    ranking = rank(book, Evidence("piper-8"))
    options = (option("half"), option("other", access="open"), option("more", minutes=1.0))
    bench = Bench(options, allowed="open", trying=replace(TRYING, behind=frozenset(CAUSES[:2])))
    walk = Walk(book, ranking, bench)
    root = grow(walk, recommended)
    rng = np.random.default_rng(7)
    causes = [*walk.table.causes, "rest"]
    minutes = []
    for _ in range(4000):
        cause = int(rng.choice(len(causes), p=walk.table.start))
        node, spent = root, 0.0
        while not node.stops and node.option is not None:
            spent += walk.time(node.situation, node.option)
            rows = walk.table.rows[node.option.check]
            chances = (
                np.array([walk.table.rates[row, cause] for row in rows]) if rows else np.ones(1)
            )
            node = node.children[int(rng.choice(len(chances), p=chances / chances.sum()))]
        cover = COVER_MINUTES if node.situation.closed else 0.0
        for i in walk.tries(node.situation).order:
            spent += float(walk.table.minutes[i]) + (cover if walk.table.inside[i] else 0.0)
            cover = 0.0 if walk.table.inside[i] else cover
            if i == cause:
                break
        else:
            spent += walk.table.search
        minutes.append(spent)
    error = np.std(minutes) / np.sqrt(len(minutes))
    assert expected_minutes(walk, root) == pytest.approx(np.mean(minutes), abs=4.0 * error)


OPTIONS = tuple(
    CheckOption(c, c, access, minutes, outcomes=OUTCOMES[c])
    for c, access, minutes in zip(
        OUTCOMES, ("outside", "open", "live"), (2.0, 4.0, 9.0), strict=True
    )
)
LAW = settings(max_examples=40, deadline=None)


@LAW
@given(
    records(1),
    evidences(),
    st.sampled_from(["outside", "open", "live"]),
    st.sampled_from([0.3, 0.6, 1.0]),
)
def test_a_plan_never_takes_longer_than_trying_parts_at_once_by_its_own_model(
    faults: list[FaultRecord], evidence: Evidence, allowed: str, weight: float
) -> None:
    book = experience_of(tally(faults), LINEAGE, PARENTS, Strengths(weight=weight))
    bench = Bench(OPTIONS, evidence.checks, allowed=allowed, trying=TRYING)
    found = plan(book, rank(book, evidence), bench)
    assert found.expected <= found.trying + 1e-6
    assert found.followed == pytest.approx(1.0)
    assert all(("outside", "open", "live").index(s.access) <= ("outside", "open", "live").index(allowed) for s in found.steps)  # fmt: skip
    assert sum(step.opens for step in found.steps) <= 1


@LAW
@given(records(1), evidences(), st.sampled_from([0.5, 1.0]))
def test_the_arrays_say_what_the_ranking_and_the_stop_point_say(
    faults: list[FaultRecord], evidence: Evidence, weight: float
) -> None:
    book = experience_of(tally(faults), LINEAGE, PARENTS, Strengths(weight=weight))
    ranking = rank(book, evidence)
    behind = frozenset(c.cause for c in ranking.causes[::2])
    bench = Bench(OPTIONS, evidence.checks, allowed="live", trying=replace(TRYING, behind=behind))
    beliefs = Beliefs.of(ranking)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planning_table, "CONSIDERED", 2.0)
        patch.setattr("kb.faults.stopping.CONSIDERED", 2.0)
        walk = Walk(book, ranking, bench)
        now = survey(bench, bench.made)
        worth = weigh(walk.table, walk.table.start, now.offered, now.closed)
        told = [expect(book, beliefs, o.option.check).told for o in now.offered]
        assert worth.told == pytest.approx(told, abs=1e-9)
        stop = next_checks(book, ranking, bench).stop
        parts = Parts.of(beliefs, bench)
    assert stop is not None
    if stop.check:
        saves = {o.option.check: s for o, s in zip(now.offered, worth.saves, strict=True)}
        assert stop.saves == pytest.approx(saves[stop.check], abs=1e-6)
    start = walk.table.start[None]
    for closed in (True, False):
        row = trying(walk.table, start, start, np.array([closed]))
        cover = COVER_MINUTES if closed else 0.0
        one = expected_trying_minutes(parts.p, parts.minutes, parts.search, parts.inside, cover)
        assert row[0] == pytest.approx(one, abs=1e-6)


@LAW
@given(records(1), evidences())
def test_what_would_be_then_is_what_asking_again_says_the_unseen_included(
    faults: list[FaultRecord], evidence: Evidence
) -> None:
    book = experience_of(tally(faults), LINEAGE, PARENTS)
    bench = Bench(OPTIONS, evidence.checks, allowed="live")
    for proposed in next_checks(book, rank(book, evidence), bench).checks:
        earlier = tuple(pair for pair in evidence.checks if pair[0] != proposed.check)
        assert set(proposed.then) == set(proposed.then_unseen) == set(proposed.outcomes)
        for outcome, leading in proposed.then.items():
            checks = (*earlier, (proposed.check, outcome))
            again = rank(book, replace(evidence, checks=checks))
            found = {c.cause: c.probability for c in again.causes}
            assert leading == pytest.approx({c: found[c] for c in leading}, abs=1e-9)
            assert min(leading.values()) >= sorted(found.values())[-len(leading)] - 1e-9
            assert proposed.then_unseen[outcome] == pytest.approx(again.unseen, abs=1e-9)


def test_asking_what_to_check_next_loads_no_numpy() -> None:
    code = "import sys, kb.faults.next_checks; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_tree_is_settled_from_its_ends() -> None:
    book = experience(half="yynn", other="ynyn")
    bench = Bench((option("half"), option("other")), trying=TRYING)
    walk = Walk(book, rank(book, Evidence("piper-8")), bench)

    def check(node: Node) -> None:
        if node.option is None:
            return
        later = sum(child.best for child in node.children)
        assert node.going_on == pytest.approx(4.0 * node.situation.reach + later)
        assert node.best <= node.trying
        for child in node.children:
            check(child)

    check(grow(walk, recommended))
