"""What the pages say."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

import pytest
from invented_source import CASES, CAUTIONS, VOCABULARY
from page_reader import read

from kb.site.addresses import term_page


def text(site: Path, page: str) -> str:
    return read(site / page).text


def steps(site: Path, page: str) -> list[str]:
    """The source of each step of a case's page."""
    source = (site / page).read_text("utf-8")
    return re.findall(r'<li class="step .*?</li>\n(?=<li class="(?:step|verdict))', source, re.S)


def test_a_case_opens_with_its_job_card(tame: Path) -> None:
    shown = text(tame, "cases/2023-0871.html")
    for piece in (
        "2023-0871", "Repaired", "Heron 20", "Hums loudly, worse since the summer",
        "Received 2 Oct 2023", "At the counter Hum", "Fenwick & Ash", "solid state rectifier",
    ):  # fmt: skip
        assert piece in shown


def test_the_way_to_the_cause_is_told_step_by_step_in_order(tame: Path) -> None:
    shown = text(tame, "cases/2023-0871.html")
    order = [
        "As it came in, the rest of the book leaned to",
        "Try another mains lead", "No change", "1 min",
        "Look for burns and bulges", "Bulging can", "at C1", "vent raised", "Spoke against",
        "Ripple on the first filter", "High", "12 min", "18 V at 100 Hz",
        "Root cause Electrolytic capacitor, high series resistance",
        "C1, first filter", "substitution", "ageing", "Fuse blown", "47 µF 450 V batch 2351",
    ]  # fmt: skip
    at = 0
    for piece in order:
        found = shown.find(piece, at)
        assert found >= 0, piece
        at = found


def test_each_step_that_can_hurt_carries_its_cautions(tame: Path) -> None:
    outside, opened, live = steps(tame, "cases/2023-0871.html")
    assert 'class="caution"' not in outside
    assert CAUTIONS.hazards["stored-charge"] in opened
    assert 'href="../safety.html#open"' in opened
    assert CAUTIONS.hazards["high-voltage"] in live
    assert 'href="../safety.html#live"' in live


def test_a_caution_spelt_out_above_is_still_named_at_the_next_step(tame: Path) -> None:
    source = (tame / "cases/2024-0117.html").read_text("utf-8")
    assert source.count(CAUTIONS.hazards["stored-charge"]) == 1
    assert source.count('href="../safety.html#stored-charge"') == 1


def test_a_visit_with_two_faults_tells_both(tame: Path) -> None:
    shown = text(tame, "cases/2024-0117.html")
    assert "Fault 1: how the cause was found" in shown
    assert "Fault 2: how the cause was found" in shown
    assert shown.index("Carbon resistor, noisy", shown.index("Fault 1")) < shown.index("Fault 2")
    assert "Soldered joint, cracked" in shown[shown.index("Fault 2") :]
    assert "Comes after 12 min" in shown
    assert "Then every 20 min" in shown


def test_readings_stand_beside_what_they_should_be(tame: Path) -> None:
    shown = text(tame, "cases/2023-0871.html")
    assert "first-filter idle, mains 229 V as found 281 V should be 312 V ± 10 %" in shown
    assert "bias-supply as left −35.5 V should be −34 V" in shown


def test_proof_safety_offers_and_what_was_found_too_are_shown(tame: Path) -> None:
    shown = text(tame, "cases/2023-0871.html")
    for piece in (
        "Run 60 min", "With heat, tap", "Result held",
        "Earth bond 0.08 Ω", "Insulation 200 MΩ", "Result pass",
        "Renew the remaining electrolytics GBP 90 Can wait; owner’s answer: declined",
        "New mains lead GBP 12.50", "Valve socket, loose contacts",
    ):  # fmt: skip
        assert piece in shown


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ("2024-0230", "On the bench, waiting for parts"),
        ("2024-0231", "No fault found"),
        ("2024-0300", "Declined by the owner"),
    ],
)
def test_every_way_a_case_can_stand_is_said_in_words(case: str, words: str, tame: Path) -> None:
    assert words in text(tame, f"cases/{case}.html")


def test_an_open_case_says_how_far_it_has_got_and_claims_no_cause(tame: Path) -> None:
    shown = text(tame, "cases/2024-0230.html")
    assert "How far it has got" in shown
    assert "Not found yet" in shown
    assert "Root cause" not in shown


def test_home_shows_the_bench_what_is_new_and_what_stands_out(tame: Path) -> None:
    shown = text(tame, "index.html")
    bench, rest = shown.split("What is new")
    assert "Went bang, smells" in bench
    assert "2024-0231" not in bench
    new, out = rest.split("What stands out")
    assert "after 3 July 2023, in the last year of these notes" in new
    assert "7 of 19 here, 2 of 60 in comparable units. Then it was 3 of 12" in new
    assert new.index("2024-0300") < new.index("2024-0231") < new.index("2023-0871")
    assert "7 of 19 here, 2 of 60 in comparable units" in out
    assert "Soldered joint" not in out, "a cause that chance can explain does not stand out"
    assert "20 had their cause among the first three" in out


def test_a_family_shows_its_write_up_weak_points_and_nominal_readings(tame: Path) -> None:
    shown = text(tame, "families/heron-20.html")
    for piece in (
        "A small amplifier that runs hot.",
        "7 of 19 here, 2 of 60 in comparable units", "1 repair came back",
        "Coming more often than before, allowing for how many units came in at all",
        "6 of 9 visits since 2023, 1 of 10 before", "At C1, first filter in 5 of the 6",
        "ageing 6, misuse 1", "Seen once: Carbon resistor, noisy",
        "Heron line", "back panel, then the chassis",
    ):  # fmt: skip
        assert piece in shown


def test_the_drawing_of_a_weak_point_can_be_heard(tame: Path) -> None:
    labels = [a["aria-label"] for a in read(tame / "weak-points.html").named("svg") if "role" in a]
    assert labels[0] == (
        "37\u202f% of visits, interval 19\u202f% to 59\u202f%; 3\u202f% in comparable units"
    )


def test_bars_and_whiskers_stand_where_the_numbers_say(tame: Path) -> None:
    source = (tame / "families/heron-20.html").read_text("utf-8")
    # On a scale to 60 %: 7/19, its interval 0.19 to 0.59, and 2/60 elsewhere.
    assert '<rect class="bar" x="0" y="9" width="61.40%"' in source
    assert '<line class="whisker" x1="31.67%" x2="98.33%"' in source
    assert '<line class="elsewhere" x1="5.56%"' in source


def test_a_symptom_says_what_comes_first_with_its_cautions(tame: Path) -> None:
    shown = text(tame, "symptoms/smell-of-burning.html")
    first = shown[shown.index("Before anything else") : shown.index("What it was")]
    assert "Look for burns and bulges" in first
    assert CAUTIONS.hazards["stored-charge"] in first


def test_a_broader_symptom_counts_the_causes_of_its_narrower_ones(tame: Path) -> None:
    assert "Hum 2023" not in text(tame, "symptoms/noise.html")
    shown = text(tame, "symptoms/noise.html")
    assert "3 finished faults with a known root cause" in shown
    assert "Electrolytic capacitor, high series resistance 1" in shown


def test_an_open_case_counts_for_no_cause(tame: Path) -> None:
    assert "1 finished fault with a known root cause" in text(tame, "symptoms/dead.html")


def test_a_cause_says_how_to_prove_it_and_where_it_was_found(tame: Path) -> None:
    shown = text(tame, "causes/electrolytic-capacitor/high-esr.html")
    cause = VOCABULARY.causes["electrolytic-capacitor/high-esr"]
    assert cause.confirm is not None
    assert cause.confirm in shown
    assert "Heron 20: 1 of 2 cases" in shown
    assert "To reach it chassis out" in shown
    assert "In Heron 20 back panel, then the chassis" in shown
    assert "2023-0871" in text(tame, "causes/fuse/blown.html").split("As damage that followed")[1]


def test_a_check_tells_its_outcomes_and_all_its_cautions_in_full(tame: Path) -> None:
    shown = text(tame, "checks/tap-board.html")
    for paragraph in (*CAUTIONS.access["open"], *CAUTIONS.access["live"]):
        assert paragraph in shown
    assert CAUTIONS.hazards["mains"] in shown
    assert "Fault changes 1 time Then it was Carbon resistor, noisy." in shown
    assert "No change never yet" in shown
    assert "20 min median of 2" in shown
    assert "It may chase the fault away." in shown


def test_a_check_that_served_two_faults_was_made_once(tame: Path) -> None:
    assert "Clean 1 time Then it was Carbon resistor, noisy, Soldered joint, cracked." in text(
        tame, "checks/look-inside.html"
    )


def test_heavy_work_says_how_to_lift(tame: Path) -> None:
    assert CAUTIONS.topics["lifting"][0] in text(tame, "checks/two-to-lift.html")


def test_the_safety_page_has_every_caution(tame: Path) -> None:
    shown = text(tame, "safety.html")
    paragraphs = [p for texts in CAUTIONS.access.values() for p in texts]
    paragraphs += [p for texts in CAUTIONS.topics.values() for p in texts]
    for paragraph in (*paragraphs, *CAUTIONS.hazards.values()):
        assert paragraph in shown


@pytest.mark.parametrize("kind", ["family", "symptom", "cause", "check"])
def test_each_kind_has_a_list_that_links_to_all_its_terms(kind: str, tame: Path) -> None:
    section = {"family": "families"}.get(kind, f"{kind}s")
    terms: Iterable[str] = getattr(VOCABULARY, section)
    assert {term_page(kind, key) for key in terms} <= set(read(tame / f"{section}.html").addresses)


def test_search_page_lists_the_cases_for_whoever_has_no_script(tame: Path) -> None:
    page = read(tame / "search.html")
    assert {f"cases/{case.case}.html" for case in CASES} <= set(page.addresses)
    assert [attrs for attrs in page.named("form") if "hidden" in attrs]


def test_home_tells_what_is_new_once_words_first_and_figures_behind(tame: Path) -> None:
    shown = text(tame, "index.html")
    flagged, rising = shown[shown.index("What is new") :].split("What else began to come")
    flagged = flagged[flagged.index("What became a weak point") :]
    assert "Electrolytic capacitor, high series resistance in Heron 20 7 of 19 here" in flagged
    assert "Then it was 3 of 12, which chance could still explain." in flagged
    assert "Coming more often than before" in flagged
    rising = rising[: rising.index("Latest finished cases")]
    assert "more often after" in rising
    assert "Electrolytic" not in rising
    assert "Soldered joint, cracked in all of the maker Fenwick & Ash" in rising
    assert "3 of 9 visits since 2023, 0 of 10 before. Chance alone" in rising
    assert "Then it was 1 of 12, and no trend could be seen." in rising
