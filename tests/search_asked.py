"""Asking the search page in a browser, and reading what it shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from playwright.sync_api import Page

ASKED = """async questions => {
    const box = document.getElementById("question"), form = document.querySelector("form.ask");
    const found = [];
    for (const question of questions) {
        const settled = new Promise(done => {
            const watch = new MutationObserver(() => {
                if (form.getAttribute("aria-busy") === "false") { watch.disconnect(); done(); }
            });
            watch.observe(form, {attributes: true, attributeFilter: ["aria-busy"]});
        });
        box.value = question;
        box.dispatchEvent(new Event("input"));
        form.requestSubmit();
        await settled;
        const perhaps = document.querySelector(".perhaps button");
        found.push([
            [...document.querySelectorAll(".hits .number")].map(e => e.textContent),
            document.querySelector(".told").textContent, perhaps ? perhaps.textContent : null,
        ]);
    }
    return found;
}"""


class Shown(Struct, frozen=True):
    """What a page shows for a finished question."""

    cases: list[str]
    total: int
    suggestion: str | None


def ask(page: Page, question: str) -> None:
    """Type a question and wait for its hits."""
    page.get_by_label("Search the cases").fill(question)
    settle(page)


def settle(page: Page) -> None:
    """Wait until the page has worked out what it was asked."""
    page.locator("form.ask[aria-busy=false]").wait_for()


def hits(page: Page) -> list[str]:
    """The numbers of the cases that are shown, in order."""
    settle(page)
    return page.locator(".hits .number").all_text_contents()


def shown_for(page: Page, questions: Sequence[str]) -> list[Shown]:
    """What is shown for each of some questions once Enter was pressed."""
    return [
        Shown(cases, _total(told), suggestion)
        for cases, told, suggestion in page.evaluate(ASKED, list(questions))
    ]


def _total(told: str) -> int:
    first = told.split(" ")[0]
    return int(first) if first.isdigit() else 0
