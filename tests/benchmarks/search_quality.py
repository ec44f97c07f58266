"""How good the order of the hits is, beside four other engines on the same texts and questions.

    pip install gensim tantivy PyStemmer pytrec-eval-terrier
    python tests/benchmarks/search_quality.py

Prints nDCG@10 (linear gains) and mean average precision as trec_eval counts them, each engine's
distance to ours with its paired bootstrap 95 % interval, and the sample book by kind of question.
Two sets are in packages: Lee comes with gensim, Reuters with Debian's `weka` (left out where it is
not installed). The test part of Reuters is what feedback was chosen on; the others show what it
does elsewhere. docs/search.md says what the figures can and can't show.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pytrec_eval
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table
from scipy.stats import bootstrap

sys.path.insert(0, str(Path(__file__).resolve().parent))

from judged_sets import BOOK, Asked, Collection, JudgedSet, lee, reuters, sample_book, text_of
from search_peers import PEERS, Rank

from kb.book import Book
from kb.text import TextIndex, parse

OURS, WORDS_ALONE = "ours", "ours, no feedback"
MEASURES = {"nDCG@10": "ndcg_cut_10", "MAP": "map"}
RESAMPLES, SEED = 10_000, 20_260
WORDS = 40
"""Longer questions are cut there, for every engine: ours takes 64 words and counts parts."""

Measured = dict[str, NDArray[np.float64]]
"""Measure -> one figure per question."""


def main() -> None:
    console = Console(width=120)
    with tempfile.TemporaryDirectory() as folder:
        top = Path(folder)
        with Book.open(BOOK, top / "book") as book:
            judged = sample_book(book)
            figures = measure(judged, {OURS: lambda _: through(book), **peers()})
        show(console, judged, figures)
        show_kinds(console, judged, figures)
        for judged_or_none in (lee(), reuters("train"), reuters("test")):
            if judged_or_none is None:
                console.print("One open set is not installed here; see the top of this script.")
                continue
            engines = {
                OURS: lambda one: through_text(one, top, feedback=True),
                WORDS_ALONE: lambda one: through_text(one, top, feedback=False),
                **peers(),
            }
            show(console, judged_or_none, measure(judged_or_none, engines))


def through(book: Book) -> Rank:
    """The whole program's search, as the command uses it."""
    return lambda question: [hit.case for hit in book.search(question, limit=1_000).hits]


def through_text(collection: Collection, top: Path, feedback: bool) -> Rank:
    """The text index alone: an open set has no vocabulary, so no symptoms to recognise."""
    index = TextIndex.open(Path(tempfile.mkdtemp(dir=top)) / "text")
    index.rebuild(collection.documents, "benchmark")
    many = len(collection.documents)

    def rank(question: str) -> list[str]:
        return [hit.case for hit in index.best(parse(question), many, feedback=feedback)[1]]

    return rank


def peers() -> dict[str, Callable[[Collection], Rank]]:
    """The other engines, each over the same words."""
    return {
        name: lambda collection, make=make: make({d.case: text_of(d) for d in collection.documents})
        for name, make in PEERS.items()
    }


def measure(
    judged: JudgedSet, engines: Mapping[str, Callable[[Collection], Rank]]
) -> dict[str, Measured]:
    """Ask every engine every question. A question that wants nothing counts in no measure."""
    figures = {}
    for name, prepare in engines.items():
        asked: list[tuple[Asked, list[str]]] = []
        for collection in judged.collections:
            rank = prepare(collection)
            asked += [(one, rank(" ".join(one.text.split()[:WORDS]))) for one in collection.asked]
        figures[name] = _measured(asked)
    return figures


def _measured(asked: list[tuple[Asked, list[str]]]) -> Measured:
    keys = [f"{number:04}" for number in range(len(asked))]
    runs = {
        key: {name: float(len(found) - place) for place, name in enumerate(found)}
        for key, (_, found) in zip(keys, asked, strict=True)
    }
    wanted = {
        "nDCG@10": {k: dict(one.wants) for k, (one, _) in zip(keys, asked, strict=True)},
        "MAP": {k: dict.fromkeys(one.relevant, 1) for k, (one, _) in zip(keys, asked, strict=True)},
    }
    figures = {}
    for label, grades in wanted.items():
        named = MEASURES[label]
        judge = pytrec_eval.RelevanceEvaluator(
            {key: grade for key, grade in grades.items() if grade}, {named.replace("cut_", "cut.")}
        )
        scored = judge.evaluate(runs)
        counted = [scored.get(key, {}).get(named, 0.0) for key, grade in grades.items() if grade]
        figures[label] = np.array(counted)
    return figures


def interval(ours: NDArray[np.float64], theirs: NDArray[np.float64]) -> tuple[float, float]:
    """Paired bootstrap 95 % percentile interval of the mean difference, ours less theirs."""
    found = bootstrap(
        (ours - theirs,),
        np.mean,
        n_resamples=RESAMPLES,
        method="percentile",
        rng=np.random.default_rng(SEED),
    ).confidence_interval
    return float(found.low), float(found.high)


def show(console: Console, judged: JudgedSet, figures: Mapping[str, Measured]) -> None:
    """One table per set; the best of the peers by nDCG@10 is marked."""
    best = max(PEERS, key=lambda name: figures[name]["nDCG@10"].mean())
    texts = {d.case for collection in judged.collections for d in collection.documents}
    title = f"{judged.name}: {len(texts)} texts, {len(judged.kinds)} questions"
    table = Table(title=title, title_justify="left")
    table.add_column("engine")
    for label in MEASURES:
        table.add_column(label, justify="right")
        table.add_column("ours less it, 95 %", justify="right")
    for name, measured in figures.items():
        row = [f"{name} (best peer)" if name == best else name]
        for label, values in measured.items():
            row.append(f"{values.mean():.3f}")
            if name == OURS:
                row.append("")
                continue
            mine = figures[OURS][label]
            low, high = interval(mine, values)
            row.append(f"{(mine - values).mean():+.3f} ({low:+.3f} to {high:+.3f})")
        table.add_row(*row)
    console.print(table)


def show_kinds(console: Console, judged: JudgedSet, figures: Mapping[str, Measured]) -> None:
    """nDCG@10 by the kind of question."""
    kinds = np.array(judged.kinds)
    table = Table(title="nDCG@10 by kind of question", title_justify="left")
    table.add_column("kind")
    table.add_column("questions", justify="right")
    for name in figures:
        table.add_column(name, justify="right")
    for kind in dict.fromkeys(kinds.tolist()):
        here = kinds == kind
        means = (f"{measured['nDCG@10'][here].mean():.3f}" for measured in figures.values())
        table.add_row(kind, str(int(here.sum())), *means)
    console.print(table)


if __name__ == "__main__":
    main()
