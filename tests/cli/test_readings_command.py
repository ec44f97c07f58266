"""`benchbook readings`: text at 80 columns, JSON, CSV, cautions."""

from __future__ import annotations

import csv
import io
import json

import pytest
from cli.test_commands import run

from kb.resources import sample_book

FAMILIES = ("drover", "drover-22", "sallow-15", "sallow-30r", "fellgate-8p", "mole-12a")
KEYS = {"at", "when", "state", "unit", "count", "median", "low", "high", "nominal", "unusual"}


@pytest.fixture(scope="module")
def cache(tmp_path_factory):
    return tmp_path_factory.mktemp("readings-cache")


@pytest.mark.parametrize("family", FAMILIES)
def test_the_text_fits_eighty_columns(cache, family):
    result = run("readings", family, cache=cache, book=sample_book())
    assert (result.returncode, result.stderr) == (0, "")
    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize("family", FAMILIES[1:])
def test_json_has_the_keys_of_the_contract(cache, family):
    whole = json.loads(run("readings", family, "--json", cache=cache, book=sample_book()).stdout)
    assert whole["family"] == family
    assert all(set(point) >= KEYS for point in whole["points"])
    found = [one for point in whole["points"] for one in point["unusual"]]
    assert all(set(one) >= {"case", "value", "score"} for one in found)
    assert whole["points"]


def test_words_come_before_figures_and_the_cautions_are_there(cache):
    text = run("readings", "sallow-15", cache=cache, book=sample_book()).stdout
    flat = " ".join(text.split())
    assert "low as found: 303 V at 231 V mains in 2023-0018: Electrolytic capacitor" in flat
    assert "follow the mains" in flat
    assert text.index("live while they are measured") < text.index("test point")
    assert "Only for people trained for it" in flat
    assert "Local codes and licensed practice come first" in flat


def test_a_line_names_its_families(cache):
    text = run("readings", "drover", cache=cache, book=sample_book()).stdout
    assert "drover-22, drover-50" in text


def test_csv_shows_the_same_figures_as_json(cache):
    whole = json.loads(
        run("readings", "sallow-15", "--json", cache=cache, book=sample_book()).stdout
    )
    text = run("readings", "sallow-15", "--csv", cache=cache, book=sample_book()).stdout
    heading, *rows = csv.reader(io.StringIO(text))
    assert all(len(row) == len(heading) == len(set(heading)) for row in rows)
    sheet = [dict(zip(heading, row, strict=True)) for row in rows]
    healthy = [row for row in sheet if row["row"] == "healthy"]
    assert [row["at"] for row in healthy] == [p["at"] for p in whole["points"]]
    for row, point in zip(healthy, whole["points"], strict=True):
        assert float(row["low"]) == pytest.approx(point["low"], rel=1e-5)
    unusual = [row for row in sheet if row["row"] == "unusual"]
    assert len(unusual) == sum(len(p["unusual"]) for p in whole["points"])


def test_json_and_csv_exclude_each_other(cache):
    result = run("readings", "x", "--csv", "--json", cache=cache, book=sample_book())
    assert result.returncode == 2


def test_an_unknown_family_ends_with_1_and_a_hint(cache):
    result = run("readings", "sallow-16", cache=cache, book=sample_book())
    assert result.returncode == 1
    assert "did you mean sallow-15?" in result.stderr


def test_a_reading_that_stands_out_does_not_look_like_the_end_of_the_range(cache):
    text = run("readings", "drover-22", cache=cache, book=sample_book()).stdout
    assert "417 V at 230 V mains in 2026-0017" in " ".join(text.split())
    (row,) = (line for line in text.splitlines() if line.startswith("first-filter, idle"))
    assert "417.2 … 429.6 V" in row
