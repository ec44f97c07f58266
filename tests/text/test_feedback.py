"""What words of the first hits add to the scores."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.text import Document, Question, Scored, TextIndex, parse
from kb.text.feedback import PARTS, RARE, telling_words


@pytest.fixture
def index(tmp_path: Path) -> Iterator[TextIndex]:
    made = TextIndex.open(tmp_path / "text")
    made.rebuild(
        [
            Document("c1", title="hum", body="ripple on the reservoir, dried electrolytic"),
            Document("c2", title="hum", body="ripple from the reservoir"),
            Document(
                "c3", complaint="hum", body="dimmer at home, which is no fault of ours at all"
            ),
            Document(
                "c4", complaint="hum", body="ripple, and the reservoir is old, and no more is said"
            ),
            Document("c5", title="ripple", body="reservoir, and not a word of the question"),
        ],
        "1",
    )
    yield made
    made.close()


def ranked(index: TextIndex, question: Question, feedback: bool) -> list[Scored]:
    return index.best(question, 10, feedback=feedback)[1]


def test_cases_like_the_first_hits_move_up(index: TextIndex) -> None:
    question = parse("hum")
    plain = {hit.case: hit.score for hit in ranked(index, question, feedback=False)}
    fed = {hit.case: hit.score for hit in ranked(index, question, feedback=True)}
    assert fed["c4"] - plain["c4"] > fed["c3"] - plain["c3"]


def test_no_other_case_is_found(index: TextIndex) -> None:
    question = parse("hum")
    found = {hit.case for hit in ranked(index, question, feedback=True)}
    assert found == {hit.case for hit in index.search(question)} == {"c1", "c2", "c3", "c4"}


def test_a_filter_does_not_change_a_score(index: TextIndex) -> None:
    question = parse("hum")
    few = index.best(question, 10, {"c3", "c4"}, feedback=True)[1]
    assert few == [
        hit for hit in ranked(index, question, feedback=True) if hit.case in ("c3", "c4")
    ]


def test_a_question_that_finds_nothing_still_finds_nothing(index: TextIndex) -> None:
    assert index.best(parse("wow"), 10, feedback=True) == (0, [])


def test_the_likelier_and_the_rarer_word_gets_the_larger_share() -> None:
    # Two hits of equal score and length: "a" in both, "b" in one twice, "c" in one once.
    hits = [(1, 4, {"a": 1, "b": 2}), (1, 4, {"a": 1, "c": 1})]
    spread = {"a": 9, "b": 2, "c": 2}
    idf = {term: math.log(1 + (10 - n + 0.5) / (n + 0.5)) for term, n in spread.items()}
    weights = {"a": 2 * idf["a"], "b": 2 * idf["b"], "c": idf["c"]}
    total = sum(weights.values())
    assert telling_words(hits, spread.__getitem__, 10) == [
        (term, round(PARTS * weights[term] / total)) for term in ("b", "c", "a")
    ]


def test_a_word_of_one_case_alone_gets_no_share() -> None:
    assert telling_words([(1, 1, {"unit": 1})], lambda _: RARE - 1, 10) == []


def test_feedback_counts_the_documents_as_they_are_after_an_update(tmp_path: Path) -> None:
    old = [Document(f"a-{i}", body=f"hum ripple filter {i}") for i in range(6)]
    index = TextIndex.open(tmp_path / "index")
    index.rebuild(old, "1")
    index.best(parse("hum"), 10, feedback=True)
    new = [Document(f"b-{i}", body=f"ripple filter hum chassis {i}") for i in range(9)]
    index.update(new, ["a-1"], "2")
    updated = index.best(parse("hum"), 20, feedback=True)
    index.rebuild([*old[:1], *old[2:], *new], "3")
    assert index.best(parse("hum"), 20, feedback=True) == updated
    index.close()
