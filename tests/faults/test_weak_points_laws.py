"""Laws that the weak points keep for every book."""

import msgspec
from faults.weak_points_books import books, family, point, shop
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.faults.weak_points import weak_points
from kb.values_weak import FamilyVisits

# A fit on a busy machine takes its time.
patiently = settings(max_examples=25, deadline=None)


@patiently
@given(books(), st.randoms())
def test_the_order_of_families_causes_and_years_does_not_matter(book, random) -> None:
    def shuffled(mapping):
        items = list(mapping.items())
        random.shuffle(items)
        return dict(items)

    other = [
        msgspec.structs.replace(
            f,
            visits=shuffled(f.visits),
            found=shuffled({cause: shuffled(years) for cause, years in f.found.items()}),
        )
        for f in book
    ]
    random.shuffle(other)
    assert weak_points(other, {}) == weak_points(book, {})


@patiently
@given(books())
def test_what_is_said_of_each_cause_hangs_together(book: list[FamilyVisits]) -> None:
    for of_family, given_family in zip(weak_points(book, {}).families, book, strict=True):
        assert of_family.cases == given_family.total
        assert {w.cause for w in of_family.causes} == {
            cause for cause, years in given_family.found.items() if sum(years.values())
        }
        for found in of_family.causes:
            low, high = found.share_interval
            assert 0 <= low <= found.share <= high <= 1
            assert found.share == found.count / of_family.cases
            assert 0 <= found.own <= found.count
            assert found.own == found.count - found.brought_on["liquid"]
            assert 0 <= found.comparable_count <= found.comparable_cases * 5
            assert found.ratio_low <= found.ratio
            assert found.flag == (found.own >= 2 and found.ratio_low > 1)


@patiently
@given(books())
def test_a_count_of_one_never_flags(book: list[FamilyVisits]) -> None:
    for of_family in weak_points(book, {}).families:
        assert not any(w.flag for w in of_family.causes if w.own < 2)


@patiently
@given(st.integers(3, 30), st.integers(0, 12), st.integers(2, 12))
def test_a_count_of_one_never_flags_however_rare_it_is_elsewhere(
    visits: int, elsewhere: int, families: int
) -> None:
    others = [family(f"other-{i}", 30, {"fuse/blown": elsewhere}) for i in range(families)]
    answer = weak_points([family("a", visits, {"relay/stuck": 1}), *others], {})
    assert not point(answer, "a", "relay/stuck").flag


@patiently
@given(st.integers(1, 11))
def test_the_familys_own_cases_are_no_part_of_what_is_expected_of_it(count: int) -> None:
    def expected(own: int) -> tuple[float, int, int]:
        book = [family("drover", 12, {"switch/worn": own}), *shop()[1:]]
        found = point(weak_points(book, {}), "drover", "switch/worn")
        return found.expected, found.comparable_count, found.comparable_cases

    assert expected(count) == expected(count + 1)


@patiently
@given(st.integers(1, 10))
def test_more_of_the_same_here_never_lowers_the_bound(count: int) -> None:
    def bound(own: int) -> float:
        rest = {f"part-{j}/failed": 1 for j in range(12 - own)}
        book = [family("drover", 12, {"switch/worn": own} | rest), *shop()[1:]]
        return point(weak_points(book, {}), "drover", "switch/worn").ratio_low

    assert bound(count + 1) >= bound(count)


@patiently
@given(st.integers(0, 10))
def test_more_of_the_same_in_comparable_units_never_raises_the_bound(count: int) -> None:
    def bound(elsewhere: int) -> float:
        book = [*shop()[1:], family("teal", 12, {"relay/stuck": 5})]
        others = family("swift", 12, {"relay/stuck": elsewhere} if elsewhere else {})
        return point(weak_points([*book, others], {}), "teal", "relay/stuck").ratio_low

    assert bound(count + 1) <= bound(count)
