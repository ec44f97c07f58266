"""How old units fail, and how often one unit is repaired."""

import pytest
from faults.visits import START, day, fault, visit

from kb.faults.ages import ages, median_interval
from kb.values_history import AgeAtFailure, FamilyAges, Visit


def of(*visits: Visit, as_of: int = 4000) -> FamilyAges:
    return ages(visits, "Drover", day(as_of), {})


def cause(answer: FamilyAges, key: str = "fuse/blown") -> AgeAtFailure:
    return next(c for c in answer.causes if c.cause == key)


def test_the_age_counts_from_the_middle_of_the_year_it_was_built() -> None:
    found = cause(of(visit("A", 0, built="2010")))
    assert found.median == pytest.approx(9.5, abs=0.01)
    assert START.year == 2020


def test_a_whole_date_is_taken_as_it_is() -> None:
    assert cause(of(visit("A", 0, built="2019-01-01"))).median == pytest.approx(365 / 365.25)


def test_units_of_unknown_age_are_counted_apart() -> None:
    answer = of(visit("A", 0, built="2010"), visit("B", 0, unit="U2"))
    assert answer.built_unknown == 1
    assert (cause(answer).known, cause(answer).count) == (1, 2)


def test_after_a_replacement_the_parts_age_counts_from_it() -> None:
    answer = of(visit("A", 0, built="2010"), visit("B", 732, built="2010"))
    assert cause(answer).renewed == 1
    assert cause(answer).youngest == pytest.approx(730 / 365.25)


@pytest.mark.parametrize(
    "before",
    [
        visit("A", 0, fault(fix=("repair",)), built="2010"),
        visit("A", 0, fault("switch/worn"), built="2010"),
        visit("A", 0, fault(at="F1"), built="2010"),
        visit("A", 0, unit="U2", built="2010"),
        visit("A", 0, fault(fix=()), closed_as="declined", built="2010"),
    ],
    ids=["repaired, not replaced", "another item", "another place", "another unit", "declined"],
)
def test_anything_else_before_does_not_make_the_part_younger(before: Visit) -> None:
    later = visit("B", 732, fault(at="F2"), built="2010")
    assert cause(of(before, later)).renewed == 0


@pytest.mark.parametrize(
    ("old", "new", "same"),
    [
        ("V4 to V7", "V6", True),
        ("V3 and V4", "V4", True),
        ("V2a anode resistor", "V2 anode resistor", True),
        ("V2a anode resistor", "V3 anode resistor", False),
        ("harp plug", "harp plug, low-end pin", True),
        ("input jack", "effects return socket", False),
        ("output relay", "V4", False),
        ("R7", "R71", False),
    ],
)
def test_two_notes_mean_the_same_place_by_designator_or_by_a_word(old, new, same) -> None:
    answer = of(visit("A", 0, fault(at=old)), visit("B", 732, fault(at=new)))
    assert cause(answer).renewed == same


def test_a_replacement_in_a_unit_of_unknown_age_makes_the_age_known() -> None:
    assert cause(of(visit("A", 0), visit("B", 732))).known == 1


def test_a_cause_counts_once_a_visit_and_open_visits_not_at_all() -> None:
    answer = of(
        visit("A", 0, fault(), fault(at="F2"), built="2010"),
        visit("B", 9, out=None, unit="U2", built="2010"),
    )
    assert cause(answer).count == 1


def test_below_six_known_ages_no_interval_is_given() -> None:
    assert median_interval([1, 2, 3, 4, 5]) is None
    assert median_interval([6, 2, 3, 4, 5, 1]) == (1, 6)
    assert median_interval([]) is None


def test_repairs_after_the_first_are_counted_against_time_since_first_seen() -> None:
    answer = of(
        visit("A", 0),
        visit("B", 0, unit="U2"),
        visit("C", 365, unit="U2"),
        visit("D", 700, fault("a/b")),
        as_of=800,
    )
    assert (answer.units, answer.seen_again, answer.without_number) == (2, 2, 0)
    assert [(p.at_risk, p.mean) for p in answer.repairs] == [(2, 0.5), (2, 1.0)]
    assert answer.repairs[0].years == pytest.approx(365 / 365.25)


def test_a_unit_that_is_beyond_repair_is_followed_no_longer() -> None:
    scrapped = visit("C", 365, fault(None), unit="U2", closed_as="beyond-repair")
    answer = of(visit("A", 0), visit("B", 0, unit="U2"), scrapped, visit("D", 700))
    assert [(p.at_risk, p.mean) for p in answer.repairs] == [(1, 1.0)]


def test_visits_that_ended_without_a_repair_do_not_count_as_one() -> None:
    looked_at = visit("B", 100, fault(None), closed_as="no-fault-found")
    assert of(visit("A", 0), looked_at).repairs == ()
    assert of(visit("A", 0), looked_at).seen_again == 1


def test_units_without_a_number_cannot_be_followed() -> None:
    answer = of(visit("A", 0, unit=None), visit("B", 100, unit=None))
    assert (answer.units, answer.without_number, answer.repairs) == (0, 2, ())
