"""The tables of the search say the same as the source's, in files that a browser can read."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_source import CASES, InventedSource

from kb.site import write_site
from kb.site.packing import ALPHABET, cut, packed, packed_each


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, templates: Path) -> Path:
    folder = tmp_path_factory.mktemp("site")
    write_site(InventedSource(hide=[]), folder, templates)
    return folder


@pytest.fixture(scope="module")
def head(site: Path) -> dict[str, Any]:
    script = (site / "data/search.js").read_text("ascii")
    book: dict[str, Any] = json.loads(script.removeprefix("var searchBook = ").removesuffix(";\n"))
    return book


def part(site: Path, name: str, number: int = 0) -> Any:
    script = (site / f"data/{name}/{number}.js").read_text("ascii")
    start = f'searchPart("{name}",{number},'
    return json.loads(script.removeprefix(start).removesuffix(");\n"))


def unpacked(text: str) -> list[int]:
    found, value, shift = [], 0, 0
    for letter in text:
        digit = ALPHABET.index(letter)
        value |= (digit % 32) << shift
        shift += 5
        if digit < 32:
            found.append(value)
            value = shift = 0
    return found


@given(st.lists(st.integers(0, 2**30 - 1)))
def test_packed_numbers_are_those_that_were_packed(numbers: list[int]) -> None:
    assert unpacked(packed(numbers)) == numbers


@given(st.lists(st.lists(st.integers(0, 5000), max_size=5), max_size=6))
def test_stretches_are_packed_each_by_itself(stretches: list[list[int]]) -> None:
    flat = np.array([number for each in stretches for number in each], dtype=np.int64)
    starts = np.cumsum([0, *map(len, stretches)])
    assert [unpacked(text) for text in packed_each(flat, starts)] == stretches


@given(st.lists(st.text("abc", min_size=1), unique=True), st.integers(1, 50))
def test_a_list_is_cut_into_files_that_lack_nothing(words: Sequence[str], most: int) -> None:
    places = [
        place for start, end in cut(words, [1] * len(words), most) for place in range(start, end)
    ]
    assert places == list(range(len(words)))


def test_every_stem_has_the_cases_and_weights_of_the_source(
    site: Path, head: dict[str, Any]
) -> None:
    source = InventedSource(hide=[])
    pairs = source.search_words(source.cases()).postings
    terms, rows = part(site, "weights")
    assert tuple(terms.split(" ")) == pairs.keys
    for place, row in enumerate(rows.split(" ")):
        flat = unpacked(row)
        own = slice(pairs.starts[place], pairs.starts[place + 1])
        assert np.cumsum(flat[::2]).tolist() == pairs.places[own].tolist()
        assert flat[1::2] == pairs.amounts[own].tolist()
    assert sum(unpacked(head["lengths"])) == head["total"]


def test_the_positions_lead_back_to_the_text(site: Path) -> None:
    stems, rows = part(site, "spoken")
    said: dict[tuple[int, int], str] = {}
    for its_stem, row in zip(stems.split(" "), rows.split(" "), strict=True):
        flat, place, position = unpacked(row), -1, 0
        for far, step in zip(flat[::2], flat[1::2], strict=True):
            place, position = (place + far, step) if far else (place, position + step)
            said[place, position] = its_stem
    hums = next(place for place, case in enumerate(sorted(CASES, key=lambda c: c.case))
                if case.complaint == "Hums loudly, worse since the summer")  # fmt: skip
    text = " ".join(said.get((hums, position), "|") for position in range(1000))
    assert "hum loud wors sinc the summer" in text


def test_each_case_has_its_line_with_a_page_that_exists(site: Path) -> None:
    lines = part(site, "lines")[2]
    assert [line[0] for line in lines] == sorted(case.case for case in CASES)
    assert all((site / line[1]).is_file() for line in lines)


def test_the_texts_for_snippets_have_no_markup(site: Path) -> None:
    texts = part(site, "texts")
    assert texts[0][0] == "Hums loudly, worse since the summer"
    assert texts[0][1].startswith("The ripple on the first filter was eighteen volts")
    assert not [text for case in texts for text in case if "](" in text]
