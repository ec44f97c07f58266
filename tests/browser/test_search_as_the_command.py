"""The search page finds what `benchbook search` finds, in the same order."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from search_asked import Shown, settle, shown_for

from kb.book import Book
from kb.errors import QuestionError

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

QUESTIONS = 200
SHOWN = 30
NUMBERS = ("100 Hz", "47k", "312 V", "2024", "5 A fuse", "12AX7", "18 V at 100 Hz", "0.1 uF")


def drawn_questions(book: Book, seed: int) -> Iterator[str]:
    """Words of the notes, misspelt ones, names of symptoms, numbers, long complaints, phrases."""
    draw = random.Random(seed)
    cases = book.cases()
    words = [word for c in cases for word in f"{c.complaint} {c.body}".split()]
    names = [name for s in book.vocabulary.symptoms.values() for name in (s.label, *s.also, s.key)]

    def some(count: int) -> str:
        return " ".join(draw.choice(words) for _ in range(count))

    def misspelt(word: str) -> str:
        at = draw.randrange(len(word))
        letter = draw.choice("abcdefghijklmnopqrstuvwxyz")
        return draw.choice((word[:at] + word[at + 1 :], word[:at] + letter + word[at:]))

    while True:
        yield some(draw.randint(1, 5))
        yield " ".join(misspelt(draw.choice(words)) for _ in range(draw.randint(1, 3)))
        yield draw.choice(names)
        yield f"{draw.choice(names)} {some(2)}"
        yield f"{draw.choice(NUMBERS)} {some(1)}"
        yield f"{draw.choice(cases).case} {some(1)}"
        yield " ".join(draw.choice(cases).complaint.split()[:14])
        body = [w for w in draw.choice(cases).body.replace('"', "").split() if w]
        at = draw.randrange(max(1, len(body) - 3))
        yield f'"{" ".join(body[at : at + draw.randint(2, 3)])}" {some(1)}'
        yield f"no {draw.choice(names)}, but {draw.choice(names)} after ten minutes"


def told(book: Book, question: str, **filters: object) -> Shown:
    try:
        answer = book.search(question, limit=SHOWN, **filters)  # type: ignore[arg-type]
    except QuestionError:
        return Shown([], 0, None)
    return Shown([hit.case for hit in answer.hits], answer.total, answer.suggestion)


def test_order_total_and_suggestion_are_those_of_the_command_on_random_questions(
    sample: Book, sample_site: Path, page: Page
) -> None:
    asked = [q for q, _ in zip(drawn_questions(sample, 11), range(QUESTIONS), strict=False)]
    page.goto((sample_site / "search.html").as_uri())
    shown = shown_for(page, asked)
    assert sum(bool(one.cases) for one in shown) > QUESTIONS / 2
    wanted = [told(sample, question) for question in asked]
    assert [(q, s) for q, s in zip(asked, shown, strict=True)] == [
        (q, w) for q, w in zip(asked, wanted, strict=True)
    ]


def test_filters_keep_what_those_of_the_command_keep(
    sample: Book, sample_site: Path, page: Page
) -> None:
    draw = random.Random(5)
    words = sample.vocabulary
    questions = drawn_questions(sample, 12)
    page.goto((sample_site / "search.html").as_uri())
    found = 0
    for _ in range(40):
        chosen = {
            "family": draw.choice(sorted(words.families)),
            "symptom": draw.choice(sorted(words.symptoms)),
            "cause": draw.choice(sorted(words.causes)),
            "since": str(draw.randint(2020, 2026)),
        }
        for name in draw.sample(sorted(chosen), draw.randint(2, 3)):
            del chosen[name]
        question = f"{next(questions)} valve noise"
        page.evaluate("hash => { location.hash = hash; }", "&".join(
            f"{name}={value.replace('/', '%2F')}" for name, value in chosen.items()
        ))  # fmt: skip
        settle(page)
        (shown,) = shown_for(page, [question])
        since = chosen.pop("since", None)
        filters: dict[str, object] = dict(chosen)
        if since:
            filters["since"] = dt.date(int(since), 1, 1)
        assert (question, chosen, shown) == (question, chosen, told(sample, question, **filters))
        found += bool(shown.cases)
    assert found > 10
