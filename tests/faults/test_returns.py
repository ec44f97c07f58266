"""Which repairs came back, and how often each sort of repair holds."""

import datetime as dt

import pytest
from faults.visits import day, fault, visit
from hypothesis import given
from hypothesis import strategies as st

from kb.faults.proportions import wilson
from kb.faults.returns import comebacks, fixed_faults, latest_date
from kb.values_history import Comebacks, Visit

DAYS = 90


def asked(*visits: Visit, as_of: int | None = None) -> Comebacks:
    """The answer for these visits, followed to a later, unrelated visit on day `as_of`."""
    every = sorted(visits, key=lambda v: (v.received, v.case))
    if as_of is not None:
        every.append(visit("zz", as_of, fault(None), out=None, unit="other", family="other"))
    return comebacks(fixed_faults(every, DAYS), latest_date(every), DAYS, {})


def test_a_unit_that_returns_with_the_same_cause_in_time_is_a_comeback() -> None:
    (back,) = asked(visit("A", 0), visit("B", 50)).comebacks
    assert (back.case, back.back_as, back.days, back.how) == ("A", "B", 48, "same cause")


def test_a_unit_that_returns_with_the_same_symptom_is_a_comeback_though_the_cause_is_another() -> (
    None
):
    first = visit("A", 0, fault("fuse/blown", symptom=("dead",)))
    later = visit("B", 50, fault("switch/worn", seen=("dead",)))
    (back,) = asked(first, later).comebacks
    assert (back.how, back.causes) == ("same symptom", ("fuse/blown",))


def test_one_that_is_still_on_the_bench_with_the_symptom_is_a_comeback() -> None:
    first = visit("A", 0, fault(symptom=("dead",)))
    later = visit("B", 50, fault(None, symptom=("dead",)), out=None)
    assert [c.back_as for c in asked(first, later).comebacks] == ["B"]


@pytest.mark.parametrize(
    "later",
    [
        visit("B", 50, fault("switch/worn")),
        visit("B", 93),
        visit("B", 50, unit="U2"),
        visit("B", 50, family="sallow"),
    ],
    ids=["another fault", "a day too late", "another unit", "another family's number"],
)
def test_anything_else_is_none(later: Visit) -> None:
    assert asked(visit("A", 0), later).comebacks == ()


def test_the_clock_starts_when_the_unit_goes_back_to_its_owner() -> None:
    first = visit("A", 0, out=30)
    assert first.finished == first.returned
    on_the_shelf = Visit(
        case="A", family="drover", unit="U1", received=day(0), finished=day(2), returned=day(30),
        faults=(fault(),),
    )  # fmt: skip
    assert [c.days for c in asked(on_the_shelf, visit("B", 115)).comebacks] == [85]
    collected_unknown = Visit(
        case="A", family="drover", unit="U1", received=day(0), finished=day(2), faults=(fault(),)
    )
    assert asked(collected_unknown, visit("B", 115)).comebacks == ()


def test_a_note_that_names_the_earlier_case_is_believed_whatever_the_unit_the_cause_and_the_days() -> (
    None
):
    later = visit("B", 400, fault("switch/worn"), unit="renamed", comeback_of="a")
    (back,) = asked(visit("A", 0), later).comebacks
    assert (back.case, back.days, back.how) == ("A", 398, "named")


def test_what_a_note_names_wins_over_what_could_be_inferred() -> None:
    named, nearer = visit("A", 0), visit("B", 20)
    later = visit("C", 40, comeback_of="A")
    found = {c.back_as: (c.case, c.how) for c in asked(named, nearer, later).comebacks}
    assert found["B"] == ("A", "same cause")
    assert "C" not in found  # A came back as B before; B itself is not blamed
    assert asked(named, visit("C", 40, comeback_of="A")).comebacks[0].how == "named"


def test_the_latest_of_several_repairs_is_the_one_that_came_back() -> None:
    found = asked(visit("A", 0), visit("B", 40), visit("C", 80)).comebacks
    assert [(c.case, c.back_as) for c in found] == [("A", "B"), ("B", "C")]


def test_only_the_fault_that_came_back_counts_of_a_visit_with_two() -> None:
    both = visit("A", 0, fault("fuse/blown"), fault("switch/worn"))
    answer = asked(both, visit("B", 50, fault("switch/worn")))
    assert {h.cause: h.came_back for h in answer.causes} == {"fuse/blown": 0, "switch/worn": 1}


def test_no_fault_found_and_work_declined_are_no_repairs() -> None:
    shut = [
        visit("A", 0, fault(None), closed_as="no-fault-found"),
        visit("B", 0, fault(fix=()), closed_as="declined", unit="U2"),
        visit("C", 0, fault(fix=("none",)), unit="U3"),
        visit("D", 0, out=None, unit="U4"),
    ]
    assert asked(*shut, as_of=400).overall.fixes == 0


def test_a_repair_younger_than_the_days_is_not_counted_as_held() -> None:
    old, young = visit("A", 0), visit("B", 400, unit="U2")
    whole = asked(old, young, as_of=402 + DAYS - 1).overall
    assert (whole.fixes, whole.followed, whole.held) == (2, 1, 1)
    assert asked(old, young, as_of=402 + DAYS).overall.held == 2


def test_the_share_that_holds_comes_with_wilsons_interval() -> None:
    visits = [visit(f"A{i}", 0, unit=f"U{i}") for i in range(8)]
    visits += [visit(f"B{i}", 30, fault("fuse/blown"), unit=f"U{i}") for i in range(2)]
    (held,) = asked(*visits, as_of=500).causes
    assert (held.fixes, held.followed, held.held, held.came_back) == (10, 10, 8, 2)
    assert held.share == 0.8
    assert held.interval == wilson(8, 10)


def test_it_counts_to_the_latest_date_of_the_notes_and_not_to_today() -> None:
    assert asked(visit("A", 0), visit("B", 200, out=None, unit="U2")).as_of == day(200)
    assert asked().as_of is None
    assert day(200) < dt.date.today()


def test_the_worst_comes_first_and_one_unlucky_repair_does_not_head_the_list() -> None:
    visits = []
    for cause, fixes, back in (("often/bad", 20, 14), ("once/bad", 1, 1), ("never/bad", 20, 0)):
        for i in range(fixes):
            visits.append(visit(f"{cause}-{i}", 0, fault(cause), unit=f"{cause}{i}"))
            if i < back:
                again = visit(f"{cause}-{i}x", 50, fault(None, symptom=("x",)), unit=f"{cause}{i}",
                              comeback_of=f"{cause}-{i}")  # fmt: skip
                visits.append(again)
    assert [h.cause for h in asked(*visits, as_of=500).causes] == [
        "often/bad",
        "once/bad",
        "never/bad",
    ]


def test_fixes_parts_and_batches_are_judged_apart() -> None:
    cleaned = visit("A", 0, fault("relay/burnt", fix=("service",)))
    renewed = visit("B", 50, fault("relay/burnt", parts=[("relay 12 V", "7")]))
    valves = visit("C", 0, fault("valve/worn", parts=[("EL84", "21"), ("el84 ", "21")]), unit="U2")
    answer = asked(cleaned, renewed, valves, as_of=500)
    by_fix = {(h.cause, h.fix): (h.held, h.followed) for h in answer.fixes}
    assert by_fix["relay/burnt", "service"] == (0, 1)
    assert by_fix["relay/burnt", "replace"] == (1, 1)
    assert {h.part: h.fixes for h in answer.parts} == {"relay 12 V": 1, "EL84": 1}
    assert {(h.part, h.batch): h.fixes for h in answer.batches} == {
        ("relay 12 V", "7"): 1,
        ("EL84", "21"): 1,
    }


def test_the_course_says_what_still_holds_with_the_young_counted_in() -> None:
    visits = [visit(f"A{i}", 0, unit=f"U{i}") for i in range(4)]
    visits.append(visit("B", 42, fault(None, symptom=("x",)), unit="U0", comeback_of="A0"))
    (step,) = asked(*visits, as_of=60).course
    assert (step.days, step.at_risk, step.share) == (40, 4, 0.75)
    assert step.interval[0] < 0.75 < step.interval[1]


@given(
    st.lists(
        st.tuples(st.integers(0, 300), st.sampled_from("abc"), st.sampled_from("xyz")), max_size=12
    )
)
def test_the_order_of_the_notes_does_not_matter_and_every_sort_adds_up(found) -> None:
    visits = [
        visit(f"N{i:02}", came, fault(f"{c}/bad"), unit=u) for i, (came, c, u) in enumerate(found)
    ]
    answer = asked(*visits, as_of=700)
    assert answer == asked(*reversed(visits), as_of=700)
    assert sum(h.fixes for h in answer.causes) == answer.overall.fixes == len(visits)
    assert (
        sum(h.came_back for h in answer.causes) == answer.overall.came_back == len(answer.comebacks)
    )
    for h in (answer.overall, *answer.causes):
        assert h.held <= h.followed <= h.fixes
        assert h.interval[0] <= (h.share or 0) <= h.interval[1] or h.share is None
