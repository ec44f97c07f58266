"""`benchbook replay` as a user meets it: text at 80 columns, JSON, and a book too small to ask."""

from __future__ import annotations

import json
import re

import pytest
from cli.test_commands import run

from kb.resources import sample_book
from kb.values_replay import WHY

FIGURES = {"top1", "top3", "mean_reciprocal_rank", "log_loss", "brier"}


@pytest.fixture(scope="session")
def cache(tmp_path_factory):
    return tmp_path_factory.mktemp("replay-cache")


@pytest.fixture(scope="session")
def answer(cache):
    result = run("replay", "--json", cache=cache, book=sample_book())
    assert result.returncode == 0, result.stderr
    return json.loads(result.stdout)


@pytest.fixture(scope="session")
def printed(cache):
    result = run("replay", cache=cache, book=sample_book())
    assert result.returncode == 0, result.stderr
    return result.stdout


def test_it_prints_the_json_of_the_contract(answer):
    assert set(answer) >= {"cases", "calibration", "baselines", *FIGURES}
    assert answer["cases"] > 100
    for row in answer["calibration"]:
        assert set(row) >= {"from", "to", "count", "predicted", "observed"}
    assert set(answer["baselines"]) == {"most-common-in-family", "text-only"}
    for other in (*answer["baselines"].values(), answer["after_checks"]):
        assert set(other) >= FIGURES


def test_on_the_sample_book_it_says_how_far_it_is_from_both_baselines(answer):
    for other in answer["baselines"].values():
        less = other["ours_less"]
        assert less["log_loss"] == pytest.approx(answer["log_loss"] - other["log_loss"])
        low, high = less["log_loss_interval"]
        assert low < less["log_loss"] < high


def test_a_reader_gets_the_same_numbers_in_plain_sentences_first(answer, printed):
    lines = printed.strip().splitlines()
    assert lines[0] == f"{answer['cases']} past faults, asked on the day each came in"
    assert f"stood first for {round(answer['top1'] * answer['cases'])} (" in lines[1]
    assert f"{answer['log_loss']:.2f}" in printed
    assert "Of 2 faults the cause was assumed" in printed
    worst = answer["worst"][0]
    assert f"{worst['case']}, {worst['family']}: likeliest was" in printed
    assert WHY[next(iter(answer["missed"]))] in printed


def test_the_calibration_table_is_drawn_with_a_bar_for_what_was_said_and_what_came(answer, printed):
    for row in answer["calibration"]:
        pattern = rf"{100 * row['from']:.0f} to {100 * row['to']:.0f} % +{row['count']} times +said"
        assert re.search(pattern, printed)
    assert len(re.findall("came true [█·]{24}", printed)) == len(answer["calibration"])


def test_no_line_is_wider_than_the_terminal(printed):
    assert max(len(line) for line in printed.splitlines()) <= 80


def test_only_a_family_or_only_what_came_in_since_can_be_asked(cache, answer):
    def cases(*words):
        result = run("replay", *words, "--json", cache=cache, book=sample_book())
        assert result.returncode == 0, result.stderr
        return json.loads(result.stdout)["cases"]

    assert 0 < cases("--family", "lantern-echo") < answer["cases"]
    assert 0 < cases("--since", "2024") < answer["cases"]


def test_an_unknown_family_is_said_with_the_nearest_one(cache):
    result = run("replay", "--family", "lantern-ecco", cache=cache, book=sample_book())
    assert result.returncode == 1
    assert "did you mean lantern-echo?" in result.stderr


@pytest.mark.parametrize(
    ("since", "said"), [("2030", "no finished fault"), ("2020", "4 faults of known cause")]
)
def test_a_book_too_small_to_be_asked_says_so_and_ends_well(small, since, said):
    asked = ("replay", "--since", since)
    result = run(*asked, cache=small.cache, book=small.folder)
    assert result.returncode == 0
    assert "Too few faults to ask" in result.stdout
    assert said in result.stdout
    empty = json.loads(run(*asked, "--json", cache=small.cache, book=small.folder).stdout)
    assert (empty["cases"], empty["log_loss"], empty["worst"]) == (0, None, [])


def test_a_terminal_that_prints_only_plain_letters_gets_all_of_it(cache):
    result = run("replay", cache=cache, book=sample_book(), PYTHONIOENCODING="ascii")
    assert result.returncode == 0
    assert "came true #" in result.stdout
