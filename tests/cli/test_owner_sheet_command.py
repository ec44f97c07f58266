"""`benchbook owner-sheet`: a page, a file, JSON, and what it refuses."""

from __future__ import annotations

import json

import pytest
from cli.test_commands import run
from small_book import closed


@pytest.fixture
def owners(small):
    """The small book with a case of an owner who may be told nothing of elsewhere."""
    small.write("B1", closed("B1", "fuse/blown", complaint="Dead", unit="DR-99",
        private="{owner: Rufus Thorn, phone: 01632 960111}", body="Told by 01632 960112."))  # fmt: skip
    return small


def test_without_a_file_the_page_goes_to_standard_output(owners):
    result = run("owner-sheet", "A1", cache=owners.cache, book=owners.folder)
    assert (result.returncode, result.stderr) == (0, "")
    assert result.stdout.startswith("<!doctype html>\n")
    assert result.stdout.endswith("</html>\n")
    assert "Crackles after a while" in result.stdout


def test_the_file_holds_the_same_page_and_may_be_written_again(owners, tmp_path):
    printed = run("owner-sheet", "A1", cache=owners.cache, book=owners.folder).stdout
    file = tmp_path / "sheet.html"
    for _ in range(2):
        result = run("owner-sheet", "a1", "--to", str(file), cache=owners.cache, book=owners.folder)
        assert (result.returncode, result.stderr) == (0, "")
        assert str(file) in result.stdout
        assert file.read_text("utf-8").strip() == printed.strip()
    again = run("owner-sheet", "B1", "--to", str(file), cache=owners.cache, book=owners.folder)
    assert again.returncode == 0
    assert "Dead" in file.read_text("utf-8")


def test_a_file_that_is_no_sheet_is_left_as_it_is(owners, tmp_path):
    file = tmp_path / "thesis.html"
    file.write_text("<!doctype html>\nyears of work", encoding="utf-8")
    result = run("owner-sheet", "A1", "--to", str(file), cache=owners.cache, book=owners.folder)
    assert result.returncode == 1
    assert "no owner's sheet" in result.stderr
    assert "Traceback" not in result.stderr
    assert file.read_text("utf-8").endswith("years of work")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["book", "cache", "thesis.html"]


@pytest.mark.parametrize("place", ["a folder", "a dangling link"])
def test_what_is_no_file_is_left_as_it_is(place, owners, tmp_path):
    there = tmp_path / "there"
    there.mkdir() if place == "a folder" else there.symlink_to(tmp_path / "nowhere")
    result = run("owner-sheet", "A1", "--to", str(there), cache=owners.cache, book=owners.folder)
    assert result.returncode == 1
    assert there.is_dir() or there.is_symlink()
    assert not (tmp_path / "nowhere").exists()


def test_no_sheet_is_written_among_the_notes_but_beside_book_yaml_it_may(owners):
    among = owners.folder / "cases" / "2024" / "sheet.html"
    result = run("owner-sheet", "A1", "--to", str(among), cache=owners.cache, book=owners.folder)
    assert result.returncode == 1
    assert "belongs to the book" in result.stderr
    assert not among.exists()
    beside = owners.folder / "sheet.html"
    run("owner-sheet", "A1", "--to", str(beside), cache=owners.cache, book=owners.folder)
    assert beside.exists()


def test_a_folder_that_is_not_there_is_said_plainly(owners, tmp_path):
    file = tmp_path / "nowhere" / "sheet.html"
    result = run("owner-sheet", "A1", "--to", str(file), cache=owners.cache, book=owners.folder)
    assert result.returncode == 1
    assert "Traceback" not in result.stderr
    assert "nowhere" in result.stderr


def test_json_has_the_keys_of_the_contract(owners):
    result = run("owner-sheet", "A1", "--json", cache=owners.cache, book=owners.folder)
    made = json.loads(result.stdout)
    assert set(made) >= {
        "case", "book", "family", "received", "open", "state", "currency", "kind", "unit", "built",
        "finished", "returned", "complaint", "faults", "found_too", "proved", "recommended",
        "can_wait", "declined", "declined_safety", "safety", "safety_result", "safety_said",
        "keep_off", "checks", "checks_said", "keep_closed", "glossary",
    }  # fmt: skip
    assert set(made["faults"][0]) >= {
        "symptoms", "cause", "place", "brought_on_by", "damage", "done", "parts", "confirmed",
    }  # fmt: skip
    assert made["faults"][0]["cause"]["words"]


def test_json_and_a_file_exclude_each_other(owners):
    result = run("owner-sheet", "A1", "--json", "--to", "x", cache=owners.cache, book=owners.folder)
    assert result.returncode == 2


def test_nothing_private_and_nothing_of_the_notes_text_is_on_it(owners):
    for words in (("owner-sheet", "B1"), ("owner-sheet", "B1", "--json")):
        said = run(*words, cache=owners.cache, book=owners.folder).stdout
        assert "Thorn" not in said
        assert "01632" not in said
        assert "DR-99" in said


def test_a_hidden_unit_is_not_on_it(owners):
    (owners.folder / "book.yaml").write_text("title: B\npublish: {hide: [unit]}\n", "utf-8")
    assert "DR-99" not in run("owner-sheet", "B1", cache=owners.cache, book=owners.folder).stdout


@pytest.mark.parametrize("key", ["family", "finished", "received", "case"])
def test_a_key_that_no_sheet_can_do_without_is_named(key, owners):
    (owners.folder / "book.yaml").write_text(f"publish: {{hide: [{key}]}}\n", "utf-8")
    result = run("owner-sheet", "B1", cache=owners.cache, book=owners.folder)
    assert result.returncode == 1
    assert f"without `{key}`" in result.stderr
    assert result.stdout == ""


def test_an_unknown_case_and_a_refused_note_get_a_plain_answer(owners):
    result = run("owner-sheet", "A9", cache=owners.cache, book=owners.folder)
    assert (result.returncode, result.stdout) == (1, "")
    assert "there is no case 'A9'" in result.stderr
    owners.write("C1", "---\ncase: C1\nfamly: x\n---\n")
    result = run("owner-sheet", "C1", cache=owners.cache, book=owners.folder)
    assert (result.returncode, result.stdout) == (1, "")
    assert "C1.md' was left out because of a fault" in result.stderr


def test_a_case_on_the_bench_gets_a_sheet_that_says_so(owners):
    result = run("owner-sheet", "A5", cache=owners.cache, book=owners.folder)
    assert "Still on the bench" in result.stdout
