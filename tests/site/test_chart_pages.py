"""The pages of the fault-finding charts: nested lists that say it all, and nothing that is hidden."""

from __future__ import annotations

from pathlib import Path

import pytest
from invented_answers import CHARTS
from invented_source import CASES, VOCABULARY, InventedSource
from msgspec.structs import replace
from page_reader import read

from kb import cautions
from kb.bench_tables import counted
from kb.book import Book
from kb.charting import fault_charts
from kb.faults.chart import LIMITS
from kb.faults.strengths import FIXED
from kb.notes.case import Case
from kb.notes.vocabulary import Symptom, Vocabulary
from kb.site import write_site
from kb.site.redaction import without
from kb.values_chart import Chart, Passed

PAGE = "charts/heron-20/hum.html"


def test_a_chart_tells_what_to_do_what_it_means_and_where_it_ends(tame: Path) -> None:
    shown = read(tame / PAGE).text
    assert "First Look for burns and bulges Cover off, power off 15 min" in shown
    assert "Clean 80 % 5 of 6 here, 10 of 12 in the book" in shown
    assert "Put the cover back on first: this check is made with it on." in shown
    assert "Electrolytic capacitor, high series resistance 86 %" in shown
    assert "43 to 99 %; 2 of 2 here, 4 of 5 in all" in shown
    assert "Likely enough: prove it, then put it right." in shown
    assert "Leave it off and unplugged. Put this right, then begin again at the top." in shown


def test_it_says_where_it_does_not_know(tame: Path) -> None:
    shown = read(tame / PAGE).text
    assert "Not known Soldered joint, cracked 20 %" in shown
    assert "Not in this book yet 35 %" in shown
    assert "Nobody came this way yet." in shown
    assert "Anything else 10 % 0 of 6 here, 1 of 12 in the book" in shown
    assert "Cured: too seldom in this book to say what it means." in shown
    assert "Not made in 1 of the 3 that came here, 2 of 7 in the book" in shown
    assert "it is not a check of this unit" in shown


def test_its_limits_are_said_in_words(tame: Path) -> None:
    shown = read(tame / PAGE).text
    assert f"at least {LIMITS.made} past faults, of causes that are still in play" in shown
    assert f"at least {LIMITS.bits:.2f} bits" in shown
    assert f"at least {LIMITS.way} times" in shown
    assert "It knows one symptom only" in shown


def test_the_cautions_of_all_its_steps_stand_in_full_above_it(tame: Path) -> None:
    shown = read(tame / PAGE).text
    path = shown.index("What to check")
    for text in (
        "Hum: leave it off and unplugged until everything marked FIRST is done",
        "Unplug it. Discharge every filter section through an insulated, rated resistor.",
        "Trained people only, and not alone.",
        "Capacitors keep their charge and recover some of it.",
        "Never pull a power valve while it is energised.",
        "A valve output stage is never driven without its load.",
        cautions.LOCAL_CODES,
    ):
        assert text in shown[:path]
    assert shown[path:].count("Caution, as above:") == 2


def test_family_and_symptom_lead_to_it(tame: Path) -> None:
    assert "../charts/heron-20/hum.html" in read(tame / "families/heron-20.html").addresses
    assert "../charts/heron-20/hum.html" in read(tame / "families/heron.html").addresses
    assert "../charts/heron-20/hum.html" in read(tame / "symptoms/hum.html").addresses
    assert "Fault-finding charts" not in read(tame / "families/kestrel-500.html").text


def test_what_is_known_where_it_ends_can_be_taken_to_the_bench(tame: Path) -> None:
    made = "look-inside:clean,swap-lead:no-change,ripple-first-filter:normal"
    address = f"../../bench.html#unit=heron-20&there=hum&made={made}"
    assert address in read(tame / PAGE).addresses


@pytest.mark.parametrize("key", ["root_cause", "checks", "outcome", "symptom"])
def test_a_book_that_hides_what_charts_rest_on_has_none(
    key: str, tmp_path: Path, templates: Path
) -> None:
    write_site(InventedSource(hide=(key,)), tmp_path, templates)
    assert not (tmp_path / "charts").exists()
    assert "Fault-finding charts" not in read(tmp_path / "families/heron-20.html").text


# ---------------------------------------------------------------- which charts a book has


def cases(number: int) -> list[Case]:
    """So many visits of each of two hums of one family, told apart by the mains lead."""
    hum = CASES[0].faults[0]
    found = []
    for cause, outcome in (("fuse/blown", "cured"), ("joint/cracked", "no-change")):
        for i in range(number):
            checks = (replace(hum.checks[0], outcome=outcome),)
            fault = replace(hum, root_cause=cause, checks=checks, confirmed_by="inspection")
            found.append(replace(CASES[0], case=f"{cause[0]}-{i}", faults=(fault,)))
    return found


def charts_of(cases: list[Case], words: Vocabulary = VOCABULARY) -> tuple[Chart, ...]:
    return fault_charts(counted(cases, words), words, FIXED)


def test_a_pair_has_a_chart_once_it_has_past_faults_enough() -> None:
    charts = charts_of(cases(9))
    assert [(chart.family, chart.symptom) for chart in charts] == [
        ("heron-20", "hum"),
        ("heron-20", "noise"),
    ]
    assert charts[0].root.came == Passed(18, 18)
    assert charts_of(cases(1)) == ()


@pytest.mark.parametrize("key", ["root_cause", "checks", "check", "outcome", "finished"])
def test_charts_are_drawn_from_what_is_published_alone(key: str) -> None:
    published = [without(case, [key]) for case in cases(9)]
    assert charts_of(published) == ()


def test_a_broad_symptom_has_none_where_a_narrower_one_demands_something_first() -> None:
    hum = Symptom(key="hum", label="Hum", parent="noise", first=("look-inside",))
    words = replace(VOCABULARY, symptoms={**VOCABULARY.symptoms, "hum": hum})
    charts = charts_of(cases(9), words)
    assert [chart.symptom for chart in charts] == ["hum"]
    assert charts[0].root.step is not None
    assert charts[0].root.step.first


def test_the_counts_of_the_invented_chart_add_up() -> None:
    for point in CHARTS[0].root.points():
        assert sum(point.ended(), Passed()) == point.came


def test_every_point_of_the_sample_books_charts_says_what_diagnose_says(sample: Book) -> None:
    from kb.learning import strengths_in

    cases = sample.cases()
    assert sample._opened is not None
    with sample._opened.store.reading() as connection:
        strengths = strengths_in(connection)
    charts = fault_charts(counted(cases, sample.vocabulary), sample.vocabulary, strengths)
    assert charts
    for chart in charts:
        for point in chart.root.points():
            asked = sample.diagnose(
                "", family=chart.family, symptoms=[chart.symptom], checks=point.made, access="live"
            )
            assert point.unseen == pytest.approx(asked.unseen, abs=1e-9)
            for suspect, likely in zip(point.suspects, asked.causes, strict=False):
                assert suspect.cause == likely.cause
                assert suspect.probability == pytest.approx(likely.probability, abs=1e-9)
                assert suspect.interval == pytest.approx(likely.interval, abs=1e-9)
