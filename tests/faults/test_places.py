"""The place in a unit on which notes agree."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.faults.places import agreed_place
from kb.values_weak import Place


def test_letter_case_and_spacing_make_no_difference_and_the_usual_spelling_is_kept() -> None:
    named = [["output  relay"], ["Output relay"], ["output relay"], ["fan"]]
    assert agreed_place(named) == Place("output relay", 3, 4)


def test_notes_that_say_more_or_less_agree_on_the_designator() -> None:
    assert agreed_place([["V2a anode resistor"], ["anode of V2"], ["R7"]]) == Place("V2", 2, 3)


def test_a_range_of_valves_takes_in_each_of_them() -> None:
    assert agreed_place([["V4 to V7"], ["V5"], ["V5 socket"]]) == Place("V5", 3, 3)


def test_the_same_words_are_preferred_to_a_designator_on_which_as_many_agree() -> None:
    assert agreed_place([["R12 beside V2"], ["R12 beside V2"]]) == Place("R12 beside V2", 2, 2)


@pytest.mark.parametrize(
    "named",
    [[], [["V2"]], [["V1"], ["V2"]], [["V2"], ["V2"], ["fan"], ["relay"]]],
    ids=["none", "one note", "two that differ", "half of them"],
)
def test_without_two_notes_and_two_thirds_of_those_that_name_one_there_is_none(named) -> None:
    assert agreed_place(named) is None


def test_a_visit_counts_once_however_many_of_its_faults_were_there() -> None:
    assert agreed_place([["V2", "V2 socket", "v2"]]) is None
    assert agreed_place([["V2", "V3"], ["V2"]]) == Place("V2", 2, 2)


PLACES = st.lists(
    st.lists(st.sampled_from(["V2", "v2 ", "V2 anode", "R7", "fan", "Fan"]), min_size=1)
)


@given(PLACES, st.randoms())
def test_what_is_said_holds_and_does_not_depend_on_the_order_of_the_notes(named, random) -> None:
    found = agreed_place(named)
    shuffled = list(named)
    random.shuffle(shuffled)
    assert agreed_place(shuffled) == found
    if found:
        assert found.named == len(named)
        assert 2 <= found.agree <= found.named
        assert 3 * found.agree >= 2 * found.named
