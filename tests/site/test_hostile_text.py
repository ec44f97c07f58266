"""Text that wants to be code: it is shown as text, wherever it stands."""

from __future__ import annotations

from pathlib import Path

from invented_source import HOSTILE
from page_reader import pages, read

OWN_SVG_PARTS = {"rect", "line", "path", "text"}


def test_hostile_text_adds_no_element_that_the_tame_site_lacks(tame: Path, hostile: Path) -> None:
    def kinds(site: Path) -> set[tuple[str, frozenset[str]]]:
        return {
            (tag, frozenset(attrs)) for page in pages(site) for tag, attrs in read(page).elements
        }

    grown = kinds(hostile) - kinds(tame)
    # The hostile write-up has a code block with an info string, and its pictures are missing.
    assert grown <= {
        ("pre", frozenset()),
        ("code", frozenset({"class"})),
        ("span", frozenset({"class"})),
    }


def test_no_address_is_anything_but_a_relative_path(hostile: Path) -> None:
    addresses = {a for page in pages(hostile) for a in read(page).addresses}
    paths = {a.partition("#")[0] for a in addresses}
    assert [path for path in paths if ":" in path or path.startswith("//")] == []


def test_the_text_itself_is_there_to_be_read(hostile: Path) -> None:
    shown = HOSTILE.replace("\x00", "\ufffd").replace("\x07", "\ufffd")
    for page in ("cases/2024-0230.html", "families/heron-20.html", "symptoms/hum.html"):
        assert " ".join(shown.split()) in read(hostile / page).text


def test_template_syntax_in_a_book_is_not_carried_out(hostile: Path) -> None:
    text = read(hostile / "cases/2023-0871.html").text
    assert "{{ 7*7 }}" in text
    assert "49" not in text.replace("2349", "")


def test_no_page_holds_a_character_that_html_forbids(hostile: Path) -> None:
    for page in pages(hostile):
        assert not set(map(chr, [0, 7])) & set(page.read_text("utf-8"))


def test_search_data_is_plain_ascii_without_an_end_of_script(hostile: Path) -> None:
    files = sorted((hostile / "data").rglob("*.js"))
    assert len(files) > 8
    for file in files:
        data = file.read_text("ascii")
        assert data.startswith(("var ", "searchPart(", "studyData.")), file
        assert data.count("\n") == 1, file
        assert "<" not in data, file
