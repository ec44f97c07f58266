"""The prior: family, line, kind and book, and room for what is not in the book."""

from __future__ import annotations

from math import fsum

import numpy as np
import pytest
from drawn_books import CAUSES, FAMILIES, LINEAGE, records, tally
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.faults.prior import Lineage, Place, Prior, good_turing_unseen, grow, prior, prune
from kb.faults.strengths import BackOff, Strengths
from kb.values import FaultRecord


def of(faults: list[FaultRecord], family: str | None, strengths: Strengths | None = None) -> Prior:
    return prior(grow(tally(faults).faults, LINEAGE), family, LINEAGE, strengths or Strengths())


def fault(family: str, cause: str) -> FaultRecord:
    return FaultRecord(case="2021-001", family=family, cause=cause)


@given(records(), st.sampled_from((None, *FAMILIES, "new-family")))
def test_the_prior_sums_to_one_at_every_level(faults: list[FaultRecord], family: str) -> None:
    found = of(faults, family)
    assert fsum([*found.causes.values(), found.unseen]) == pytest.approx(1.0, abs=1e-12)
    assert set(found.causes) == {f.cause for f in faults}


@given(records(), st.sampled_from(FAMILIES), st.sampled_from(CAUSES))
def test_one_more_fault_with_a_cause_makes_it_likelier_there(
    faults: list[FaultRecord], family: str, cause: str
) -> None:
    before = of(faults, family)
    after = of([*faults, fault(family, cause)], family)
    assert after.causes[cause] > before.causes.get(cause, 0.0)


@given(records(least=1), st.data())
def test_pruning_a_fault_undoes_growing_it(faults: list[FaultRecord], data: st.DataObject) -> None:
    record = data.draw(st.sampled_from(faults))
    whole = grow(tally(faults).faults, LINEAGE)
    pruned = prune(whole, record.family, record.cause, LINEAGE, record.weight)
    grown = grow(tally([f for f in faults if f is not record]).faults, LINEAGE)
    assert {node: row for node, row in pruned.items() if row} == {
        node: row for node, row in grown.items() if row
    }


def test_a_parent_counts_children_that_know_a_cause_and_not_their_cases() -> None:
    faults = [fault("piper-8", "cap/leaky")] * 9 + [fault("piper-30", "pot/dirty")]
    tree = grow(tally(faults).faults, LINEAGE)
    kind = ("kind", "valve-combo")
    assert tree[kind, ("line", "piper")] == {"cap/leaky": 1.0, "pot/dirty": 1.0}
    assert tree[(kind,)] == {"cap/leaky": 1.0, "pot/dirty": 1.0}
    assert tree[()] == {"cap/leaky": 1.0, "pot/dirty": 1.0}


def test_a_sister_model_lends_more_than_a_stranger() -> None:
    faults = [fault("piper-30", "cap/leaky"), fault("lark-echo", "motor/slow")]
    found = of(faults, "piper-8")
    assert found.causes["cap/leaky"] > found.causes["motor/slow"]


def test_a_family_new_to_the_bench_gets_its_line_and_leaves_more_unseen() -> None:
    faults = [fault("piper-30", c) for c in CAUSES[:3] * 4]
    assert of(faults, "piper-8").unseen > of(faults, "piper-30").unseen


def test_a_long_tail_of_single_causes_leaves_more_unseen_than_a_few_frequent_ones() -> None:
    tail = [fault("piper-8", c) for c in CAUSES]
    assert of(tail, "piper-8").unseen > of([fault("piper-8", CAUSES[0])] * 6, "piper-8").unseen


def test_one_level_follows_the_formula() -> None:
    strengths = replace(Strengths(), family=BackOff(3.0, 0.4), book=BackOff(2.0, 0.25))
    faults = [fault("lark-echo", "motor/slow")] * 3 + [fault("lark-echo", "tape/worn")]
    book = (1 - 0.25) / 4  # two causes that one child knows; theta 2
    handed_up = (3.0 + 0.4 * 2) / 7
    found = of(faults, "lark-echo", strengths)
    assert found.causes["motor/slow"] == pytest.approx((3 - 0.4) / 7 + handed_up * book)
    assert found.unseen == pytest.approx(handed_up * (2 + 0.25 * 2) / 4)


def test_an_empty_book_has_seen_nothing() -> None:
    assert of([], None).unseen == 1.0
    assert of([], "piper-8").unseen == 1.0
    assert good_turing_unseen([]) == 1.0


@pytest.mark.parametrize(("theta", "discount"), [(0.0, 0.0), (1.0, 1.0), (1.0, -0.1)])
def test_a_back_off_that_is_no_distribution_is_refused(theta: float, discount: float) -> None:
    with pytest.raises(ValueError, match="theta"):
        BackOff(theta, discount)


@pytest.mark.parametrize("faults", [60, 120, 400])
def test_the_fixed_strengths_leave_about_as_much_unseen_as_is_unseen(faults: int) -> None:
    """In shops drawn with a long tail: a common order of causes, bent by each kind and model."""
    rng = np.random.default_rng(faults)
    models = {f"model-{i}": Place(kind=f"kind-{i // 2}") for i in range(10)}
    gaps = [drawn_gap(rng, models, faults) for _ in range(12)]
    assert abs(np.mean(gaps)) < 0.06


def drawn_gap(rng: np.random.Generator, models: Lineage, faults: int) -> float:
    """The unseen predicted less the true, averaged over the models of one drawn shop."""
    common = 1.0 / np.arange(1, 161)
    kinds = {p.kind: common * rng.gamma(0.6, size=160) for p in models.values()}
    true = {m: kinds[p.kind] * rng.gamma(1.0, size=160) for m, p in models.items()}
    true = {m: share / share.sum() for m, share in true.items()}
    seen: dict[str, dict[str, float]] = {m: {} for m in models}
    for model in rng.choice(sorted(models), size=faults):
        cause = str(rng.choice(160, p=true[model]))
        seen[model][cause] = seen[model].get(cause, 0.0) + 1.0
    known = {int(cause) for causes in seen.values() for cause in causes}
    tree = grow(seen, models)
    gaps = [
        prior(tree, m, models, Strengths()).unseen - (1.0 - sum(true[m][c] for c in known))
        for m in models
    ]
    return float(np.mean(gaps))
