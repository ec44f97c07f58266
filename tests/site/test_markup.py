"""The pages as documents: well formed, named, in order, and free of inline code."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest
from justhtml import JustHTML
from page_reader import pages, read

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "media-src 'self'; base-uri 'none'; form-action 'none'"
)


@pytest.fixture(params=["tame", "hostile"])
def site(request: pytest.FixtureRequest) -> Path:
    folder: Path = request.getfixturevalue(request.param)
    return folder


def test_no_page_has_a_parse_error_of_the_html_standard(site: Path) -> None:
    # Parse errors as the HTML standard defines them, reported by the justhtml library.
    found = {
        page.name: JustHTML(page.read_text("utf-8"), collect_errors=True).errors
        for page in pages(site)
    }
    assert {name: errors for name, errors in found.items() if errors} == {}


def test_the_parser_does_report_errors() -> None:
    assert JustHTML("<!doctype html><p><div></p><b>x", collect_errors=True).errors


def test_every_page_has_a_language_a_title_a_description_and_the_policy(site: Path) -> None:
    for page in pages(site):
        made = read(page)
        metas = made.named("meta")
        assert made.named("html") == [{"lang": "en"}]
        assert len(made.named("title")) == 1
        assert any(m.get("name") == "description" and m["content"].strip() for m in metas), page
        assert [m["content"] for m in metas if "http-equiv" in m] == [POLICY]


def test_every_page_has_its_landmarks_and_a_way_past_the_navigation(site: Path) -> None:
    for page in pages(site):
        made = read(page)
        for landmark in ("header", "nav", "main", "footer"):
            assert made.named(landmark), (page, landmark)
        assert made.named("a")[0] == {"class": "skip", "href": "#main"}
        assert len(made.named("main")) == 1


def test_headings_start_at_one_and_leave_no_level_out(site: Path) -> None:
    for page in pages(site):
        levels = [int(tag[1]) for tag, _ in read(page).elements if re.fullmatch(r"h[1-6]", tag)]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(after <= before + 1 for before, after in pairwise(levels))


def test_ids_are_not_used_twice(site: Path) -> None:
    for page in pages(site):
        ids = read(page).ids
        assert len(ids) == len(set(ids)), page


def test_no_page_has_inline_style_script_or_event_handlers(site: Path) -> None:
    for page in pages(site):
        for tag, attrs in read(page).elements:
            assert tag != "style"
            assert tag != "script" or "src" in attrs
            assert not [name for name in attrs if name == "style" or name.startswith("on")]


def test_every_picture_has_a_text_and_every_chart_says_what_it_shows(site: Path) -> None:
    for page in pages(site):
        assert all("alt" in attrs for attrs in read(page).named("img"))
        for attrs in read(page).named("svg"):
            hidden = attrs.get("aria-hidden") == "true"
            assert hidden or (attrs.get("role") == "img" and attrs["aria-label"])


def test_scripts_are_classic_ones_from_the_site_itself(site: Path) -> None:
    scripts = [attrs for page in pages(site) for attrs in read(page).named("script")]
    assert scripts
    assert all(set(attrs) <= {"src", "defer"} for attrs in scripts)


def test_every_page_stays_light(site: Path) -> None:
    if site.name.startswith("tame"):
        assert max(page.stat().st_size for page in pages(site)) < 100_000
