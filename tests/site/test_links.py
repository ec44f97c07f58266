"""Links of the site: all resolve, all stay inside, and every page can be reached."""

from __future__ import annotations

from pathlib import Path

import pytest
from invented_source import CASES, VOCABULARY
from page_reader import broken_links, pages, read, target

from kb.site.addresses import case_page, term_page

TERM_PAGES = [
    term_page(kind, key)
    for kind, terms in (
        ("family", VOCABULARY.families),
        ("symptom", VOCABULARY.symptoms),
        ("cause", VOCABULARY.causes),
        ("check", VOCABULARY.checks),
    )
    for key in terms
]


@pytest.mark.parametrize("site", ["tame", "hostile"])
def test_no_link_is_broken_and_none_leads_out_unmarked(
    site: str, request: pytest.FixtureRequest
) -> None:
    assert broken_links(request.getfixturevalue(site)) == []


def test_a_broken_link_would_be_noticed(tmp_path: Path) -> None:
    (tmp_path / "a.html").write_text(
        '<a href="gone.html">x</a><a href="#nowhere">y</a><a href="../out.html">z</a>'
        '<img src="https://example.org/x.png"><a id="here" href="#here">ok</a>'
    )
    assert len(broken_links(tmp_path)) == 4


def test_every_page_can_be_reached_from_home(tame: Path) -> None:
    reached, waiting = set(), [tame / "index.html"]
    while waiting:
        page = waiting.pop().resolve()
        if page in reached:
            continue
        reached.add(page)
        links = (target(page, attrs["href"]) for attrs in read(page).named("a"))
        waiting += [link for link in links if link.suffix == ".html"]
    assert {page.resolve() for page in pages(tame)} - reached == set()


@pytest.mark.parametrize("page", TERM_PAGES)
def test_every_term_has_a_page_even_if_no_case_names_it(page: str, tame: Path) -> None:
    assert (tame / page).is_file()


def test_a_case_links_to_every_term_it_names(tame: Path) -> None:
    case = next(case for case in CASES if case.case == "2023-0871")
    fault = case.faults[0]
    page = tame / case_page(case.case)
    linked = {target(page, attrs["href"]) for attrs in read(page).named("a") if "href" in attrs}
    wanted = [
        term_page("family", case.family),
        *(term_page("symptom", key) for key in (*fault.symptom, *fault.absent)),
        *(term_page("check", made.check) for made in fault.checks),
        *(term_page("cause", key) for key in (*case.root_causes, *fault.took_with_it)),
        *(term_page("cause", key) for key in case.found_too),
    ]
    assert [path for path in wanted if (tame / path).resolve() not in linked] == []


def test_a_comeback_and_the_case_before_it_link_to_each_other(tame: Path) -> None:
    before, after = tame / "cases/2023-0871.html", tame / "cases/2024-0117.html"
    assert after.resolve() in {target(before, a) for a in read(before).addresses}
    assert before.resolve() in {target(after, a) for a in read(after).addresses}
