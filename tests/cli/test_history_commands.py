"""The commands on the history of units: text at 80 columns, JSON, CSV."""

from __future__ import annotations

import csv
import io
import json

import pytest
from cli.test_commands import run

from kb.cli.sheet import print_csv
from kb.resources import sample_book

ASKED = [
    ("comebacks",),
    ("comebacks", "sallow"),
    ("batch", "EL84"),
    ("batch", "EL84 type valve", "2114"),
    ("while-open", "sallow-30r", "--doing", "power-valve/shorted"),
    ("while-open", "gyre-2"),
    ("drawer",),
    ("drawer", "--families", "drover,serin-40"),
    ("ages", "drover"),
]
KEYS = {
    "comebacks": {
        "days",
        "as_of",
        "overall",
        "course",
        "comebacks",
        "causes",
        "fixes",
        "parts",
        "batches",
    },
    "batch": {"part", "batch", "as_of", "parts", "fittings", "batches"},
    "while-open": {"family", "label", "doing", "off", "suggestions", "assumed", "cautions"},
    "drawer": {"since", "until", "families", "repairs", "without_parts", "aim", "enough", "spares"},
    "ages": {"as_of", "families"},
}


@pytest.fixture(scope="module")
def cache(tmp_path_factory):
    return tmp_path_factory.mktemp("history-cache")


@pytest.mark.parametrize("words", ASKED)
def test_the_text_fits_eighty_columns(cache, words):
    result = run(*words, cache=cache, book=sample_book())
    assert result.returncode == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert result.stderr == ""


@pytest.mark.parametrize("words", ASKED)
def test_json_has_the_keys_of_the_contract(cache, words):
    result = run(*words, "--json", cache=cache, book=sample_book())
    assert set(json.loads(result.stdout)) == KEYS[words[0]]


@pytest.mark.parametrize("words", ASKED)
def test_csv_has_a_heading_and_rows_of_its_length(cache, words):
    result = run(*words, "--csv", cache=cache, book=sample_book())
    heading, *rows = csv.reader(io.StringIO(result.stdout))
    assert rows
    assert all(len(row) == len(heading) == len(set(heading)) for row in rows)


@pytest.mark.parametrize(
    "words", [("comebacks",), ("batch", "x"), ("while-open", "x"), ("drawer",), ("ages", "x")]
)
def test_json_and_csv_exclude_each_other(cache, words):
    result = run(*words, "--csv", "--json", cache=cache, book=sample_book())
    assert result.returncode == 2
    assert "exclude each other" in result.stderr


def test_csv_shows_the_same_figures_as_json(cache):
    whole = json.loads(run("comebacks", "--json", cache=cache, book=sample_book()).stdout)
    sheet = csv.DictReader(
        io.StringIO(run("comebacks", "--csv", cache=cache, book=sample_book()).stdout)
    )
    rows = [row for row in sheet if row["sort"] == "cause"]
    assert [row["cause"] for row in rows] == [h["cause"] for h in whole["causes"]]
    for row, held in zip(rows, whole["causes"], strict=True):
        assert (int(row["held"]), int(row["followed"])) == (held["held"], held["followed"])
        if held["followed"]:
            assert float(row["low"]) == pytest.approx(held["interval"][0], rel=1e-5, abs=1e-6)


def test_what_a_note_says_never_becomes_a_formula_in_a_spreadsheet(capsysbinary):
    print_csv(
        ("part",),
        [("=1+1",), ("@SUM(A1)",), ("+cmd",), ("-12 V regulator",), ("+15 V",), ("",), (None,)],
    )
    cells = list(csv.reader(io.StringIO(capsysbinary.readouterr().out.decode())))[1:]
    assert [cell for row in cells for cell in row][:5] == [
        "'=1+1",
        "'@SUM(A1)",
        "'+cmd",
        "-12 V regulator",
        "+15 V",
    ]


def test_looks_while_it_is_open_come_with_cautions_and_say_what_they_assume(cache):
    text = run("while-open", "gyre-2", cache=cache, book=sample_book()).stdout
    assert "! Pull the mains plug" in text
    assert "Local codes" in text
    assert "What this assumes" in text
    assert text.index("Pull the mains plug") < text.index("saves about")


def test_the_date_it_counts_to_is_said(cache):
    assert "counted to 24 November 2026" in run("comebacks", cache=cache, book=sample_book()).stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("comebacks",), "No repair has gone out yet."),
        (("drawer",), "No repair of the last year used a part."),
        (("while-open", "lantern"), "Nothing else saves a minute"),
        (("ages", "lantern"), "No unit of this family was ever here."),
    ],
)
def test_a_book_that_knows_nothing_yet_says_so(make_book, words, says):
    book = make_book()
    book.write("A1", family="drover-22")
    result = run(*words, cache=book.cache, book=book.folder)
    assert result.returncode == 0, result.stderr
    assert says in result.stdout


def test_an_unknown_part_gets_a_plain_answer(small):
    result = run("batch", "EL84", cache=small.cache, book=small.folder)
    assert result.returncode == 1
    assert "no note says" in result.stderr
    assert result.stdout == ""


def words_of(*command: str, cache) -> str:
    return " ".join(run(*command, cache=cache, book=sample_book()).stdout.split())


@pytest.mark.parametrize("families", [(), ("--families", "drover-22")])
def test_the_drawer_says_what_its_parts_serve_and_not_what_was_aimed_at(cache, families):
    answer = json.loads(run("drawer", *families, "--json", cache=cache, book=sample_book()).stdout)
    last = answer["spares"][answer["enough"] - 1]
    said = f"parts serve {last['served']} of those that did ({100 * last['coverage']:.0f} %)"
    assert said in words_of("drawer", *families, cache=cache)


def test_a_fix_that_came_back_stands_beside_the_other_fixes_of_its_cause(cache):
    answer = json.loads(run("comebacks", "--json", cache=cache, book=sample_book()).stdout)
    poor = {fix["cause"] for fix in answer["fixes"] if fix["came_back"]}
    told = words_of("comebacks", cache=cache).partition("By what was done")[2]
    others = [f for f in answer["fixes"] if f["cause"] in poor and not f["came_back"]]
    assert any(f["fix"] == "adjust + replace" for f in others)
    assert "adjust + replace" in told
    assert "sorts of which nothing came back are left out" in told


def test_how_a_cause_is_proved_is_kept_apart_from_the_look(cache):
    told = words_of("while-open", "drover-22", cache=cache)
    assert "To prove it: A short burst of freeze spray" in told
    assert "“To prove it” is no part of the look" in told
    assert told.index("no part of the look") < told.index("To prove it: ")
    assert "What to look for" not in told
