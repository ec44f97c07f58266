"""Study: what the browser says a past book would have said, and an end that stays hidden."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import log2
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from msgspec.structs import replace
from study_books import hostile_book, source, visit

from kb.bench_tables import tallies_of
from kb.book import Book
from kb.facts import records_of
from kb.faults.experience import Experience, experience_of
from kb.faults.next_checks import next_checks
from kb.faults.ranking import rank
from kb.faults.replay.past import Past
from kb.indexing import Index
from kb.learning import lineage, strengths_in, symptom_parents
from kb.notes.case import Case, Fault
from kb.notes.vocabulary import Vocabulary
from kb.on_the_bench import bench_for
from kb.resources import site_templates
from kb.site import write_site
from kb.site.redaction import without
from kb.text.recognise import Recognised
from kb.values import Evidence, FaultRecord

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

_UNSAID = Recognised((), (), ())
LOADED = """async () => {
    const load = src => new Promise((done, failed) => {
        const script = document.createElement("script");
        script.src = src; script.onload = done; script.onerror = failed;
        document.head.append(script);
    });
    for (const src of document.getElementById("desk").dataset.scripts.split(" ")) await load(src);
    const most = Math.max(...studyData.cases.map(row => row[6]));
    for (let at = 0; at * studyData.toldPart < studyData.cases.length; at += 1)
        await load("data/study/told/" + at + ".js");
    for (let at = 0; at * studyData.pastPart < most; at += 1)
        await load("data/study/past/" + at + ".js");
}"""
SAID = """wanted => {
    const tables = benchTables;
    return wanted.map(at => {
        const row = studyData.cases[at], found = [];
        const story = studyData.told[Math.floor(at / studyData.toldPart)][at % studyData.toldPart];
        const past = reckoning.asItWas(tables, i =>
            studyData.past[Math.floor(i / studyData.pastPart)][i % studyData.pastPart], row[6]);
        const book = reckoning.book(past.tables), bench = reckoning.nextChecks(past.tables, book);
        for (let made = 0; made <= story[5].length; made += 1) {
            const question = {
                family: row[2], there: made ? story[1].concat(story[2]) : story[1],
                absent: made ? story[3] : [], access: 2,
                made: story[5].slice(0, made).map(step => [step[0], step[1]])
            };
            const ranking = book.rank(question), next = bench.next(question, ranking);
            found.push({
                causes: ranking.order.map(place => [
                    past.tables.causes[place][0], ranking.p[place], ranking.low[place], ranking.high[place]]),
                unseen: ranking.unseen, comesAndGoes: next.comesAndGoes,
                checks: next.checks.map(offer => [tables.checks[offer.check][0], offer.expected.told])
            });
        }
        return { name: row[0], fault: row[1], known: row[6], stages: found, faults: past.tables.figures.faults };
    });
}"""


class PastBook:
    """A book cut off before a day, counted in Python from the published cases."""

    def __init__(self, book: Book) -> None:
        def learnt(index: Index) -> Any:
            with index.store.reading() as connection:
                return strengths_in(connection)

        self.words: Vocabulary = book.vocabulary
        self.strengths = book._answer(learnt)
        self.cases = {c.case: without(c, book.settings.hide) for c in book.cases()}

        self.usual = tallies_of(
            r for c in self.cases.values() for r in records_of(c, self.words, _UNSAID)
        ).minutes

    def before(self, case: Case) -> list[FaultRecord]:
        return [
            record
            for other in self.cases.values()
            if other.finished and max(other.finished, other.received) < case.received
            for record in records_of(other, self.words, _UNSAID)
        ]

    def experience(self, records: Sequence[FaultRecord]) -> Experience:
        counts = tallies_of(records).counts
        return experience_of(
            counts, lineage(self.words), symptom_parents(self.words), self.strengths
        )

    def proposed(
        self, experience: Experience, records: Sequence[FaultRecord], evidence: Evidence
    ) -> list[tuple[str, float]]:
        """The checks to make with power on allowed, best first, with what each would tell."""
        tallies = replace(
            tallies_of(records), minutes=self.usual
        )  # those of today, as the page says
        bench = bench_for(
            tallies, self.words, evidence.family, evidence.symptoms, evidence.checks, "live"
        )
        found = next_checks(experience, rank(experience, evidence), bench, limit=1000).checks
        return [(check.check, check.bits) for check in found if not check.first]

    def past(self, records: Sequence[FaultRecord]) -> Past:
        known = [record for record in records if record.cause]
        held = Past((r.cause for r in known), lineage(self.words), symptom_parents(self.words))
        held.strengths = self.strengths
        for record in known:
            held.add(record)
        return held

    @staticmethod
    def asked(case: Case, fault: Fault, made: int) -> Evidence:
        return Evidence(
            family=case.family,
            symptoms=(*fault.symptom, *fault.seen) if made else fault.symptom,
            absent=fault.absent if made else (),
            checks=tuple((check.check, check.outcome) for check in fault.checks[:made]),
        )


@pytest.fixture
def study(sample_site: Path, page: Page) -> Iterator[Page]:
    """The page of study, opened; whatever it complains of or asks for fails the test."""
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(said.text))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on(
        "request",
        lambda asked: asked.url.startswith(sample_site.as_uri()) or wrong.append(asked.url),
    )
    page.goto((sample_site / "study.html").as_uri())
    yield page
    assert wrong == []


def listed(site: Path) -> list[list[Any]]:
    text = (site / "data/study/list.js").read_text("ascii")
    found: list[list[Any]] = json.loads(text.removeprefix("var studyData = ")[:-2])["cases"]
    return found


def test_each_step_is_ranked_as_by_the_book_cut_off_before_the_case_came_in(
    sample: Book, sample_site: Path, study: Page
) -> None:
    study.evaluate(LOADED)
    told = study.evaluate(SAID, list(range(0, len(listed(sample_site)), 2)))
    assert len(told) >= 30
    book = PastBook(sample)
    for one in told:
        case = book.cases[one["name"]]
        fault = case.faults[max(one["fault"] - 1, 0)]
        records = book.before(case)
        assert len(records) == one["known"]
        assert sum(bool(record.cause) for record in records) == one["faults"]
        experience, held = book.experience(records), book.past(records)
        assert len(one["stages"]) == len(fault.checks) + 1
        for made, said in enumerate(one["stages"]):
            evidence = book.asked(case, fault, made)
            answer = rank(experience, evidence)
            assert [row[0] for row in said["causes"]] == [cause.cause for cause in answer.causes]
            for row, cause in zip(said["causes"], answer.causes, strict=True):
                assert row[1:] == pytest.approx(
                    [cause.probability, *cause.interval], abs=1e-6, rel=0
                )
            assert said["unseen"] == pytest.approx(answer.unseen, abs=1e-6, rel=0)
            if one is told[0] or one["fault"]:
                proposed = book.proposed(experience, records, evidence)
                assert [row[0] for row in said["checks"]] == [check for check, _ in proposed]
                assert [row[1] for row in said["checks"]] == pytest.approx(
                    [bits for _, bits in proposed], abs=1e-6, rel=0
                )
            # The arithmetic of a replay is another; it has to say the same.
            replayed = held.ask(evidence)
            assert said["unseen"] == pytest.approx(float(replayed[-1]), abs=1e-6, rel=0)
            for key, p, *_ in said["causes"]:
                assert p == pytest.approx(float(replayed[held.at[key]]), abs=1e-6, rel=0)


def begin(site: Path, page: Page, number: str) -> None:
    page.goto(f"{(site / 'study.html').as_uri()}?case={number}")
    page.locator(".entry").wait_for()


def answer(page: Page, cause: str | None = None, sure: int | None = None) -> None:
    """Write an answer down: a cause by its key, and any check."""
    lines = page.locator(".entry select")
    if cause:
        lines.first.select_option(cause)
    elif not lines.first.input_value():
        lines.first.select_option(index=1)
    if sure is not None:
        page.locator(".entry input[type=range]").first.fill(str(sure))
    if page.locator("#next-check").count():
        page.locator("#next-check").select_option(index=1)
    page.get_by_role("button", name="Write it down").click()


@pytest.fixture(scope="module")
def told(sample: Book, sample_site: Path) -> tuple[str, Fault]:
    """A single fault with three checks or more, and symptoms found on the bench."""
    cases = {case.case: case for case in sample.cases()}
    for row in listed(sample_site):
        fault = cases[row[0]].faults[0]
        if not row[1] and len(fault.checks) >= 3 and fault.absent:
            return row[0], fault
    raise AssertionError("no such case")


def test_nothing_gives_the_end_away_before_it_is_reached(
    sample: Book, sample_site: Path, told: tuple[str, Fault], study: Page
) -> None:
    number, fault = told
    words = sample.vocabulary
    title = sample.case(number).title
    begin(sample_site, study, number)

    def shown() -> str:
        """All text but the choices, seen or not, and every attribute."""
        found: str = study.evaluate(
            """() => {
                const copy = document.documentElement.cloneNode(true);
                copy.querySelectorAll("option, script").forEach(part => part.remove());
                return copy.outerHTML + document.title + location.href;
            }"""
        )
        return found

    last = fault.checks[-1]
    labels = [words.checks[made.check].label for made in fault.checks]
    for made in range(len(fault.checks)):
        now = study.locator("#desk").inner_text()
        assert study.locator(".step").count() == made
        assert study.locator(".verdict, .it-was, .why-not, .costs").count() == 0
        assert f"cases/{number.lower()}.html" not in shown()
        steps = study.locator(".step h2").all_text_contents()
        assert [step.partition(": ")[2] for step in steps] == labels[:made]
        if last.note:
            assert last.note not in shown()
        if title != sample.case(number).complaint:
            assert title not in shown()
        assert "Looked for, not there".upper() not in now or made
        answer(study)
    assert study.locator(".verdict").count() == 0
    answer(study)
    assert words.causes[fault.root_cause or ""].label in study.locator(".verdict h2").inner_text()
    assert study.locator(".verdict a", has_text="The whole case").get_attribute("href") == (
        f"cases/{number.lower()}.html"
    )


def test_the_score_is_the_logarithm_of_what_was_given_to_the_real_cause(
    sample: Book, sample_site: Path, told: tuple[str, Fault], study: Page
) -> None:
    number, fault = told
    begin(sample_site, study, number)
    answer(study, fault.root_cause, sure=5)  # the fifth stop of the slider: 25 %
    for _ in range(len(fault.checks) - 1):
        answer(study)
    answer(study, sure=10)  # 50 %
    figures = [float(text) for text in study.locator(".costing .value").all_inner_texts()]
    mine, books = figures[0:-2:2], figures[1:-2:2]
    assert mine == [2.0] * len(fault.checks) + [1.0]
    assert figures[-2] == pytest.approx(sum(mine) / len(mine), abs=0.051)
    book = PastBook(sample)
    case = book.cases[number]
    past = book.experience(book.before(case))
    for made, cost in enumerate(books):
        said = rank(past, book.asked(case, fault, made))
        shares = {cause.cause: cause.probability for cause in said.causes}
        right = shares.get(fault.root_cause or "", said.unseen)
        assert cost == pytest.approx(-log2(right), abs=0.051)


def test_what_is_left_open_is_shared_out_as_the_book_would_share_it(study: Page) -> None:
    shares = (
        """([named, p, unseen, real]) => studyScore.shares(named, { p: p, unseen: unseen }, real)"""
    )
    # Two known causes with 0.5 and 0.3, 0.2 for the unseen; the reader gave 0.4 to the first.
    found = study.evaluate(shares, [[[0, 0.4, False]], [0.5, 0.3], 0.2, 1])
    assert found == {"mine": pytest.approx(0.6 * 0.3 / 0.5), "books": 0.3}
    assert study.evaluate(shares, [[], [0.5, 0.3], 0.2, 1])["mine"] == pytest.approx(0.3)
    assert study.evaluate(shares, [[[0, 0.4, False]], [0.5, 0.3], 0.2, -1])["mine"] == (
        pytest.approx(0.6 * 0.2 / 0.5)
    )
    # A cause that nobody had had can be named too.
    assert study.evaluate(shares, [[[-1, 0.4, True]], [0.5, 0.3], 0.2, -1]) == {
        "mine": 0.4,
        "books": 0.2,
    }
    # Whoever leaves everything open but a bit has all shares add up to one.
    whole = [
        study.evaluate(shares, [[[0, 0.4, at == 0]], [0.5, 0.3], 0.2, at]) for at in (0, 1, -1)
    ]
    assert sum(one["mine"] for one in whole) == pytest.approx(1)


def test_an_answer_needs_a_cause_and_a_check_and_never_more_than_the_whole(
    sample_site: Path, told: tuple[str, Fault], study: Page
) -> None:
    begin(sample_site, study, told[0])
    write = study.get_by_role("button", name="Write it down")
    write.click()
    assert "at least one cause" in study.locator(".missing-answer").inner_text()
    assert study.evaluate("document.activeElement.getAttribute('aria-label')") == "Likeliest: cause"
    for at, name in enumerate(("Likeliest", "Second", "Third")):
        study.get_by_label(f"{name}: cause").select_option(index=at + 2)
        study.locator(".entry input[type=range]").nth(at).fill("20")
    shares = study.locator(".sure .value").all_inner_texts()
    assert [int(share[:-2]) for share in shares] == [80, 15, 0] or sum(
        int(share[:-2]) for share in shares
    ) <= 99
    write.click()
    assert "check next" in study.locator(".missing-answer").inner_text()
    assert study.locator(".step").count() == 0


def test_progress_stays_in_the_browser_and_the_address_holds_the_case_alone(
    sample_site: Path, told: tuple[str, Fault], study: Page
) -> None:
    number, fault = told
    begin(sample_site, study, number)
    for _ in range(len(fault.checks)):
        answer(study)
        assert study.url.endswith(f"study.html?case={number}")
    study.reload()
    study.locator(".entry").wait_for()
    assert study.locator(".step").count() == len(fault.checks)
    answer(study)
    study.goto((sample_site / "study.html").as_uri())
    assert "1 fault studied" in study.locator("#tally").inner_text()
    assert study.locator(".study-cases .found", has_text="Studied").count() == 1
    begin_again = study.locator(".study-cases a").first.get_attribute("href") or ""
    assert "case=" in begin_again
    study.goto(f"{(sample_site / 'study.html').as_uri()}?case={number}")
    study.get_by_role("button", name="Study this one again").click()
    assert study.locator(".step, .verdict").count() == 0


def test_a_browser_that_keeps_nothing_is_told_so_and_the_case_goes_on(
    sample_site: Path, told: tuple[str, Fault], page: Page
) -> None:
    page.add_init_script(
        """for (const name of ["localStorage", "sessionStorage"])
            Object.defineProperty(window, name, { get() { throw new Error("not here"); } });"""
    )
    begin(sample_site, page, told[0])
    assert page.locator("#not-kept").is_visible()
    answer(page)
    assert page.locator(".step").count() == 1
    page.goto((sample_site / "study.html").as_uri())
    page.get_by_label("Comes and goes").check()
    assert page.locator("#not-kept").is_visible()


def test_answers_that_a_changed_book_does_not_know_are_left_out(
    sample_site: Path, told: tuple[str, Fault], study: Page
) -> None:
    begin(sample_site, study, told[0])
    answer(study)
    study.evaluate(
        """() => { for (const key of Object.keys(localStorage)) localStorage.setItem(key,
            localStorage.getItem(key).replace(/"named":\\[\\["[^"]+"/, '"named":[["gone/away"')); }"""
    )
    study.reload()
    study.locator(".entry").wait_for()
    assert study.locator(".step").count() == 0


def test_a_case_is_studied_by_keyboard_alone_and_the_focus_moves_to_the_new_step(
    sample_site: Path, told: tuple[str, Fault], study: Page
) -> None:
    begin(sample_site, study, told[0])
    assert study.evaluate("document.activeElement.tagName") == "H1"

    def tab_to(what: str) -> None:
        for _ in range(40):
            study.keyboard.press("Tab")
            if study.evaluate("what => document.activeElement.matches(what)", what):
                return
        raise AssertionError(f"no way to {what}")

    tab_to(".entry select")
    study.keyboard.press("ArrowDown")
    tab_to(".entry input[type=range]")
    before = study.locator(".sure .value").first.inner_text()
    study.keyboard.press("ArrowRight")
    assert study.locator(".sure .value").first.inner_text() != before
    tab_to("#next-check")
    study.keyboard.press("ArrowDown")
    tab_to(".entry button")
    study.keyboard.press("Enter")
    assert study.evaluate("document.activeElement.closest('.step') !== null")
    assert study.evaluate("document.activeElement.tagName") == "H2"
    assert study.locator("#said").inner_text().startswith("Step 1: ")
    levels = study.evaluate(
        "Array.from(document.querySelectorAll('#desk h1, #desk h2, #desk h3')).map(h => +h.tagName[1])"
    )
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_a_step_with_the_cover_off_carries_its_cautions(
    sample: Book, sample_site: Path, study: Page
) -> None:
    words, cases = sample.vocabulary, {case.case: case for case in sample.cases()}
    for row in listed(sample_site):
        case = cases[row[0]]
        levels = [words.access_needed(made.check, case.family) for made in case.faults[0].checks]
        if not row[1] and "live" in levels:
            break
    begin(sample_site, study, case.case)
    for _ in levels:
        answer(study)
    step = study.locator(".step").nth(levels.index("live"))
    assert step.locator("[role=note]").count() == 1
    assert step.locator("a[href='safety.html#live']").count() >= 1
    assert "high-voltage" not in step.inner_text()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_on_a_telephone_nothing_is_cut_off_and_targets_are_large(
    scheme: Any, sample_site: Path, told: tuple[str, Fault], page: Page
) -> None:
    page.set_viewport_size({"width": 390, "height": 800})
    page.emulate_media(color_scheme=scheme)
    begin(sample_site, page, told[0])
    for _ in range(len(told[1].checks) + 1):
        small = page.evaluate(
            """Array.from(document.querySelectorAll(
                ".entry select, .entry button, .entry .sure, .study .buttons > *"))
                .map(one => [one.className, one.getBoundingClientRect()])
                .filter(([, box]) => box.width && (box.height < 44 || box.width < 44))
                .map(([name, box]) => [name, box.width, box.height])"""
        )
        assert small == []
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        answer(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_paper_gets_the_steps_told_so_far(
    sample_site: Path, told: tuple[str, Fault], page: Page
) -> None:
    begin(sample_site, page, told[0])
    answer(page)
    page.emulate_media(media="print")
    assert page.locator(".step").first.is_visible()
    assert page.locator(".jobcard").is_visible()
    assert not page.locator(".entry").is_visible()
    assert not page.locator(".method").is_visible()


def test_the_collections_hold_their_cases_and_the_list_names_no_end(
    sample: Book, sample_site: Path, study: Page
) -> None:
    rows = listed(sample_site)
    study.get_by_label("Made by an earlier repair").check()
    shown = study.locator(".study-cases .number").all_inner_texts()
    assert shown == [row[0] for row in rows if 2 in row[5]]
    cases = {case.case: case for case in sample.cases()}
    assert all(
        any(fault.brought_on_by == "earlier-repair" for fault in cases[number].faults)
        for number in shown
    )
    study.get_by_label("All of them").check()
    while study.locator("#more-cases").is_visible():
        study.locator("#more-cases").click()
    assert study.locator(".study-cases > li").count() == len(rows)
    text = study.locator("#choose").inner_text()
    assert not [c.label for c in sample.vocabulary.causes.values() if c.label in text]


@pytest.mark.parametrize(
    "address", ["?case=no-such", "?case=", "?case=%3Cimg%20src%3Dx%3E", "?x", "#y"]
)
def test_an_address_that_names_no_case_shows_the_list(
    address: str, sample_site: Path, study: Page
) -> None:
    study.goto((sample_site / "study.html").as_uri() + address)
    assert study.locator("#study-cases > li").count() > 0
    assert study.locator("main img").count() == 0


def test_without_scripts_the_page_says_so_and_leads_to_the_cases(
    sample_site: Path, browser: Browser
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((sample_site / "study.html").as_uri())
    assert page.locator("noscript a[href='cases.html']").count() == 1
    assert not page.locator("#chooser").is_visible()
    context.close()


def test_hostile_words_run_nothing(page: Page, tmp_path: Path) -> None:
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    write_site(hostile_book(), tmp_path, site_templates())
    page.goto((tmp_path / "study.html").as_uri())
    assert page.locator(".study-cases > li").count() == 10
    begin(tmp_path, page, "N0025")
    for _ in range(3):
        answer(page)
    assert "<script>" in page.locator(".verdict").inner_text()
    assert page.locator("#desk script, #desk img, #desk [onload], #desk [onerror]").count() == 0
    assert page.locator("#desk a[href^='javascript']").count() == 0
    assert page.evaluate("window.__pwned") is None
    assert complaints == []


def test_a_missing_file_is_said_plainly(page: Page, tmp_path: Path) -> None:
    write_site(source(visit(n) for n in range(25)), tmp_path, site_templates())
    (tmp_path / "data/study/past/0.js").unlink()
    page.goto(f"{(tmp_path / 'study.html').as_uri()}?case=N0024")
    page.get_by_text("A file of this site is missing").wait_for()
