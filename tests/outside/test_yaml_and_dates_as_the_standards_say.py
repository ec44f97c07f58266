"""Front matter against the standards' own texts: the cases that have bitten others.

Sources: YAML 1.1 type repository (yaml.org/type: bool, int, float) for what implicit typing would
do; YAML 1.2.2 specification, sections named beside each check; ISO 8601 calendar dates with the
Gregorian leap rule (also Inter gravissimas, 1582: years divisible by 100 but not by 400 are common).
"""

from __future__ import annotations

import datetime as dt
import io

import pytest
import yaml

from kb.notes.frontmatter import compose, decode, split
from kb.notes.nodes import date, fields, many, text
from kb.notes.problems import Log
from kb.notes.read_case import read_case
from kb.notes.read_vocabulary import read_vocabulary


def values(source: str) -> dict[str, tuple[str, ...]]:
    log = Log("x")
    root = compose(source, log)
    assert root is not None, log.problems
    found = fields(root, log, "x", [k.value for k, _ in root.value])
    return {k: many(node, log, text) for k, node in found.items()}


@pytest.mark.parametrize("word", ["no", "NO", "n", "y", "yes", "on", "off", "Off", "true"])
def test_a_country_called_no_stays_a_word(word):
    # YAML 1.1 bool: y|Y|yes|...|n|N|no|...|on|off are booleans there. PyYAML, a YAML 1.1 reader,
    # is the peer that shows the trap for all but the single letters.
    if len(word) > 1:
        assert isinstance(yaml.safe_load(word), bool)
    assert values(f"a: [{word}, x]") == {"a": (word, "x")}


@pytest.mark.parametrize(
    ("written", "trap"),
    [("0417", 271), ("12:30", 750), ("1_000", 1000), ("0x1F", 31), ("1e3", "1e3"), ("685.230_15e+03", 685230.15)],
)  # fmt: skip
def test_numbers_that_yaml_1_1_would_turn_into_others_stay_as_written(written, trap):
    # YAML 1.1 int: a leading 0 is octal, colons are base 60, _ is ignored; float likewise.
    assert yaml.safe_load(written) == trap
    assert values(f"a: {written}") == {"a": (written,)}


def test_a_date_is_only_a_date_where_a_date_is_expected():
    # YAML 1.1 timestamp would make a date object of a serial number that looks like one.
    assert yaml.safe_load("2001-12-14") == dt.date(2001, 12, 14)
    assert values("unit: 2001-12-14") == {"unit": ("2001-12-14",)}


def test_a_key_may_stand_only_once_in_a_mapping():
    # YAML 1.2.2, 3.2.1.1: mapping keys are unique. Many readers silently keep the last.
    assert yaml.safe_load("a: 1\na: 2") == {"a": 2}
    log = Log("x")
    root = compose("a: 1\na: 2\n", log)
    fields(root, log, "x", ["a"])
    assert [(p.line, p.column) for p in log.problems] == [(2, 1)]


def test_crlf_cr_and_lf_are_the_same_line_break():
    # YAML 1.2.2, 5.4: line breaks inside scalar content are normalised to a line feed.
    plain = "---\na: |\n  one\n  two\n---\nbody\n"
    texts = {decode(plain.replace("\n", end).encode(), Log("x")) for end in ("\n", "\r\n", "\r")}
    assert texts == {plain}


def test_a_byte_order_mark_is_no_content():
    # YAML 1.2.2, 5.2: a byte order mark may start a stream.
    marked = io.BytesIO()
    marked.write(b"\xef\xbb\xbf---\ncase: A\n---\n")
    note = split(decode(marked.getvalue(), Log("x")) or "", Log("x"))
    assert note is not None
    assert note.yaml == "case: A\n"


def test_folded_and_literal_text_read_as_the_specification_shows():
    # YAML 1.2.2, examples 8.1 ff. and 2.13 to 2.15: literal keeps line breaks, folded joins lines.
    assert values("a: |\n  \\//||\\/||\n  // ||  ||__\n") == {"a": ("\\//||\\/||\n// ||  ||__",)}
    found = values("a: >\n  Sammy Sosa completed another\n  fine season with great stats.\n")
    assert found == {"a": ("Sammy Sosa completed another fine season with great stats.",)}


def test_the_document_end_marker_does_not_end_the_front_matter():
    # YAML 1.2.2, 9.1.2: `...` ends a document; only a second --- ends our front matter.
    log = Log("x")
    note = split("---\na: 1\n...\n---\nbody\n", log)
    assert note is not None
    assert note.body == "body\n"


@pytest.mark.parametrize("year", [1904, 2000, 2024, 2400])
def test_leap_years_have_a_29_february(year):
    assert the_date(f"{year}-02-29") == dt.date(year, 2, 29)


@pytest.mark.parametrize("year", [1900, 2023, 2100])
def test_common_years_have_none(year):
    assert the_date(f"{year}-02-29") is None


@pytest.mark.parametrize(
    "written", ["20240304", "2024-W10-1", "2024-3-4", "04/03/2024", "2024-064"]
)
def test_only_the_extended_calendar_form_of_iso_8601_is_a_date(written):
    # Python's own date.fromisoformat takes the basic and the week form too (since 3.11).
    assert the_date(written) is None


def the_date(written: str) -> dt.date | None:
    log = Log("x")
    return date(compose(written, log), log)


def test_the_norway_problem_does_not_reach_a_whole_note():
    words = read_vocabulary(
        {
            "families": b"no: {label: Number 0}",
            "symptoms": b"off: {label: Off}",
            "checks": b"try: {label: Try, outcomes: [yes, no]}",
        }
    ).vocabulary
    note = (
        b"---\ncase: 0417\nfamily: no\nreceived: 2024-02-29\ncomplaint: yes\nsymptom: off\n"
        b"checks: [{check: try, outcome: no}]\nreproduced: no\n---\n"
    )
    case = read_case("cases/0417.md", note, words).case
    assert case is not None
    assert (case.case, case.family, case.complaint) == ("0417", "no", "yes")
    assert case.faults[0].checks[0].outcome == "no"
    assert case.faults[0].reproduced == "no"
