"""The bench page: the program's own answers, worked out in the browser from a folder."""

from __future__ import annotations

import datetime as dt
import json
import random
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import pytest
from invented_source import InventedSource

from kb import cautions
from kb.book import Book
from kb.notes.read_case import read_case
from kb.notes.vocabulary import NOT_SHOWING, Vocabulary
from kb.resources import site_templates
from kb.site import write_site
from kb.site.bench_data import tables_of
from kb.site.material import Material
from kb.values import Diagnosis

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

ACCESS = ("outside", "open", "live")
Question = dict[str, Any]

WHOLE = "() => Array.isArray(benchTables.topics)"
"""whether all tables have come"""
ASK = """questions => {
    const tables = benchTables, book = reckoning.book(tables);
    const bench = reckoning.nextChecks(tables, book);
    const places = kind => new Map(tables[kind].map((term, place) => [term[0], place]));
    const families = places("families"), symptoms = places("symptoms"), checks = places("checks");
    const key = offer => tables.checks[offer.check][0];
    const outcome = (check, key) => tables.checks[check][7].findIndex(o => o[0] === key);
    const told = offer => ({
        check: key(offer), bits: offer.expected.told,
        outcomes: offer.outcomes.map(o => [
            tables.checks[offer.check][7][o.outcome][0], o.chance, o.unseen,
            o.leading.map(([cause, p]) => [tables.causes[cause][0], p])])
    });
    return questions.map(q => {
        const question = {
            family: q.family === null ? -1 : families.get(q.family),
            there: q.symptoms.map(s => symptoms.get(s)), absent: q.absent.map(s => symptoms.get(s)),
            made: q.checks.map(([c, o]) => [checks.get(c), outcome(checks.get(c), o)]),
            access: ["outside", "open", "live"].indexOf(q.access)
        };
        const ranking = book.rank(question), next = bench.next(question, ranking);
        return {
            causes: ranking.order.map(place => ({
                cause: tables.causes[place][0], probability: ranking.p[place],
                interval: [ranking.low[place], ranking.high[place]],
                why: ranking.odds.map((odds, at) =>
                    odds[place] - (at ? ranking.odds[at - 1][place] : 0))
            })),
            unseen: ranking.unseen, first: next.first.map(told), checks: next.checks.map(told),
            beyond: next.beyond.map(key)
        };
    });
}"""


@pytest.fixture
def site(sample_site: Path) -> Path:
    return sample_site


@pytest.fixture
def bench(site: Path, page: Page) -> Iterator[Page]:
    """The bench page, opened; whatever it complains of or asks for fails the test."""
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(said.text))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on(
        "request",
        lambda asked: asked.url.startswith((site.as_uri(), "blob:")) or wrong.append(asked.url),
    )
    page.goto((site / "bench.html").as_uri())
    yield page
    assert wrong == []


def at(site: Path, page: Page, fragment: str) -> None:
    page.goto("about:blank")
    page.goto(f"{(site / 'bench.html').as_uri()}#{fragment}")


def fragment(page: Page) -> str:
    """The sheet as the address has it, which follows a tick after a tenth of a second.

    The page's own clock is waited for: on a busy machine any other may run ahead of it.
    """
    found: str = page.evaluate(
        "new Promise(done => setTimeout(() => done(location.hash.slice(1)), 150))"
    )
    return found


def random_questions(words: Vocabulary, count: int, seed: int) -> list[Question]:
    draw = random.Random(seed)
    lines = {family.parent for family in words.families.values()}
    families = [None, *(key for key in words.families if key not in lines)]
    found = []
    for _ in range(count):
        there = draw.sample(list(words.symptoms), draw.randint(0, 4))
        absent = draw.sample(list(words.symptoms), draw.randint(0, 3))
        made = [
            (check, draw.choice((*words.checks[check].outcomes, NOT_SHOWING)))
            for check in draw.sample(list(words.checks), draw.randint(0, 5))
        ]
        if made and draw.random() < 0.3:
            again = made[0][0]
            made.append((again, draw.choice(words.checks[again].outcomes)))
        found.append(
            {
                "family": draw.choice(families),
                "symptoms": there,
                "absent": [symptom for symptom in absent if symptom not in there],
                "checks": made,
                "access": draw.choice(ACCESS),
            }
        )
    return found


def assert_same(shown: dict[str, Any], answer: Diagnosis) -> None:
    """Everything to 1e-6, and every order exactly."""

    def near(value: object) -> object:
        return pytest.approx(value, abs=1e-6, rel=0)

    assert [c["cause"] for c in shown["causes"]] == [c.cause for c in answer.causes]
    for mine, theirs in zip(shown["causes"], answer.causes, strict=True):
        assert mine["probability"] == near(theirs.probability)
        assert tuple(mine["interval"]) == near(theirs.interval)
        assert mine["why"] == near([why.log_odds for why in theirs.why])
    assert shown["unseen"] == near(answer.unseen)
    proposed = [*shown["first"], *shown["checks"]]
    assert [c["check"] for c in proposed] == [c.check for c in answer.next_checks]
    assert len(shown["first"]) == sum(check.first for check in answer.next_checks)
    for mine, check in zip(proposed, answer.next_checks, strict=True):
        assert mine["bits"] == near(check.bits)
        outcomes = {key: (chance, unseen) for key, chance, unseen, _ in mine["outcomes"]}
        assert set(outcomes) == set(check.outcomes)
        for key, _, _, leading in mine["outcomes"]:
            assert outcomes[key] == near((check.outcomes[key], check.then_unseen[key]))
            assert [cause for cause, _ in leading] == list(check.then[key])
            assert [p for _, p in leading] == near(list(check.then[key].values()))
    assert set(shown["beyond"]) >= {check.check for check in answer.further}


def turn_to_the_sheet(page: Page) -> None:
    """As a reader does: what an empty sheet does without is loaded then."""
    page.get_by_label("Find a symptom").focus()
    page.wait_for_function(WHOLE)


def test_an_empty_sheet_has_the_programs_answer_before_the_rest_of_the_tables_has_come(
    sample: Book, bench: Page
) -> None:
    assert not bench.evaluate(WHOLE)
    nothing = {"family": None, "symptoms": [], "absent": [], "checks": [], "access": "outside"}
    (shown,) = bench.evaluate(ASK, [nothing])
    assert_same(shown, sample.diagnose(**nothing))
    assert not bench.evaluate(WHOLE)


def test_the_packed_tables_unpack_to_those_that_were_written(tame: Path, page: Page) -> None:
    material = Material(InventedSource())
    written = tables_of(material, InventedSource().bench_tables(material.ledger.cases))
    page.goto((tame / "bench.html").as_uri())
    turn_to_the_sheet(page)
    assert page.evaluate("benchTables") == json.loads(json.dumps(written))


def test_reasons_and_ways_of_making_a_check_are_fetched_when_somebody_asks(bench: Page) -> None:
    reasons, way = bench.locator("#causes .why").first, bench.locator("details.how").first
    assert reasons.locator("li").count() == 0
    reasons.locator("summary").click()
    reasons.locator("li").first.wait_for()
    assert "before anything was ticked" in reasons.inner_text()
    way.locator("summary").click()
    assert len(way.locator("p").inner_text()) > 20


def test_nothing_is_proposed_for_what_is_ticked_where_a_file_is_missing(
    site: Path, tmp_path: Path, page: Page
) -> None:
    folder = shutil.copytree(site, tmp_path / "site")
    (folder / "data/bench-later.js").unlink()
    page.goto((folder / "bench.html").as_uri())
    assert page.locator("#proposals > li").count() > 0
    page.locator("#symptom-groups summary").first.click()
    page.locator("#symptom-groups input").first.check()
    page.get_by_text("A file of this site is missing").first.wait_for()
    assert page.locator("#proposals > li, #causes > li").count() == 0


@pytest.fixture(scope="module")
def asked(sample: Book) -> list[tuple[Question, Diagnosis]]:
    questions = random_questions(sample.vocabulary, 200, seed=6)
    return [(question, sample.diagnose(**question)) for question in questions]


def test_two_hundred_random_questions_have_the_programs_answers(
    asked: list[tuple[Question, Diagnosis]], bench: Page
) -> None:
    turn_to_the_sheet(bench)
    shown = bench.evaluate(ASK, [question for question, _ in asked])
    for mine, (_, answer) in zip(shown, asked, strict=True):
        assert_same(mine, answer)


def test_the_random_questions_reach_what_could_go_wrong(
    asked: list[tuple[Question, Diagnosis]],
) -> None:
    answers = [answer for _, answer in asked]
    assert sum(question["family"] is None for question, _ in asked) > 5
    assert sum(any(check.first for check in answer.next_checks) for answer in answers) > 30
    assert sum(bool(answer.further) for answer in answers) > 30
    said = " ".join(note for answer in answers for note in answer.notes)
    for part in ("was made again", "can't be absent too", "Held back", "it was not counted"):
        assert part in said


def test_the_page_shows_the_answer_of_its_address(sample: Book, site: Path, page: Page) -> None:
    at(site, page, "unit=drover-22&there=hum&not=crackle&made=tap-valves:no-change&access=open")
    answer = sample.diagnose(
        family="drover-22",
        symptoms=("hum",),
        absent=("crackle",),
        checks=(("tap-valves", "no-change"),),
        access="open",
    )
    causes = page.locator("#causes .what").all_text_contents()
    assert causes == [cause.label for cause in answer.causes[:6]]
    figure = f"{100 * answer.causes[0].probability:.0f}"
    assert page.locator("#causes .reads .value").first.inner_text().startswith(figure)
    low, high = answer.causes[0].interval
    ranged = page.locator("#causes .range").first.inner_text()
    assert ranged.startswith(f"{100 * low:.0f} to {100 * high:.0f}")
    proposed = page.locator("#proposals h3 a").all_text_contents()
    assert proposed == [check.label for check in answer.next_checks]
    assert page.locator("#causes .from a").first.inner_text() == answer.causes[0].cases[0]


def test_the_reasons_are_told_as_factors_on_the_odds(site: Path, page: Page) -> None:
    at(site, page, "unit=drover-22&there=hum&made=tap-valves:no-change")
    page.locator("#causes summary").first.click()
    reasons = page.locator("#causes .why").first.inner_text()
    assert "before anything was ticked" in reasons
    assert "odds ×" in reasons or "odds ÷" in reasons
    assert "Hum, there" in reasons
    page.get_by_label("Family").select_option(label="Drover 50")
    assert page.locator("#causes .why[open]").count() <= 1


def test_ticks_and_outcomes_change_the_answer_and_stand_in_the_address(bench: Page) -> None:
    before = bench.locator("#causes").inner_text()
    bench.get_by_label("Family").select_option(label="Drover 22")
    bench.get_by_label("Find a symptom").fill("hum")
    bench.get_by_label("Hum: there", exact=True).check()
    assert bench.locator("#causes").inner_text() != before
    assert fragment(bench) == "unit=drover-22&there=hum"
    bench.locator("#proposals .tick").first.click()
    assert "&made=" in fragment(bench)
    assert bench.locator("#made li").count() == 1
    bench.get_by_role("button", name="Take back").click()
    assert fragment(bench) == "unit=drover-22&there=hum"
    bench.get_by_label("Hum: not there", exact=True).check()
    assert not bench.get_by_label("Hum: there", exact=True).is_checked()
    assert fragment(bench) == "unit=drover-22&not=hum"


def test_a_kept_address_brings_the_sheet_back_and_what_it_does_not_know_is_left_out(
    site: Path, page: Page
) -> None:
    at(
        site,
        page,
        "unit=drover-22&there=hum,no-such&not=hum,crackle&made=tap-valves:nope,no:x&access=open",
    )
    assert page.get_by_label("Family").input_value() != "-1"
    assert page.locator("#on-card li").all_inner_texts() != []
    assert page.locator("#on-card li").count() == 2
    assert page.locator("#made li").count() == 0
    assert page.get_by_label("Cover off, power off").is_checked()
    for address in ("there=%E0%A4%A", "made=:,::&unit=__proto__", "&&==&there=constructor"):
        at(site, page, address)
        assert page.locator("#on-card li").count() == 0
        assert page.locator("#causes > li").count() == 6


def test_work_with_power_on_is_chosen_anew_with_its_rules_and_never_in_the_address(
    site: Path, bench: Page
) -> None:
    bench.get_by_label("Family").select_option(label="Drover 22")
    bench.get_by_label("Cover off, power on").check()
    rules = bench.locator("#before-live")
    for rule in (*cautions.ACCESS["open"], *cautions.ACCESS["live"]):
        assert rule in " ".join(rules.inner_text().split())
    assert bench.locator("#proposals .access.live").count() == 0
    bench.get_by_role("button", name="I am trained for this").click()
    assert bench.locator("#proposals .access.live").count() > 0
    shown = " ".join(bench.locator("#rules").inner_text().split())
    for rule in (*cautions.ACCESS["open"], *cautions.ACCESS["live"], cautions.LOCAL_CODES):
        assert rule in shown
    assert "live" not in fragment(bench)
    bench.reload()
    assert bench.get_by_label("Cover on").is_checked()
    assert bench.locator("#proposals .access.live").count() == 0
    at(site, bench, "unit=drover-22&access=live")
    assert bench.get_by_label("Cover on").is_checked()
    assert bench.locator("#proposals .access.live").count() == 0


def test_another_unit_ends_the_work_with_power_on(bench: Page) -> None:
    bench.get_by_label("Cover off, power on").check()
    bench.get_by_role("button", name="I am trained for this").click()
    assert bench.get_by_label("Cover off, power on").is_checked()
    bench.get_by_label("Family").select_option(label="Drover 22")
    assert bench.get_by_label("Cover on").is_checked()
    assert bench.locator("#proposals .access.live").count() == 0


def test_power_can_be_left_off_after_reading_what_it_takes(bench: Page) -> None:
    bench.get_by_label("Cover off, power off").check()
    bench.get_by_label("Cover off, power on").check()
    bench.get_by_role("button", name="Leave the power off").click()
    assert bench.get_by_label("Cover off, power off").is_checked()
    assert not bench.locator("#before-live").is_visible()


@pytest.mark.parametrize("access", ["outside", "open"])
def test_danger_comes_before_everything_and_what_applies_power_is_held_back(
    access: str, sample: Book, site: Path, page: Page
) -> None:
    at(site, page, f"unit=drover-22&there=smoke&access={access}")
    answer = sample.diagnose(family="drover-22", symptoms=("smoke",), access=access)
    danger = page.get_by_role("alert").inner_text()
    assert answer.danger[0] in danger
    assert answer.danger[0] in page.locator("#rules").inner_text()
    first = sum(check.first for check in answer.next_checks)
    assert first > 0
    assert page.locator("#proposals .stands-out").count() == first
    assert page.locator("#proposals > li").first.locator(".stands-out").count() == 1
    held = [note for note in answer.notes if note.startswith("Held back")]
    assert ("Held back" in page.locator("#withheld").inner_text()) == bool(held)


def test_on_a_phone_danger_stands_where_the_likeliest_cause_stood(site: Path, page: Page) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    at(site, page, "unit=drover-22&there=hum")
    strip = page.locator("#strip")
    assert strip.inner_text().lower().startswith("likeliest")
    at(site, page, "unit=drover-22&there=smoke")
    page.reload()
    page.locator("#strip-danger").wait_for()
    assert "off and unplugged first" in strip.inner_text().lower()
    assert "%" not in strip.inner_text()
    strip.get_by_role("link").click()
    box = page.get_by_role("alert").bounding_box()
    assert box is not None
    assert 0 <= box["y"] < 844


def test_on_a_phone_power_on_says_in_view_that_it_is_not_in_force_yet(bench: Page) -> None:
    bench.set_viewport_size({"width": 390, "height": 844})
    bench.get_by_label("Cover off, power on").check()
    box = bench.locator("#not-yet").bounding_box()
    strip = bench.locator("#strip").bounding_box()
    assert box is not None
    assert strip is not None
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= strip["y"]
    bench.get_by_role("button", name="I am trained for this").click()
    assert not bench.locator("#not-yet").is_visible()


def test_every_danger_of_a_proposed_check_is_spelt_out_on_the_page(
    sample: Book, site: Path, page: Page
) -> None:
    for fragment, question in (
        ("unit=drover-22&there=hum&access=open", {"family": "drover-22", "symptoms": ("hum",)}),
        ("there=no-sound&access=open", {"symptoms": ("no-sound",)}),
    ):
        at(site, page, fragment)
        answer = sample.diagnose(**question, access="open")
        shown = " ".join(page.locator(".next").inner_text().split())
        for caution in answer.cautions:
            assert " ".join(caution.split()) in shown


def test_the_started_note_is_one_that_the_book_takes(
    sample: Book, bench: Page, site: Path, tmp_path: Path
) -> None:
    at(
        site,
        bench,
        "unit=drover-22&there=hum&seen=hum-when-warm&not=squeal&made=tap-valves:no-change",
    )
    bench.get_by_role("button", name="Start a case note").click()
    bench.get_by_label("Case number").fill("2026-0999")
    complaint = 'Hums: "loud" #1 — worse\nwhen {warm}, 100 % of the time'
    bench.get_by_label("Complaint, in the owner’s words").fill(complaint)
    with bench.expect_download() as saved:
        bench.get_by_role("button", name="Save as a file").click()
    assert saved.value.suggested_filename == "2026-0999.md"
    saved.value.save_as(tmp_path / "note.md")
    found = read_case("cases/2026-0999.md", (tmp_path / "note.md").read_bytes(), sample.vocabulary)
    assert found.problems == ()
    case = found.case
    assert case is not None
    assert (case.case, case.family, case.complaint) == ("2026-0999", "drover-22", complaint)
    assert case.received == dt.date.today()
    fault = case.faults[0]
    assert (fault.symptom, fault.seen, fault.absent) == (
        ("hum",),
        ("hum-when-warm",),
        ("squeal",),
    )
    assert [(made.check, made.outcome) for made in fault.checks] == [("tap-valves", "no-change")]
    assert "2026-0999" not in fragment(bench)
    assert "Hums" not in fragment(bench)


def test_a_check_that_did_not_show_the_fault_stays_noted_beside_a_later_outcome(
    site: Path, page: Page
) -> None:
    at(site, page, f"unit=drover-22&made=tap-valves:{NOT_SHOWING}")
    page.get_by_text("Another check was made").click()
    page.get_by_label("Find a check").fill("tap each valve")
    page.locator("#every-check .tick:visible").first.click()
    assert page.locator("#made li").count() == 2


def test_the_page_can_be_worked_by_the_keyboard_alone(bench: Page) -> None:
    def focused() -> str:
        found: str = bench.evaluate(
            "(document.activeElement.getAttribute('aria-label') || document.activeElement.id"
            " || document.activeElement.textContent).trim()"
        )
        return found

    def tab_to(name: str, most: int = 60) -> None:
        for _ in range(most):
            bench.keyboard.press("Tab")
            if name in focused():
                return
        raise AssertionError(f"no way to {name!r} by Tab")

    tab_to("family")
    bench.keyboard.type("Drover 22")
    tab_to("find-symptom")
    bench.keyboard.type("hum")
    bench.keyboard.press("Enter")
    assert focused().endswith(": there")
    bench.keyboard.press("Space")
    assert "unit=drover-22&there=" in fragment(bench)
    assert bench.locator("#on-card li").count() == 1
    said = bench.locator("#said").inner_text()
    assert said.startswith("Likeliest now: ")
    for _ in range(80):
        bench.keyboard.press("Tab")
        if bench.evaluate("document.activeElement.classList.contains('tick')"):
            break
    bench.keyboard.press("Enter")
    assert bench.locator("#made li").count() == 1
    assert focused() == "next-heading"
    assert bench.locator("#said").inner_text() != ""
    tab_to("start-note", 120)
    bench.keyboard.press("Enter")
    assert focused() == "note-case"
    bench.keyboard.type("2026-1")
    assert "case: 2026-1" in bench.locator("#note-text").input_value()


@pytest.mark.parametrize("width", [390, 320, 768])
def test_nothing_sticks_out_sideways_however_much_is_open(
    width: int, site: Path, page: Page
) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    at(
        site,
        page,
        "unit=drover-22&there=smoke,hum&not=crackle&made=tap-valves:no-change&access=open",
    )
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    page.get_by_label("Cover off, power on").check()
    page.get_by_role("button", name="Start a case note").click()
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_whatever_is_to_be_hit_is_large_enough_for_a_thumb(site: Path, page: Page) -> None:
    page.set_viewport_size({"width": 390, "height": 800})
    at(site, page, "unit=drover-22&there=hum&made=tap-valves:no-change")
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    small = page.evaluate(
        """[...document.querySelectorAll("main button, main select, main summary, main label:has(input), main input[type=search]")]
            .map(e => [e.textContent || e.id, e.getBoundingClientRect()])
            .filter(([_, box]) => box.width && (box.height < 44 || box.width < 44))
            .map(([name, box]) => [name, box.width, box.height])"""
    )
    assert small == []


def test_hostile_words_in_every_field_run_nothing(hostile: Path, page: Page) -> None:
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto((hostile / "bench.html").as_uri())
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    page.get_by_label("Find a symptom").fill("<img")
    for box in page.locator("#symptom-groups input:visible").all():
        box.check()
    page.get_by_label("Family").select_option(index=1)
    page.get_by_text("Another check was made").click()
    page.get_by_text("Another check was made").click()
    for place in range(page.locator("#every-check .tick").count()):
        page.locator("#every-check .tick").nth(place).dispatch_event("click")
    page.get_by_role("button", name="Start a case note").click()
    page.get_by_label("Complaint, in the owner’s words").fill("</textarea><script>x</script>")
    page.reload()
    assert "<script>" in page.locator("#worksheet").inner_text()
    assert page.locator("#worksheet script, #worksheet img, #worksheet [onload]").count() == 0
    assert page.evaluate("window.__pwned") is None
    assert complaints == []


def test_a_book_without_a_known_cause_says_that_there_is_nothing_to_go_by(
    page: Page, tmp_path: Path
) -> None:
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    write_site(InventedSource(hide=["root_cause"]), tmp_path, site_templates())
    at(tmp_path, page, "unit=heron-20&there=hum,smell-of-burning&made=swap-lead:cured&access=open")
    assert "nothing to go by" in page.locator("#likely-basis").inner_text()
    assert page.locator("#causes > li").count() == 0
    assert page.locator("#rest .value").all_inner_texts() == ["100\u202f%"]
    assert page.locator("#proposals .stands-out").count() == 1
    assert wrong == []


def test_a_hostile_address_is_never_shown_as_markup(site: Path, page: Page) -> None:
    for text in ("<img src=x onerror=window.__pwned=1>", "javascript:window.__pwned=1", "\u202e"):
        at(site, page, f"unit={quote(text)}&there={quote(text)}&made={quote(text)}:{quote(text)}")
        assert page.locator("#worksheet img").count() == 0
        assert page.locator("#on-card li").count() == 0
    assert page.evaluate("window.__pwned") is None


def test_without_scripts_the_page_says_so_and_names_the_command(
    site: Path, browser: Browser
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((site / "bench.html").as_uri())
    assert "benchbook diagnose" in page.inner_text("noscript")
    assert not page.locator("#worksheet").is_visible()
    context.close()


def test_links_within_the_page_leave_the_sheet_in_the_address(site: Path, page: Page) -> None:
    at(site, page, "unit=drover-22&there=hum")
    page.get_by_role("link", name="How these figures come about").click()
    assert fragment(page) == "unit=drover-22&there=hum"
    assert page.evaluate("document.activeElement.id") == "method"
    page.locator(".skip").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**#unit=drover-22&there=hum")
