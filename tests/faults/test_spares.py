"""Which spares would have served the repairs of the last year."""

from faults.visits import fault, visit
from hypothesis import given
from hypothesis import strategies as st

from kb.faults.spares import AIM, drawer
from kb.values_history import Visit


def uses(case: str, came: int, *parts: str, **keys) -> Visit:
    return visit(case, came, fault("valve/worn", parts=parts), unit=case, **keys)


def test_a_repair_is_served_once_all_its_parts_are_there() -> None:
    answer = drawer(
        [uses("A", 0, "valve", "fuse"), uses("B", 1, "valve"), uses("C", 2, "valve")], (), {}
    )
    assert [(s.part, s.repairs, s.served) for s in answer.spares] == [
        ("valve", 3, 2),
        ("fuse", 1, 3),
    ]
    assert answer.spares[-1].coverage == 1.0
    assert answer.enough == 2


def test_two_parts_that_are_only_of_use_together_come_after_one_that_serves_alone() -> None:
    visits = [uses(f"A{i}", i, "belt", "roller") for i in range(2)] + [
        uses(f"B{i}", i, "fuse") for i in range(2)
    ]
    assert drawer(visits, (), {}).spares[0].part == "fuse"


def test_only_the_last_year_of_the_books_own_dates_counts() -> None:
    old, new = uses("A", 0, "belt"), uses("B", 400, "fuse")
    answer = drawer([old, new], (), {})
    assert [s.part for s in answer.spares] == ["fuse"]
    assert (answer.until - answer.since).days == 365


def test_it_can_be_asked_for_some_families() -> None:
    visits = [uses("A", 0, "belt", family="lantern"), uses("B", 1, "fuse")]
    assert [s.part for s in drawer(visits, ("drover",), {}).spares] == ["fuse"]


def test_repairs_without_parts_are_told_apart_and_open_or_declined_ones_left_out() -> None:
    visits = [
        uses("A", 0, "fuse"),
        uses("B", 1),
        uses("C", 2, "belt", closed_as="declined"),
        uses("D", 3, "roller", out=None),
    ]
    answer = drawer(visits, (), {})
    assert (answer.repairs, answer.without_parts) == (1, 1)
    assert [s.part for s in answer.spares] == ["fuse"]


def test_parts_are_counted_as_fitted_and_said_what_for() -> None:
    visit_ = visit(
        "A",
        0,
        fault("valve/worn", parts=["EL84, 4 off", "EL84"]),
        fault("fuse/blown", parts=["fuse"]),
    )
    spares = {s.part: s for s in drawer([visit_], (), {"valve/worn": "Valve, worn"}).spares}
    assert (spares["EL84"].fitted, spares["EL84"].repairs, spares["EL84"].causes) == (
        5,
        1,
        ("Valve, worn",),
    )
    assert spares["fuse"].causes == ("fuse/blown",)


def test_an_empty_book_needs_no_spares() -> None:
    assert drawer([], (), {}).spares == ()


@given(
    st.lists(st.sets(st.sampled_from("abcdefg"), min_size=1, max_size=3), min_size=1, max_size=15)
)
def test_every_part_is_listed_once_and_coverage_only_grows_to_all(found) -> None:
    visits = [uses(f"N{i}", i, *sorted(parts)) for i, parts in enumerate(found)]
    answer = drawer(visits, (), {})
    assert {s.part for s in answer.spares} == set().union(*found)
    assert len(answer.spares) == len({s.part for s in answer.spares})
    bought: set[str] = set()
    for spare in answer.spares:
        bought.add(spare.part)
        assert spare.served == sum(parts <= bought for parts in found)
        assert spare.repairs == sum(spare.part in parts for parts in found)
    assert answer.spares[-1].coverage == 1.0
    assert answer.spares[answer.enough - 1].coverage >= AIM
    assert all(s.coverage < AIM for s in answer.spares[: answer.enough - 1])
    assert drawer(visits[::-1], (), {}) == answer
