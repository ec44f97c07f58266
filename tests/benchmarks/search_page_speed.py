"""The site's search page at ten thousand cases beside two general search libraries; prints a table.

    python tests/benchmarks/search_page_speed.py --libraries FOLDER [--notes 10000] [--seed 1]
        [--book BOOK --cache CACHE] [--questions 40]

FOLDER holds the two libraries as their packages bring them for browsers: `minisearch.js` (from
`npm pack minisearch`, the file dist/umd/index.js) and `flexsearch.js` (from `npm pack flexsearch`,
dist/flexsearch.bundle.min.js). Without it only the own page is measured. The book is generated
by its seed unless BOOK names one of `generated_book.py`. Needs Playwright and `chromium`.

All run in the same browser on the same cases, from files. The libraries get each case as one
record of number, title, complaint and the words of everything else that is searched here, and are
set up as their manuals propose for a search while typing: prefixes and slips allowed, titles
weighing more. Each builds its index in the browser when the page opens, as a page without a
server of its own has to unless it ships a finished index; what it ships is the records.

A latency goes from a key to the first hits in the page, laid out. `cold` is the first question after
the page was opened; `MB open` is read before anything can be typed, `MB read` in all. Questions are complaints as another owner may put them: a third of the words
left out, one misspelt. The generator gives many cases the same complaint, so the planted right case is
any that has the complaint the words were taken from; the last column counts cases with the same
symptoms and causes instead, which the words alone can tell only now and then.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from generated_book import write_book
from playwright.sync_api import Browser, Page, sync_playwright

from kb.book import Book
from kb.intake import document_of
from kb.notes.case import Case

FIRST = 5
TYPED = 3
"""questions that are typed letter by letter"""
SETTLE = 5_000
"""milliseconds from the first question to the next"""
LIBRARIES = ("minisearch", "flexsearch")
MISSING = """{file} is not there. Fetch it with
    npm pack {name} && tar xzf {name}-*.tgz
and copy {place} to {file}."""
PLACES = {
    "minisearch": "package/dist/umd/index.js",
    "flexsearch": "package/dist/flexsearch.bundle.min.js",
}

PEER_PAGE = """<!doctype html><meta charset="utf-8"><title>{name}</title>
<input id="question"><ol id="hits"></ol>
<script>window.opened = performance.now();</script>
<script src="{library}"></script><script src="records.js"></script>
<script src="{name}-page.js"></script>"""

MINISEARCH = """
const index = new MiniSearch({fields: ["number", "title", "complaint", "rest"], storeFields: ["title"],
  searchOptions: {prefix: true, fuzzy: 0.2, boost: {title: 3, complaint: 2}}});
index.addAll(records);
const find = question => index.search(question).slice(0, 10).map(hit => hit.id);
"""
FLEXSEARCH = """
const index = new FlexSearch.Document({tokenize: "forward", document: {id: "id",
  index: ["complaint", "title", "number", "rest"]}, encoder: FlexSearch.Charset.LatinBalance});
records.forEach(record => index.add(record));
const find = question => {
  const found = index.search(question, {limit: 10, suggest: true}), seen = new Set();
  found.forEach(field => field.result.forEach(id => seen.add(id)));
  return [...seen].slice(0, 10);
};
"""
PEER_TAIL = """
const box = document.getElementById("question"), list = document.getElementById("hits");
box.addEventListener("input", () => {
  list.replaceChildren(...find(box.value).map(id => {
    const item = document.createElement("li");
    item.dataset.case = records[id].number;
    item.textContent = records[id].number + " " + records[id].title;
    return item;
  }));
});
window.ready = performance.now();
"""
TIMED = """([question, own]) => new Promise(done => {
  const box = document.getElementById("question"), form = document.querySelector("form.ask");
  const start = performance.now();
  const finish = () => {
    document.body.getBoundingClientRect();
    const took = performance.now() - start;
    const numbers = own ? [...document.querySelectorAll(".hits .number")].map(e => e.textContent)
      : [...document.querySelectorAll("#hits li")].map(e => e.dataset.case);
    done([took, numbers.slice(0, 10)]);
  };
  if (own) {
    const watch = new MutationObserver(() => { watch.disconnect(); finish(); });
    watch.observe(form.querySelector(".told"), {childList: true, characterData: true});
  }
  box.value = question;
  box.dispatchEvent(new Event("input"));
  if (!own) { finish(); }
})"""


def records_of(book: Book, cases: Sequence[Case]) -> list[dict[str, object]]:
    """Each case as one record with the words that the own index searches."""
    found: list[dict[str, object]] = []
    for place, case in enumerate(cases):
        document = document_of(case, book.vocabulary)
        rest = (*document.symptoms, *document.causes, *document.family, document.body)
        found.append(
            {
                "id": place,
                "number": case.case,
                "title": case.title,
                "complaint": case.complaint,
                "rest": "\n".join((*rest, *document.also)),
            }
        )
    return found


def questions_of(cases: Sequence[Case], count: int, draw: random.Random) -> list[tuple[str, Case]]:
    """Complaints as another owner may put them: a third of the words gone, one misspelt."""
    found = []
    likely = [case for case in cases if len(case.complaint.split()) >= 6 and case.root_causes]
    for _ in range(count):
        case = draw.choice(likely)
        words = [w.replace('"', "") for w in case.complaint.split() if draw.random() < 2 / 3][:14]
        long = [at for at, word in enumerate(words) if len(word) > 4]
        if long:
            at = draw.choice(long)
            slip = draw.randrange(1, len(words[at]) - 1)
            words[at] = words[at][:slip] + words[at][slip + 1 :]
        found.append((" ".join(words) or case.complaint, case))
    return found


def same_fault(case: Case, other: Case) -> bool:
    """Whether two cases have the same symptoms and causes."""
    return set(case.symptoms) == set(other.symptoms) and case.root_causes == other.root_causes


def typed(question: str) -> list[str]:
    """The states of the box while a question is typed, letter by letter."""
    return [question[:end] for end in range(1, len(question) + 1)]


def measured(
    browser: Browser, address: str, own: bool, asked: Sequence[tuple[str, Case]], cases: Any
) -> list[str]:
    """One row of the table."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.set_default_timeout(600_000)
    size = page_bytes(page, address)
    page.goto(address)
    ready = "performance.now()" if own else "window.ready"
    loaded = float(page.evaluate(ready))
    opened = size() / 1e6
    page.evaluate("document.getElementById('question').focus()")
    cold = float(page.evaluate(TIMED, ["hum when cold", own])[0])
    page.wait_for_timeout(SETTLE)  # whoever turns to the box reads what it asks for first
    keys: list[float] = []
    for question, _ in asked[:TYPED]:
        keys += [float(page.evaluate(TIMED, [part, own])[0]) for part in typed(question)]
    whole: list[float] = []
    said = right = 0
    for question, planted in asked:
        took, numbers = page.evaluate(TIMED, [f"{question} ", own])
        whole.append(float(took))
        first = [cases[number] for number in numbers[:FIRST]]
        said += any(case.complaint == planted.complaint for case in first)
        right += any(same_fault(case, planted) for case in first)
    read = size() / 1e6
    page.close()
    return [
        f"{loaded:,.0f}",
        f"{opened:,.1f}",
        f"{read:,.1f}",
        f"{cold:.0f}",
        *(f"{at(keys, part):.0f}" for part in (0.5, 0.95)),
        *(f"{at(whole, part):.0f}" for part in (0.5, 0.95)),
        f"{said / len(asked):.0%}",
        f"{right / len(asked):.0%}",
    ]


def page_bytes(page: Page, address: str) -> Any:
    """Counts the bytes of the files that the page asks for."""
    total: dict[str, int] = {}

    def note(request: Any) -> None:
        file = Path(request.url.removeprefix("file://").split("#")[0].replace("%20", " "))
        if file.is_file():
            total[str(file)] = file.stat().st_size

    page.on("request", note)
    return lambda: sum(total.values())


def at(times: Sequence[float], part: float) -> float:
    """A quantile of some times."""
    return sorted(times)[min(int(part * len(times)), len(times) - 1)]


def peer_pages(folder: Path, libraries: Path, records: list[dict[str, object]]) -> dict[str, Path]:
    """A page for each library that is there."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "records.js").write_text(f"const records = {json.dumps(records)};", "utf-8")
    made = {}
    for name, setup in zip(LIBRARIES, (MINISEARCH, FLEXSEARCH), strict=True):
        file = libraries / f"{name}.js"
        if not file.is_file():
            print(MISSING.format(file=file, name=name, place=PLACES[name]))
            continue
        shutil.copy(file, folder / file.name)
        (folder / f"{name}-page.js").write_text(setup + PEER_TAIL, "utf-8")
        page = folder / f"{name}.html"
        page.write_text(PEER_PAGE.format(name=name, library=file.name), "utf-8")
        made[name] = page
    return made


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--libraries", type=Path)
    options.add_argument("--notes", type=int, default=10_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--questions", type=int, default=40)
    options.add_argument("--book", type=Path)
    options.add_argument("--cache", type=Path)
    options.add_argument("--site", type=Path, help="a site of the book that is there already")
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as made:
        work = Path(made)
        folder = chosen.book or work / "book"
        if not chosen.book:
            write_book(folder, chosen.notes, seed=chosen.seed)
        with Book.open(folder, chosen.cache or work / "cache") as book:
            book.index()
            site = chosen.site or work / "site"
            if not chosen.site:
                book.write_site(site)
            cases = book.cases()
            records = records_of(book, cases)
        by_number = {case.case: case for case in cases}
        asked = questions_of(cases, chosen.questions, random.Random(chosen.seed))
        pages = {"this search": (site / "search.html").resolve()}
        if chosen.libraries:
            pages |= peer_pages(work / "peers", chosen.libraries, records)
        else:
            print("No --libraries: only the own page is measured; the head of this file says how.")
        print(f"{len(cases):,} cases, {len(asked)} questions\n")
        heads = ("ready", "MB open", "MB read", "cold", "key 50 %", "95 %", "asked 50 %", "95 %")
        heads += ("right in 5", "same fault")
        print(f"{'ms':<14}" + "".join(f"{head:>12}" for head in heads))
        with sync_playwright() as running:
            browser = running.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
            )
            for name, file in pages.items():
                own = name == "this search"
                row = measured(browser, file.as_uri(), own, asked, by_number)
                print(f"{name:<14}" + "".join(f"{cell:>12}" for cell in row), flush=True)
            browser.close()


if __name__ == "__main__":
    main()
