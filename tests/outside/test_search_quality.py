"""How good the order of the hits is, on judged questions: a floor for the ranking.

Sources: M. D. Lee, B. Pincombe, M. Welsh, "An empirical evaluation of models of text document
similarity" (Proceedings of the Cognitive Science Society, 2005), in the files that gensim carries;
nDCG after K. Järvelin, J. Kekäläinen, "Cumulated gain-based evaluation of IR techniques" (2002).
The questions on the sample book are this project's own (tests/benchmarks/judged_queries.yaml): no
outside source. `tests/benchmarks/search_quality.py` prints the whole tables.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
from benchmarks.judged_sets import JudgedSet, lee, sample_book, text_of
from benchmarks.search_peers import fts5

from kb.book import Book
from kb.text import TextIndex, parse

LEAST_ON_OWN_QUESTIONS = 0.84
"""A little under what docs/search.md tells."""


def ndcg_at_10(found: Sequence[str], wants: Mapping[str, int]) -> float:
    def gain(grades: Sequence[int]) -> float:
        return sum(grade / math.log2(place + 2) for place, grade in enumerate(grades[:10]))

    return gain([wants.get(name, 0) for name in found]) / gain(sorted(wants.values(), reverse=True))


def test_the_measure_gives_the_value_of_a_list_worked_out_by_hand() -> None:
    # found: grades 0, 2, 1; ideal: 2, 1
    found = ndcg_at_10(["x", "a", "b"], {"a": 2, "b": 1})
    assert found == pytest.approx((2 / math.log2(3) + 1 / 2) / (2 + 1 / math.log2(3)))


@pytest.fixture(scope="module")
def rated() -> JudgedSet:
    found = lee()
    if found is None:
        pytest.skip("the rated texts come with gensim, which is not installed")
    return found


def test_texts_that_people_found_alike_stand_as_high_as_with_fts5(
    rated: JudgedSet, tmp_path: Path
) -> None:
    ours, theirs = [], []
    for number, collection in enumerate(rated.collections):
        index = TextIndex.open(tmp_path / str(number))
        index.rebuild(collection.documents, "test")
        rank = fts5({document.case: text_of(document) for document in collection.documents})
        for one in collection.asked:
            hits = index.best(parse(one.text), 10, feedback=True)[1]
            ours.append(ndcg_at_10([hit.case for hit in hits], one.wants))
            theirs.append(ndcg_at_10(rank(one.text), one.wants))
        index.close()
    assert sum(ours) / len(ours) >= sum(theirs) / len(theirs) - 0.01


def test_questions_to_the_sample_book_find_the_cases_that_answer_them(sample: Book) -> None:
    (collection,) = sample_book(sample).collections
    values = [
        ndcg_at_10([hit.case for hit in sample.search(one.text).hits], one.wants)
        for one in collection.asked
    ]
    assert len(values) >= 40
    assert sum(values) / len(values) >= LEAST_ON_OWN_QUESTIONS
