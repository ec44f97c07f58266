"""The page of a family: what it ties together, and that every drawing can be read as text."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_answers import AGEING, COMEBACKS, READINGS, WHILE_OPEN
from invented_source import VOCABULARY, InventedSource
from msgspec.structs import replace
from page_reader import read

from kb.site import telling, write_site
from kb.site.strips import strip
from kb.site.years import SHOWN, years
from kb.values_weak import Trend

PAGE = "families/heron-20.html"


def text(site: Path, page: str = PAGE) -> str:
    return read(site / page).text


def test_what_is_worth_a_look_stands_with_minutes_reasons_and_cautions(tame: Path) -> None:
    shown = text(tame)
    looks = shown[shown.index("While it is open What else") :]
    (one,) = WHILE_OPEN.suggestions
    for piece in (
        "saves about 10 min", "the look takes 2 min", one.why, "14 % to 47 %", str(one.confirm),
        *one.cautions, *WHILE_OPEN.assumed,
    ):  # fmt: skip
        assert piece in looks


def test_every_rule_for_opening_and_measuring_is_told_once_and_before_the_work(tame: Path) -> None:
    shown = text(tame)
    for rule in {*WHILE_OPEN.cautions, *READINGS.cautions}:
        assert shown.count(rule) == 1
        assert shown.index(rule) < shown.index("While it is open What else")
    assert shown.count('href="#rules"') == 0
    assert [a for a in read(tame / PAGE).addresses if a == "#rules"]


def test_a_test_point_gives_its_nominal_value_what_was_read_and_what_stood_out(tame: Path) -> None:
    shown = text(tame)
    for piece in (
        "first-filter idle, brought to 230 V mains 312 V ± 10 % 308 to 322 V 10 readings, middle 315 V",
        "Low as found, though within the tolerance: 281 V at 229 V mains, in 2023-0871: Electrolytic",
        "in 2024-0117: the unit is modified (solid state rectifier)",
        "Low here, in any family, has spoken for Electrolytic capacitor",
        "in 2 of 2 visits that had it, in 1 of 8 with others (odds times 5.3)",
        "bias-supply −34 V −35.5 to −33.5 V only 2 readings, middle −34.5 V",
        "screen idle 312 V not read in a healthy unit yet",
        "healthy: modified unit 1.",
        "Of 1 more nobody wrote",
    ):
        assert piece in shown, piece
    assert "empty" not in shown, "a point of which nothing is known has no row"


def test_the_strip_of_a_test_point_is_drawn_to_its_own_scale(tame: Path) -> None:
    source = (tame / PAGE).read_text("utf-8")
    made = strip(READINGS.points[0])
    assert made is not None
    low, high = made.ends
    assert low < 280.8
    assert high > 343.2
    at = (312 - low) / (high - low) * 100
    assert f'<svg class="mark" x="{at:.2f}%"' in source
    assert source.count('<path class="odd" d="M0 0l11') == 1, "90 V lies outside the drawing"


def test_repairs_that_came_back_name_both_cases_and_how_that_is_known(tame: Path) -> None:
    shown = text(tame)
    for piece in (
        "Of 4 faults put right, 1 repair came back.",
        "Of the 3 that have been out for 90 days, 2 held (95 % range 21 % to 94 %).",
        "1 went out too lately to judge.",
        "2024-0117 the later note says so 144 days",
        "By part 47 µF 450 V 1 of 2",
        "47 µF 450 V, batch 2351",
    ):
        assert piece in shown, piece


def test_a_line_shows_what_keeps_failing_in_its_families_together(tame: Path) -> None:
    shown = text(tame, "families/heron.html")
    assert "Over 19 finished visits" in shown
    assert "7 of 19 here, 2 of 60 in comparable units" in shown


def test_the_years_of_a_cause_are_drawn_and_can_be_heard(tame: Path) -> None:
    labels = [a.get("aria-label", "") for a in read(tame / PAGE).named("svg")]
    assert (
        "Visits with it by year: 2021: 1 of 4; 2022: 0 of 3; 2023: 2 of 6; 2024: 4 of 6" in labels
    )


def test_the_pages_give_no_figure_of_a_test_without_its_meaning(tame: Path) -> None:
    for page in (PAGE, "index.html", "weak-points.html", "how-good.html"):
        shown = text(tame, page)
        for found in re.finditer(r"p [=<] 0\.", shown):
            before = shown[max(0, found.start() - 60) : found.start()]
            assert "Chance alone would show as much" in before


def test_a_family_that_was_never_here_shows_no_empty_sections(
    tmp_path: Path, templates: Path
) -> None:
    source = InventedSource()
    source._comebacks = replace(COMEBACKS, overall=replace(COMEBACKS.overall, fixes=0))
    source._while_open = replace(WHILE_OPEN, suggestions=())
    write_site(source, tmp_path, templates)
    shown = text(tmp_path, "families/no-visit-yet.html")
    for piece in ("Weak points Over", "While it is open", "How repairs held", "Before you look"):
        assert piece not in shown


@pytest.mark.parametrize(
    ("trend", "said"),
    [
        (Trend("steady", 0.9), ""),
        (Trend("falling", 0.0002), "Coming less often than before"),
        (Trend("falling", 0.0002), "less than once in 1000 times (p < 0.001)"),
        (AGEING.trend, "about 6.7 times as often (95 % range 1.2 to 40 times)"),
        (AGEING.trend, "Chance alone would show as much about once in 48 times (p = 0.021)"),
    ],
)
def test_a_trend_is_said_in_words_with_the_figures_behind_them(trend: Trend, said: str) -> None:
    told = telling.course(trend).replace("\u00a0", " ").replace("\u202f", " ")
    assert said in told
    assert bool(told) == (trend.direction != "steady")


def test_every_kind_of_point_has_a_strip_that_holds_what_it_shows() -> None:
    for point in READINGS.points[:3]:
        made = strip(point)
        assert made is not None
        for place in (made.nominal, made.median, *(made.seen or ())):
            assert place is None or 0 <= float(place.rstrip("%")) <= 100
    assert strip(READINGS.points[3]) is None


values = st.floats(-1000, 1000).filter(lambda v: abs(v) > 1e-3)


@given(values, st.floats(0.001, 100), st.lists(values, max_size=4))
def test_all_marks_of_a_strip_lie_on_it(middle: float, half: float, odd: list[float]) -> None:
    point = replace(
        READINGS.points[0],
        low=middle - half,
        high=middle + half,
        median=middle,
        seen=(middle - half / 2, middle + half / 2),
        nominal=middle + half / 3,
        nominal_range=(middle - half, middle + 2 * half),
        unusual=tuple(
            replace(READINGS.points[0].unusual[0], value=v, brought_to=None) for v in odd
        ),
    )
    made = strip(point)
    assert made is not None
    assert made.ends[0] < made.ends[1]
    places = [made.nominal, made.median, *(made.seen or ()), *(one.at for one in made.odd)]
    assert all(0 <= float(str(place).rstrip("%")) <= 100 for place in places)
    assert made.usual is not None
    left, width = (float(part.rstrip("%")) for part in made.usual)
    assert left >= 0
    assert left + width <= 100.02


@given(st.dictionaries(st.integers(1970, 2040), st.integers(1, 500), min_size=2), st.data())
def test_no_visit_is_lost_in_the_columns_of_the_years(
    visits: dict[int, int], data: st.DataObject
) -> None:
    found = {year: data.draw(st.integers(0, n)) for year, n in visits.items()}
    made = years(visits, found)
    assert made is not None
    assert len(made.columns) <= SHOWN
    assert sum(column.visits for column in made.columns) == sum(visits.values())
    assert sum(column.count for column in made.columns) == sum(found.values())


def test_a_family_of_very_many_causes_stays_light_and_says_what_it_leaves_out(
    tmp_path: Path, templates: Path
) -> None:
    source = InventedSource()
    steady = replace(AGEING, flag=False, trend=Trend("steady", 1.0))
    many = [replace(steady, cause=f"part/{n}", count=1 + (n < 70)) for n in range(150)]
    (family,) = source._weak_points.families
    source._weak_points = replace(
        source._weak_points, families=(replace(family, causes=(AGEING, *many)),)
    )
    write_site(source, tmp_path, templates)
    assert (tmp_path / PAGE).stat().st_size < 100_000
    shown = text(tmp_path)
    named = shown[shown.index("Weak points Over") : shown.index("Before you look")]
    (left,) = re.findall(r"And (\d+) more causes", named)
    assert len(set(re.findall(r"part/\d+", named))) + int(left) == len(many)


def test_a_single_year_is_no_course() -> None:
    assert years({2024: 3}, {2024: 1}) is None
    assert years({}, {}) is None


def test_every_family_of_the_vocabulary_has_its_page(tame: Path) -> None:
    for key in VOCABULARY.families:
        assert (tame / f"families/{key}.html").is_file()
