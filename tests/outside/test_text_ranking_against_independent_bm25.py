"""Ranking beside two independent BM25s: bm25s (Lù 2024) and SQLite's FTS5, and beside Whoosh's own.

The texts are the paragraphs of the Python language reference that every Python carries for its
`help()` (`pydoc_data.topics`): several hundred short technical texts that nobody wrote for this
test. All engines get the very same terms, so that only the ranking differs. The measured numbers
are told in docs/search.md; the floors here lie a little below them, because each version of Python
carries another edition of the texts.

Sources: X. H. Lù, "BM25S: Orders of magnitude faster lexical search via eager sparse scoring",
arXiv:2407.03618; https://www.sqlite.org/fts5.html, section "The bm25() function"; the formula of
Whoosh from its source, `whoosh/scoring.py` of version 2.7.4.
"""

from __future__ import annotations

import math
import sqlite3
from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path
from pydoc_data.topics import topics

import bm25s
import pytest
from whoosh import fields, index, query
from whoosh.analysis import SpaceSeparatedTokenizer
from whoosh.util.numeric import byte_to_length, length_to_byte

from kb.text import Document, TextIndex, parse
from kb.text.documents import weigh

FIRST = 10
K1, B = 1.2, 0.75
Answers = list[dict[str, float]]
"""For each question the score of every hit, best first, ties by case number."""

QUESTIONS = [
    parse(text)
    for text in """
    exception handler
    default argument values
    finally clause return
    class attribute lookup
    lambda expression
    augmented assignment target
    integer division rounding
    string formatting width precision
    generator yield value
    context manager exit
    raise exception from cause
    import module package path
    operator precedence
    comparison chaining
    slice step negative
    metaclass keyword
    descriptor set delete
    coroutine await
    global statement
    mutable sequence append
    dictionary key order
    boolean truth value
    debugger breakpoint condition
    decorator function definition
    unicode escape literal
    iterator stop
    weak reference slots
    pattern match guard
    numeric conversion complex
    hash equality
    when an instance is called like a function which special method of its class is looked up
    how are the names of the variables in an enclosing function bound when it returns
    """.strip().splitlines()
]


@pytest.fixture(scope="module")
def documents() -> list[Document]:
    """Paragraphs of 15 words or more, at most ten of a topic; the topic's name is the title."""
    found = []
    for topic, text in sorted(topics.items()):
        paragraphs = [p for p in text.split("\n\n") if len(p.split()) >= 15]
        for number, paragraph in enumerate(paragraphs[:10]):
            case = f"{topic}-{number:02d}"
            title = topic if number == 0 else ""
            found.append(Document(case=case, title=title, body=paragraph))
    return found


@pytest.fixture(scope="module")
def terms(documents: list[Document]) -> dict[str, list[str]]:
    """The terms of each document, each as often as it weighs: a word of the title three times."""
    return {doc.case: in_units(doc, 1) for doc in documents}


def in_units(document: Document, units: int) -> list[str]:
    """Every term of a document `units` times its weight, as plain repetition."""
    weights = weigh(document).terms.items()
    return [term for term, weight in weights for _ in range(int(units * weight))]


@pytest.fixture(scope="module")
def ours(documents: list[Document], tmp_path_factory: pytest.TempPathFactory) -> Answers:
    return ask_ours(documents, tmp_path_factory.mktemp("ours") / "index")


def ask_ours(documents: list[Document], folder: Path) -> Answers:
    made = TextIndex.open(folder)
    made.rebuild(documents, "outside")
    answers = [{hit.case: hit.score for hit in made.search(asked)} for asked in QUESTIONS]
    made.close()
    return answers


def ranked(scores: Mapping[str, float]) -> dict[str, float]:
    """Hits best first; scores that agree to five decimals are a tie."""
    return dict(sorted(scores.items(), key=lambda hit: (-round(hit[1], 5), hit[0])))


def overlap(some: Answers, others: Answers) -> float:
    """The mean share of the first ten of one that are among the first ten of the other."""
    shares = [
        len({*list(one)[:FIRST]} & {*list(other)[:FIRST]}) / min(FIRST, len(one))
        for one, other in zip(some, others, strict=True)
        if one
    ]
    return sum(shares) / len(shares)


# ---------------------------------------------------------------- bm25s


def ask_bm25s(terms: Mapping[str, list[str]], k1: float) -> Answers:
    # Lucene's variant leaves out the constant factor k1 + 1, which changes no order.
    engine = bm25s.BM25(method="lucene", k1=k1, b=B)
    engine.index(list(terms.values()), show_progress=False)
    answers = []
    for asked in QUESTIONS:
        known = [stem for stem in asked.word_stems if stem in engine.vocab_dict]
        scores = engine.get_scores(known) * (K1 + 1) if known else [0.0] * len(terms)
        hits = {case: float(score) for case, score in zip(terms, scores, strict=True)}
        answers.append(ranked({case: score for case, score in hits.items() if score}))
    return answers


def test_every_score_is_that_of_bm25s(terms: dict[str, list[str]], ours: Answers) -> None:
    theirs = ask_bm25s(terms, K1)
    for mine, expected in zip(ours, theirs, strict=True):
        assert mine == pytest.approx(expected, rel=1e-5)  # theirs are 32-bit floats
    assert overlap(ours, theirs) >= 0.99  # measured: 1.0


def test_half_weights_score_like_whole_ones_in_bm25s(
    documents: list[Document], tmp_path: Path
) -> None:
    # In half units everything is twice as long and as frequent: k1 doubles with it.
    some = [
        Document(doc.case, doc.title, family=(doc.case[:4],), also=(doc.case,), body=doc.body)
        for doc in documents[::4]
    ]
    theirs = ask_bm25s({doc.case: in_units(doc, 2) for doc in some}, 2 * K1)
    for mine, expected in zip(ask_ours(some, tmp_path / "index"), theirs, strict=True):
        assert mine == pytest.approx(expected, rel=1e-5)


# ---------------------------------------------------------------- SQLite FTS5


def test_the_first_ten_are_those_of_fts5(terms: dict[str, list[str]], ours: Answers) -> None:
    # FTS5 uses ln((N - n + 0.5)/(n + 0.5)), at least a millionth; k1 and b are the same.
    connection = sqlite3.connect(":memory:")
    try:
        connection.execute("CREATE VIRTUAL TABLE note USING fts5(name UNINDEXED, terms)")
    except sqlite3.OperationalError:
        connection.close()
        pytest.skip("this SQLite was built without FTS5")
    rows = ((case, " ".join(map(as_word, words))) for case, words in terms.items())
    connection.executemany("INSERT INTO note VALUES (?, ?)", rows)
    theirs = []
    for asked in QUESTIONS:
        hits = connection.execute(
            "SELECT name, -bm25(note) FROM note WHERE note MATCH ?",
            ["terms : (" + " OR ".join(map(as_word, asked.word_stems)) + ")"],
        )
        theirs.append(ranked(dict(hits.fetchall())))
    connection.close()
    for mine, other in zip(ours, theirs, strict=True):
        assert mine.keys() == other.keys()
    shared = overlap(ours, theirs)
    print(f"{len(terms)} texts, {len(QUESTIONS)} questions; FTS5: {shared:.4f}")
    assert shared >= 0.95  # measured: see docs/search.md


def as_word(term: str) -> str:
    """A term as something that any tokeniser takes for one word."""
    return "x" + term.encode().hex()


# ---------------------------------------------------------------- Whoosh as it comes


def ask_whoosh(
    terms: Mapping[str, list[str]], folder: Path, written_again: Mapping[str, list[str]]
) -> Answers:
    """Whoosh's own writer, searcher and BM25F over one field; some are written a second time."""
    folder.mkdir()
    schema = fields.Schema(
        case=fields.ID(stored=True, unique=True),
        terms=fields.TEXT(analyzer=SpaceSeparatedTokenizer(), phrase=False),
    )
    stock = index.create_in(str(folder), schema)
    writer = stock.writer()
    for case, words in terms.items():
        writer.add_document(case=case, terms=" ".join(words))
    writer.commit()
    for case, words in written_again.items():
        writer = stock.writer()
        writer.update_document(case=case, terms=" ".join(words))
        writer.commit()
    answers = []
    with stock.searcher() as searcher:
        for asked in QUESTIONS:
            wanted = query.Or([query.Term("terms", stem) for stem in asked.word_stems])
            hits = searcher.search(wanted, limit=None)
            answers.append(ranked({hit["case"]: hit.score for hit in hits}))
    stock.close()
    return answers


def bm25(
    terms: Mapping[str, list[str]],
    telling: Callable[[int, int], float],
    measured: Callable[[int], float],
) -> Answers:
    """BM25 written out, with a choice of inverse document frequency and of measured length."""
    counts = {case: Counter(words) for case, words in terms.items()}
    mean = sum(map(len, terms.values())) / len(terms)
    answers = []
    for asked in QUESTIONS:
        scores: dict[str, float] = {}
        for stem in asked.word_stems:
            having = [case for case in terms if stem in counts[case]]
            for case in having:
                often = counts[case][stem]
                against = K1 * (1 - B + B * measured(len(terms[case])) / mean)
                worth = telling(len(terms), len(having)) * often * (K1 + 1) / (often + against)
                scores[case] = scores.get(case, 0.0) + worth
        answers.append(ranked(scores))
    return answers


def our_idf(documents: int, having: int) -> float:
    return math.log(1 + (documents - having + 0.5) / (having + 0.5))


def whoosh_idf(documents: int, having: int) -> float:
    return math.log(documents / (having + 1)) + 1


def one_byte(length: int) -> float:
    return float(byte_to_length(length_to_byte(length)))


def test_whoosh_differs_by_its_idf_and_its_one_byte_lengths(
    terms: dict[str, list[str]], ours: Answers, tmp_path: Path
) -> None:
    stock = ask_whoosh(terms, tmp_path / "stock", {})
    # its formula, written out here, gives its scores: so these two are all the difference
    for theirs, written_out in zip(stock, bm25(terms, whoosh_idf, one_byte), strict=True):
        assert theirs == pytest.approx(written_out, rel=1e-6)
    for mine, written_out in zip(ours, bm25(terms, our_idf, float), strict=True):
        assert mine == pytest.approx(written_out, abs=1e-6)
    apart = {
        "stock": overlap(ours, stock),
        "only its idf": overlap(ours, bm25(terms, whoosh_idf, float)),
        "only its lengths": overlap(ours, bm25(terms, our_idf, one_byte)),
    }
    print(apart)
    assert 0.85 < apart["stock"] < 1.0  # measured: see docs/search.md


def test_writing_the_same_again_changes_answers_of_whoosh_and_none_of_ours(
    documents: list[Document], terms: dict[str, list[str]], ours: Answers, tmp_path: Path
) -> None:
    # Whoosh counts what was deleted until its segments are merged.
    again = documents[::20]
    stock = ask_whoosh(terms, tmp_path / "once", {})
    rewritten = ask_whoosh(terms, tmp_path / "again", {doc.case: terms[doc.case] for doc in again})
    changed = sum(
        list(one)[:FIRST] != list(two)[:FIRST] for one, two in zip(stock, rewritten, strict=True)
    )
    print(f"{len(again)} written again: first ten changed in {changed} of {len(stock)} questions")
    assert changed > 0  # measured: see docs/search.md

    made = TextIndex.open(tmp_path / "ours")
    made.rebuild(documents, "once")
    for doc in again:
        made.update([doc], [], "again")
    answers = [{hit.case: hit.score for hit in made.search(asked)} for asked in QUESTIONS]
    made.close()
    assert answers == ours
