"""File names: no two terms in one file, and none that a system keeps for itself."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.site.addresses import case_page, root_of, term_page

KEYS = st.from_regex(r"[a-z0-9][a-z0-9-]{0,6}", fullmatch=True)
CAUSES = st.tuples(KEYS, KEYS).map("/".join)


@given(CAUSES, CAUSES)
def test_two_causes_never_share_a_page(one: str, other: str) -> None:
    assert (term_page("cause", one) == term_page("cause", other)) == (one == other)


@given(st.text(max_size=12), st.text(max_size=12))
def test_no_two_keys_share_a_page_whatever_they_are_made_of(one: str, other: str) -> None:
    if "/" not in one + other:
        assert (term_page("check", one) == term_page("check", other)) == (one == other)


@given(st.text(max_size=12))
def test_no_key_leads_out_of_its_folder(key: str) -> None:
    parts = term_page("cause", key).split("/")
    assert parts[0] == "causes"
    assert all(part.strip(".") for part in parts)
    assert ".." not in parts


@pytest.mark.parametrize("name", ["con", "nul", "aux", "com1", "lpt9"])
def test_names_that_windows_keeps_for_devices_are_avoided(name: str) -> None:
    assert term_page("check", name) == f"checks/{name}_.html"
    assert term_page("cause", f"{name}/open") == f"causes/{name}_/open.html"


def test_case_numbers_are_lower_case_on_disk() -> None:
    assert case_page("A-17.b") == "cases/a-17.b.html"


def test_the_way_back_to_the_top_goes_up_once_per_folder() -> None:
    assert root_of("index.html") == ""
    assert root_of("causes/fuse/blown.html") == "../../"
