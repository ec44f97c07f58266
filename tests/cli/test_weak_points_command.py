"""`benchbook weak-points` as a user meets it."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json

import pytest
from cli.test_commands import run

from kb.cli.weak_news import show_news
from kb.cli.weak_points import show_weak_points
from kb.resources import sample_book
from kb.values_weak import (
    Change,
    FamilyWeakPoints,
    NewTrend,
    NewWeakPoint,
    Place,
    Trend,
    WeakPoint,
    WeakPoints,
)

ASKED = [
    (),
    ("sallow",),
    ("Ottermoor",),
    ("valve-guitar-amplifier",),
    ("gyre-2",),
    ("--since", "2025"),
    ("--since", "2026-11-30"),
]


@pytest.fixture(scope="module")
def cache(tmp_path_factory):
    return tmp_path_factory.mktemp("weak-cache")


def ask(cache, *words: str) -> str:
    result = run("weak-points", *words, cache=cache, book=sample_book())
    assert (result.returncode, result.stderr) == (0, "")
    return result.stdout


@pytest.mark.parametrize("words", ASKED)
def test_the_text_fits_eighty_columns(cache, words):
    assert max(map(len, ask(cache, *words).splitlines())) <= 80


@pytest.mark.parametrize("words", ASKED)
def test_json_has_families_and_groups_of_one_shape(cache, words):
    answer = json.loads(ask(cache, *words, "--json"))
    assert set(answer) == {"families", "groups", "since", "new", "rising"}
    for family in (*answer["families"], *answer["groups"]):
        assert set(family) >= {"family", "cases", "causes", "sort", "members", "visits", "too_few"}


@pytest.mark.parametrize("words", ASKED)
def test_csv_has_a_row_for_each_cause_of_the_json(cache, words):
    answer = json.loads(ask(cache, *words, "--json"))
    rows = list(csv.DictReader(io.StringIO(ask(cache, *words, "--csv"))))
    causes = [
        (f["sort"], f["family"], c["cause"], str(c["count"]), "yes" if c["flag"] else "no")
        for f in (*answer["families"], *answer["groups"])
        for c in f["causes"]
    ]
    assert [(r["sort"], r["key"], r["cause"], r["count"], r["flag"]) for r in rows] == causes
    for column, key in (("new", "new"), ("newly_rising", "rising")):
        assert sum(r[column] == "yes" for r in rows) == len(answer[key])
        assert all((r[column] == "") == (answer["since"] is None) for r in rows)


def test_json_and_csv_exclude_each_other(cache):
    assert run("weak-points", "--csv", "--json", cache=cache, book=sample_book()).returncode == 2


def test_it_is_said_as_at_the_bench(cache):
    text = " ".join(ask(cache, "drover-22").split())
    assert "Carbon resistor, noisy stands out: 6 of 14 here, 2 of 73 in comparable units" in text
    assert "Place: V2, in 4 of the 6 that name one." in text


def test_a_line_a_maker_and_a_kind_say_what_they_are(cache):
    assert "Drover valve combos (line drover): 24 finished visits of 2 families" in ask(
        cache, "drover"
    )
    assert "Ottermoor (maker)" in ask(cache, "ottermoor")
    assert "valve guitar amplifier (kind)" in ask(cache, "valve-guitar-amplifier")


def test_a_weak_point_of_one_family_is_not_said_of_its_line(cache):
    line = ask(cache, "sallow").partition("Sallow 30R (sallow-30r)")[0]
    assert "No cause stands out." in line
    assert "only in sallow-30r" in line


def test_the_monthly_look_gives_then_beside_now(cache):
    text = " ".join(ask(cache, "--since", "2025-12").split())
    assert "What stands out now and did not on 1 December 2025" in text
    assert "Relay, burnt contacts, 5 of 12 here, 1 of 43 in comparable units" in text
    assert "then 4 of 9, at least 0.9 times" in text


def test_a_month_without_news_says_so(cache):
    text = ask(cache, "--since", "2026-11-30")
    assert text == (
        "Nothing stands out that did not on 30 November 2026 already.\n"
        "Nothing is coming more often that was not then.\n"
    )


def test_what_began_to_come_more_often_is_told_with_then_beside_now(cache):
    text = " ".join(ask(cache, "--since", "2026-02").split())
    assert "What is coming more often now and was not on 1 February 2026 Mole 12A" in text
    assert "7 of 11 visits since 2025, 0 of 6 before (p = 0.018)" in text
    assert "Then it was 3 of 11, and no trend could be seen." in text


def test_a_key_in_the_table_is_never_broken(cache):
    lines = [line.strip() for line in ask(cache, "drover-22").splitlines()]
    assert "bias-supply-capacitor/dried-out" in lines
    assert "power-valve/worn, at V4 and V5" in lines


def test_on_a_narrow_terminal_the_table_gives_way_to_sentences(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "50")
    family = FamilyWeakPoints("a", "A", 24, (weak(), weak(cause="valve/weak", comebacks=2)))
    show_weak_points(WeakPoints((family,)), everything=True)
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 50
    assert "comparable   share" not in text
    said = " ".join(text.split())
    assert "6 of 24 here, 9 of 40 in comparable units; share 10 to 40 %" in said
    assert "valve/weak, came back 2 times after the repair" in said


def test_a_new_weak_point_that_also_comes_more_often_is_told_once(capsys):
    rising = Trend("rising", 0.012, Change(2023, (1, 12), (5, 30), 2.0, (0.3, 15.2)))
    pair = ("family", "a", "A", 24, weak(flag=True, trend=rising), 1, 9)
    new, began = NewWeakPoint(*pair, 0.4), NewTrend(*pair, Trend("falling", 0.03))
    show_news(WeakPoints((), new=(new,), rising=(began,)), dt.date(2024, 1, 1))
    text = " ".join(capsys.readouterr().out.split())
    assert text.count("Fuse, blown") == 1
    assert "5 of 30 visits since 2023, 1 of 12 before (p = 0.012). This is new too." in text
    show_news(WeakPoints((), rising=(began,)), dt.date(2024, 1, 1))
    assert "Then it was 1 of 9, and coming less often." in " ".join(capsys.readouterr().out.split())


def weak(**keys: object) -> WeakPoint:
    """A cause that nothing is odd about, but for `keys`."""
    usual: dict[str, object] = {
        "cause": "fuse/blown", "label": "Fuse, blown", "count": 6, "own": 6, "share": 0.25,
        "share_interval": (0.1, 0.4), "expected": 5.0, "ratio": 1.1, "ratio_low": 0.5,
        "flag": False, "trend": Trend("steady", 0.4), "comebacks": 0, "comparable_count": 9,
        "comparable_cases": 40,
    }  # fmt: skip
    return WeakPoint(**{**usual, **keys})


def shown(capsys, cause: WeakPoint, visits: dict[int, int], **keys: object) -> str:
    cases = sum(visits.values())
    family = FamilyWeakPoints("a", "A", cases, (cause,), visits=visits, **keys)
    show_weak_points(WeakPoints((family,)), everything=True)
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    return text


def test_a_rising_cause_is_drawn_year_by_year_with_its_change_in_words(capsys):
    trend = Trend("rising", 0.012, Change(2023, (1, 12), (5, 30), 2.0, (0.3, 15.2)))
    visits = {2021: 8, 2022: 4, 2024: 30}
    text = shown(capsys, weak(trend=trend, by_year={2021: 1, 2024: 5}), visits)
    said = " ".join(text.split())
    assert "Fuse, blown is coming more often: 6 of 42 here" in said
    assert "twice as often as before 2023 (between 0.3 and 15 times)" in said
    assert "5 of 30 visits since 2023, 1 of 12 before" in said
    drawn = [line.strip() for line in text.splitlines() if line.startswith("    202")]
    assert drawn == [
        "2021      1 of 8  █───────",
        "2022      0 of 4  ────",
        "2023      0 of 0",
        "2024     5 of 30  █████─────────────────────────",
    ]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (Change(2023, (8, 20), (4, 20), 0.5, (0.2, 1.4)), "half as often as before 2023"),
        (Change(2023, (8, 20), (3, 20), 0.375, (0.1, 1.2)), "38 % as often as before 2023"),
        (Change(2023, (5, 9), (0, 9)), ": 0 of 9 visits since 2023, 5 of 9 before"),
    ],
)
def test_a_falling_cause_says_how_much_less_often(capsys, change, says):
    cause = weak(trend=Trend("falling", 0.00001, change), by_year={2020: 6})
    said = " ".join(shown(capsys, cause, {2020: 20, 2023: 20}).split())
    assert "Coming less often, the intake allowed for" in said
    assert says in said
    assert "p below 0.0001" in said


def test_many_years_and_many_visits_still_fit_and_none_is_dropped(capsys):
    visits = {year: 900 + year for year in range(1990, 2025)}
    by_year = dict.fromkeys(visits, 7)
    cause = weak(
        count=245, trend=Trend("rising", 0.01, Change(2008, (1, 9), (5, 9))), by_year=by_year
    )
    text = shown(capsys, cause, visits)
    drawn = [line for line in text.splitlines() if "█" in line]
    assert len(drawn) == 12
    assert drawn[0].split()[:2] == ["earlier", str(7 * 24)]


def test_a_steady_cause_is_not_drawn(capsys):
    assert "█" not in shown(capsys, weak(by_year={2024: 6}), {2024: 24})


def test_too_few_visits_are_said_and_the_line_is_shown_instead(capsys):
    few = FamilyWeakPoints("a-1", "A 1", 2, (weak(count=1),), too_few=True)
    line = FamilyWeakPoints("a", "A (line)", 24, (weak(),), "line", ("a-1", "a-2"))
    show_weak_points(WeakPoints((few,), (line,)), everything=True)
    text = capsys.readouterr().out
    assert "Too few visits to go by" in text
    assert "Its line instead: A (line): 24 finished visits of 2 families" in text
    assert "6 of 24" in text


def test_a_line_of_small_families_is_shown_as_what_was_asked_for(capsys):
    few = [FamilyWeakPoints(f"a-{i}", f"A {i}", 2, (weak(count=1),), too_few=True) for i in (1, 2)]
    line = FamilyWeakPoints("a", "A (line)", 4, (weak(count=2),), "line", ("a-1", "a-2"))
    show_weak_points(WeakPoints(tuple(few), (line,)), everything=True)
    text = capsys.readouterr().out
    assert "instead" not in text
    assert "Nothing stands out in a-1, a-2 alone." in text


def test_of_a_family_that_was_never_here_the_line_is_shown(capsys):
    line = FamilyWeakPoints("a", "A (line)", 24, (weak(),), "line", ("a-1", "a-2"))
    show_weak_points(WeakPoints((), (line,)), everything=True)
    text = capsys.readouterr().out
    assert "No finished visit of this family yet." in text
    assert "Its line instead" in text


def test_where_nothing_can_be_compared_it_says_so(capsys):
    cause = weak(
        comparable_count=0, comparable_cases=0, trend=Trend("rising", 0.01), by_year={2024: 6}
    )
    said = shown(capsys, cause, {2023: 10, 2024: 14})
    assert "6 of 24 here, nothing to compare with" in said


def test_the_place_and_what_brought_it_on_stand_behind_a_flagged_cause(capsys):
    cause = weak(flag=True, place=Place("V4 socket", 3, 4), brought_on={"earlier-repair": 1})
    said = " ".join(shown(capsys, cause, {2024: 24}).split())
    assert "Place: V4 socket, in 3 of the 4 that name one." in said
    assert "Brought on by: earlier repair 1." in said


def test_what_comes_more_often_without_standing_out_is_told_without_a_name(cache):
    told = ask(cache).partition("Coming more often than before, without standing out")[2]
    assert "Start-up resistor of a switching supply, open in Mole 12A" in told
    assert "7 of 11" in " ".join(told.split())
    assert "about 1 in 40 of them looks like this" in " ".join(told.split())
    assert "Coming more often" not in ask(cache, "gyre-2")
