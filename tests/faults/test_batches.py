"""Where parts went, and which units still carry them."""

import pytest
from faults.visits import day, fault, visit

from kb.faults.batches import trace
from kb.faults.part_names import meant, named
from kb.values_history import BatchTrace, Visit


def followed(*visits: Visit, part: str = "EL84", batch: str | None = None) -> BatchTrace:
    faults = [f for v in visits for f in v.faults]
    return trace(visits, meant(faults, part), part, batch, 90, {})


def valves(batch: str | None = "21", name: str = "EL84 type valve", **keys):
    return fault("valve/worn", parts=[(name, batch)] * 2, **keys)


def test_each_repair_that_used_the_part_is_listed_newest_first() -> None:
    answer = followed(visit("A", 0, valves()), visit("B", 9, valves("22"), unit="U2"))
    assert [(f.case, f.batch, f.number, f.fitted) for f in answer.fittings] == [
        ("B", "22", 2, day(11)),
        ("A", "21", 2, day(2)),
    ]


def test_what_is_still_carried_comes_before_what_is_not() -> None:
    answer = followed(
        visit("A", 0, valves(), unit="U2"), visit("B", 9, valves()), visit("C", 99, valves("22"))
    )
    assert [(f.case, f.carried) for f in answer.fittings] == [
        ("C", True),
        ("A", True),
        ("B", False),
    ]


def test_one_batch_can_be_asked_for_letter_case_and_spacing_aside() -> None:
    answer = followed(
        visit("A", 0, valves("K7 03")), visit("B", 9, valves("22"), unit="U2"), batch="k7  03"
    )
    assert [f.case for f in answer.fittings] == ["A"]


def test_a_unit_carries_the_part_until_a_later_visit_renews_it() -> None:
    first, other = visit("A", 0, valves()), visit("B", 100, fault("switch/worn"))
    (carried,) = followed(first, other).fittings
    assert (carried.carried, carried.ended_by) == (True, None)
    renewed = followed(first, other, visit("C", 300, valves("22")), batch="21").fittings
    assert [(f.carried, f.ended_by, f.ended_how) for f in renewed] == [(False, "C", "renewed")]


def test_a_unit_beyond_repair_carries_nothing() -> None:
    scrapped = visit("B", 300, fault(None), closed_as="beyond-repair")
    (gone,) = followed(visit("A", 0, valves()), scrapped).fittings
    assert (gone.carried, gone.ended_by, gone.ended_how) == (False, "B", "beyond-repair")


def test_the_same_part_in_another_unit_ends_nothing() -> None:
    answer = followed(visit("A", 0, valves()), visit("B", 100, valves("22"), unit="U2"))
    assert all(f.carried for f in answer.fittings)


def test_a_unit_without_a_number_cannot_be_followed() -> None:
    (unknown,) = followed(visit("A", 0, valves(), unit=None)).fittings
    assert unknown.carried is None


def test_it_says_which_repairs_came_back_and_how_each_batch_holds() -> None:
    visits = (
        visit("A", 0, valves()),
        visit("B", 50, valves("22")),
        visit("C", 60, valves("22"), unit="U2"),
        visit("Z", 600, fault(None), out=None, unit="other"),
    )
    answer = followed(*visits)
    assert {f.case: (f.came_back_as, f.came_back_days) for f in answer.fittings} == {
        "A": ("B", 48), "B": (None, None), "C": (None, None),
    }  # fmt: skip
    assert [(h.batch, h.held, h.followed) for h in answer.batches] == [("21", 0, 1), ("22", 2, 2)]


# ---------------------------------------------------------------- names


@pytest.mark.parametrize(
    ("written", "name", "number"),
    [
        ("EL84 type valve", "EL84 type valve", 1),
        ("EL84 type valve, 4 off", "EL84 type valve", 4),
        ("2 × 0.22 Ω 5 W", "0.22 Ω 5 W", 2),
        ("5x7 inch driver", "5x7 inch driver", 1),
        ("5x BC549C type", "BC549C type", 5),
        ("4 crimp pins", "4 crimp pins", 1),
        ("12 V 1 A regulator, TO-220", "12 V 1 A regulator, TO-220", 1),
        ("6.3 mm jack", "6.3 mm jack", 1),
    ],
)
def test_how_many_is_told_from_the_name_only_where_it_is_plain(written, name, number) -> None:
    assert named(written)[::2] == (name, number)


def test_a_part_is_met_by_its_name_else_by_how_it_begins_else_by_its_words() -> None:
    faults = [
        fault(parts=["EL84 type valve", "EL84 type valve, 2 off", "transformer for two EL84 types"])
    ]
    assert meant(faults, "el84  TYPE valve") == ("EL84 type valve",)
    assert meant(faults, "EL84") == ("EL84 type valve",)
    assert meant(faults, "two transformer") == ("transformer for two EL84 types",)
    assert meant(faults, "EL34") == meant(faults, "") == ()
