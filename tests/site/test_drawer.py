"""The page to shop by, and what a family's page says of its spares."""

from __future__ import annotations

from pathlib import Path

import pytest
from invented_answers import DRAWER
from invented_source import InventedSource
from msgspec.structs import replace
from page_reader import read

from kb.site import write_site
from kb.values_history import Spare

FAMILY = "families/heron-20.html"
LINKING = ("index.html", "weak-points.html", FAMILY)


def made(folder: Path, templates: Path, *hide: str, drawer=DRAWER) -> Path:
    source = InventedSource(hide=hide)
    source._drawer = drawer
    write_site(source, folder, templates)
    return folder


def test_the_spares_stand_in_the_order_to_buy_them_with_what_they_serve(tame: Path) -> None:
    shown = read(tame / "drawer.html").text
    order = (
        "Finished after 1 Mar 2023, up to 29 Feb 2024:",
        "6 repairs used parts, 2 did without. The first 2 serve 5 of them (83 %).",
        "47 µF 450 V", "4 repairs: Electrolytic capacitor, high series resistance; in Heron 20",
        "EL84 type valve", "and 1 more", "Then, to serve the rest", "fuse T 1 A",
        "one part under two names counts as two",
    )  # fmt: skip
    at = 0
    for piece in order:
        found = shown.find(piece, at)
        assert found >= 0, piece
        at = found


def test_every_spare_has_a_box_to_tick_and_a_heading_says_what_it_is_for(tame: Path) -> None:
    page = read(tame / "drawer.html")
    boxes = [a for a in page.named("td") if a.get("class") == "box"]
    assert len(boxes) == len(DRAWER.spares)
    assert "Got it" in page.text


def test_a_family_shows_the_few_that_serve_most_of_its_repairs(tame: Path) -> None:
    shown = read(tame / FAMILY).text
    spares = shown[shown.index("What the repairs of the last year took") :]
    assert "These 2 serve 5 of them (83 %)." in spares
    assert "EL84 type valve" in spares
    assert "fuse T 1 A" not in spares
    assert "And 1 more part. Spares for all families" in spares


def test_the_page_is_found_from_home_from_the_weak_points_and_from_a_family(tame: Path) -> None:
    for page in LINKING:
        assert any(a.endswith("drawer.html") for a in read(tame / page).addresses), page


@pytest.mark.parametrize("key", ["parts", "part", "finished", "returned", "closed_as"])
def test_where_what_it_rests_on_is_hidden_there_is_no_page_and_no_way_to_it(
    key: str, tmp_path: Path, templates: Path
) -> None:
    made(tmp_path, templates, key)
    assert not (tmp_path / "drawer.html").exists()
    for page in LINKING:
        assert "drawer.html" not in (tmp_path / page).read_text("utf-8")
        assert "fuse T 1 A" not in (tmp_path / page).read_text("utf-8")


def test_hidden_causes_leave_the_parts(tmp_path: Path, templates: Path) -> None:
    shown = read(made(tmp_path, templates, "root_cause") / "drawer.html").text
    assert "47 µF 450 V 4 repairs in Heron 20" in shown
    assert "Rectifier, shorted" not in shown


def test_a_book_whose_repairs_took_no_part_has_no_such_page(
    tmp_path: Path, templates: Path
) -> None:
    empty = replace(DRAWER, repairs=0, enough=0, spares=())
    made(tmp_path, templates, drawer=empty)
    assert not (tmp_path / "drawer.html").exists()


def test_of_very_many_parts_the_list_is_cut_and_says_so(tmp_path: Path, templates: Path) -> None:
    many = tuple(Spare(f"part {i}", 1, 1, i, i / 300, (), ("heron-20",)) for i in range(1, 301))
    drawer = replace(DRAWER, repairs=300, enough=240, spares=many)
    shown = read(made(tmp_path, templates, drawer=drawer) / "drawer.html").text
    assert "These 100 serve 100 of them (33 %)." in shown
    assert "part 100 " in shown
    assert "part 101 " not in shown
    assert "And 200 more parts" in shown
    family = read(tmp_path / FAMILY).text
    assert "These 8 serve 8 of them" in family
    assert "And 292 more parts." in family
