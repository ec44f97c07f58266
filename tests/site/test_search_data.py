"""The tables of the search box say the same as the source's."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from invented_source import CASES, InventedSource

from kb.site import write_site

Tables = dict[str, list[object]]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, templates: Path) -> Path:
    folder = tmp_path_factory.mktemp("site")
    write_site(InventedSource(hide=[]), folder, templates)
    return folder


@pytest.fixture(scope="module")
def tables(site: Path) -> Tables:
    script = (site / "data/search.js").read_text("ascii")
    book: dict[str, Tables] = json.loads(
        script.removeprefix("var serviceBook = ").removesuffix(";\n")
    )
    return book["search"]


def test_every_word_leads_to_the_weights_of_its_stem(tables: Tables) -> None:
    source = InventedSource().search_words()
    assert len(tables["words"]) == len(source.stems)
    for word, stem in zip(tables["words"], tables["stemOf"], strict=True):
        assert isinstance(stem, int)
        pairs = [figure for pair in source.weights[source.stems[str(word)]] for figure in pair]
        assert tables["weights"][stem] == pairs


def test_words_stand_in_the_order_in_which_a_browser_compares_them(tables: Tables) -> None:
    words = [str(word).encode("utf-16-be") for word in tables["words"]]
    assert words == sorted(words)


def test_each_case_has_its_line_with_a_page_that_exists(tables: Tables, site: Path) -> None:
    assert [entry[0] for entry in tables["cases"]] == [case.case for case in CASES]  # type: ignore[index]
    assert all((site / entry[1]).is_file() for entry in tables["cases"])  # type: ignore[index]


def test_the_texts_for_snippets_have_no_markup(site: Path) -> None:
    script = (site / "data/texts/0.js").read_text("ascii")
    texts = json.loads(script.removeprefix("serviceBook.texts[0] = ").removesuffix(";\n"))
    assert texts[0][0] == "Hums loudly, worse since the summer"
    assert texts[0][1].startswith("The ripple on the first filter was eighteen volts")
    assert "](" not in texts[0][1]
