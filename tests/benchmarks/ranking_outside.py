"""The ranking on the soybean diseases, beside other methods on the same folds.

    python tests/benchmarks/ranking_outside.py [--repeats 10] [--draws 30] [--only small|all|distinct]

Data: `tests/outside/data/soybean.txt` (Michalski & Chilausky 1980). Every finding is a check with
an outcome, a missing one a check not made; the other methods (scikit-learn) get "missing" as a
value of its own. Three tables: ten-fold on all 683 plants, once more without the 52 duplicates,
and small books drawn at random and asked about all other plants. No setting of any method is
chosen on the plants it is scored on: C of the tuned regression on folds inside the training part,
everything of ours by `kb.faults.fitting.fit` on it.

In a small book some diseases are missing. Ours then has `unseen`; the scikit-learn methods, which
have nothing like it, are given the same prior share of it.
"""

from __future__ import annotations

import argparse
import sys
import warnings
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table
from sklearn.ensemble import RandomForestClassifier
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GridSearchCV, KFold
from sklearn.naive_bayes import CategoricalNB
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import OneHotEncoder

sys.path.insert(0, str(Path(__file__).parent.parent))
from soybean import FAMILY, Plants, folds, soybean

from kb.faults.counting import counts_of
from kb.faults.experience import experience_of
from kb.faults.fitting import fit
from kb.faults.ranking import posterior
from kb.faults.strengths import Strengths

Array = NDArray[np.float64]
OURS, COMMON, PLAIN = "ours: a weight per finding", "ours: one weight", "ours: no weights"
TUNED = "logistic regression, C chosen"
ONE_WEIGHT = (1e-3,)
"""so small a spread that every finding has the common weight"""


def ours(plants: Plants, train: Array, test: Array) -> dict[str, Array]:
    """Probabilities (plants asked, diseases) of the three ways to weigh; the rest is unseen."""
    records = plants.records(train)
    each = fit(records, {}, {})
    ways = {
        OURS: each,
        COMMON: fit(records, {}, {}, spreads=ONE_WEIGHT),
        PLAIN: replace(each, weight=1.0, weights={}),
    }
    return {name: asked(plants, strengths, train, test) for name, strengths in ways.items()}


def asked(plants: Plants, strengths: Strengths, train: Array, test: Array) -> Array:
    """What the ranking says of every plant asked."""
    book = experience_of(counts_of(plants.records(train)), {}, {}, strengths)
    number = {disease: i for i, disease in enumerate(plants.diseases)}
    found = np.zeros((len(test), len(number)))
    for row, plant in enumerate(test):
        for cause, p in posterior(book, plants.evidence(plant))[0].items():
            found[row, number[cause]] = p
    return found


def peers(plants: Plants, train: Array, test: Array, seed: int) -> dict[str, Array]:
    """The same from scikit-learn."""
    codes = plants.coded()
    width = [len(names) + 1 for names in plants.names]
    hot = OneHotEncoder(categories=[np.arange(w) for w in width])
    regression = make_pipeline(hot, LogisticRegression(max_iter=2000))
    grid = {"logisticregression__C": [0.3, 1.0, 3.0, 10.0, 30.0]}
    inside = KFold(3, shuffle=True, random_state=seed)
    methods = {
        "naive Bayes (CategoricalNB)": CategoricalNB(min_categories=width),
        "logistic regression": regression,
        TUNED: GridSearchCV(regression, grid, scoring=inside_loss, cv=inside),
        "random forest": RandomForestClassifier(random_state=seed),
    }
    unseen = experience_of(counts_of(plants.records(train)), {}, {}).prior(FAMILY).unseen
    if len(np.unique(plants.disease[train])) == len(plants.diseases):
        unseen = 0.0
    found = {}
    for name, method in methods.items():
        method.fit(codes[train], plants.disease[train])
        p = np.zeros((len(test), len(plants.diseases)))
        p[:, method.classes_] = method.predict_proba(codes[test]) * (1.0 - unseen)
        found[name] = p
    return found


def inside_loss(method: LogisticRegression, values: Array, disease: Array) -> float:
    """Minus the log loss; a disease that the inner training part lacks costs the same for all."""
    column = {d: i for i, d in enumerate(method.classes_)}
    p = method.predict_proba(values)
    hit = [p[i, column[d]] if d in column else 1e-3 for i, d in enumerate(disease)]
    return float(np.log(np.maximum(hit, 1e-15)).mean())


def losses(p: Array, disease: Array) -> Array:
    """-log of what the true disease had; one that the book lacks, -log of the unseen."""
    own = p[np.arange(len(p)), disease]
    known = p.sum(axis=0)[disease] > 0
    return -np.log(np.maximum(np.where(known, own, 1.0 - p.sum(axis=1)), 1e-15))


def hits(p: Array, disease: Array, top: int) -> Array:
    """Whether the true disease is among the first."""
    own = p[np.arange(len(p)), disease]
    return (own > 0) & ((p > own[:, None]).sum(axis=1) < top)


def calibration_error(p: Array, disease: Array) -> tuple[float, float]:
    """The expected calibration error of the leader, ten bins, and its 95 % point if calibrated.

    The point comes from 2,000 draws of the truth from the very probabilities that were said.
    """
    rng = np.random.default_rng(0)
    said = p.max(axis=1)
    bins = np.minimum((said * 10).astype(int), 9)

    def error(hit: Array) -> float:
        gaps = np.bincount(bins, weights=hit - said, minlength=10)
        return float(np.abs(gaps).sum() / len(said))

    simulated = [error((rng.random(len(said)) < said).astype(float)) for _ in range(2000)]
    return error((p.argmax(axis=1) == disease).astype(float)), float(np.quantile(simulated, 0.95))


def ten_fold(plants: Plants, repeats: int, seed: int) -> dict[str, Array]:
    """Method -> probabilities (repeats, plants, diseases)."""
    shape = (repeats, len(plants.disease), len(plants.diseases))
    found: dict[str, Array] = {}
    for repeat in range(repeats):
        fold = folds(plants.disease, 10, seed + repeat)
        for k in range(10):
            train, test = np.flatnonzero(fold != k), np.flatnonzero(fold == k)
            for name, p in both(plants, train, test, seed + repeat).items():
                found.setdefault(name, np.zeros(shape))[repeat, test] = p
    return found


def both(plants: Plants, train: Array, test: Array, seed: int) -> dict[str, Array]:
    """All methods."""
    return {**ours(plants, train, test), **peers(plants, train, test, seed)}


def small_books(plants: Plants, cases: int, draws: int, seed: int) -> dict[str, Array]:
    """Method -> figures (draws, 3): log loss, top 1, top 3 on all plants not in the book."""
    found: dict[str, list[list[float]]] = {}
    for draw in range(draws):
        order = np.random.default_rng([seed, cases, draw]).permutation(len(plants.disease))
        train, test = order[:cases], order[cases:]
        for name, p in both(plants, train, test, seed).items():
            disease = plants.disease[test]
            scores = (losses(p, disease), hits(p, disease, 1), hits(p, disease, 3))
            found.setdefault(name, []).append([float(np.mean(s)) for s in scores])
    return {name: np.array(rows) for name, rows in found.items()}


def fold_table(title: str, plants: Plants, found: dict[str, Array]) -> Table:
    """Means over the repeats with their range, and ours less each other, paired by plant."""
    table = Table(title=title)
    heads = (
        "method",
        "log loss",
        "range",
        "top 1",
        "range",
        "top 3",
        "ECE",
        "95 % point",
        "ours less it ± SE",
    )
    for i, heading in enumerate(heads):
        table.add_column(heading, justify="right" if i else "left")
    loss = {n: np.array([losses(p, plants.disease) for p in ps]) for n, ps in found.items()}
    for name, repeats in found.items():
        each = loss[name].mean(axis=1)
        first = [hits(p, plants.disease, 1).mean() for p in repeats]
        third = [hits(p, plants.disease, 3).mean() for p in repeats]
        errors = np.array([calibration_error(p, plants.disease) for p in repeats])
        gap = (loss[OURS] - loss[name]).mean(axis=0)
        table.add_row(
            name,
            f"{each.mean():.3f}",
            _range(each),
            f"{np.mean(first):.3f}",
            _range(first),
            f"{np.mean(third):.4f}",
            f"{errors[:, 0].mean():.4f} ({(errors[:, 0] <= errors[:, 1]).sum()}/{len(errors)} in)",
            f"{errors[:, 1].mean():.4f}",
            f"{gap.mean():+.3f} ± {gap.std(ddof=1) / np.sqrt(len(gap)):.3f}",
        )
    return table


def small_table(title: str, found: dict[str, Array]) -> Table:
    """Means over the draws, and ours less each other, paired by draw."""
    table = Table(title=title)
    for i, heading in enumerate(
        ("method", "log loss", "range", "top 1", "top 3", "ours less it ± SE")
    ):
        table.add_column(heading, justify="right" if i else "left")
    for name, rows in found.items():
        gap = found[OURS][:, 0] - rows[:, 0]
        table.add_row(
            name,
            f"{rows[:, 0].mean():.3f}",
            _range(rows[:, 0]),
            f"{rows[:, 1].mean():.3f}",
            f"{rows[:, 2].mean():.3f}",
            f"{gap.mean():+.3f} ± {gap.std(ddof=1) / np.sqrt(len(gap)):.3f}",
        )
    return table


def _range(values: Iterable[float]) -> str:
    found = list(values)
    return f"{min(found):.3f} to {max(found):.3f}"


def main(arguments: Iterable[str] | None = None) -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=10)
    parser.add_argument("--draws", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=("small", "all", "distinct"), action="append")
    chosen = parser.parse_args(arguments)
    warnings.filterwarnings("ignore", message="The least populated class")
    console, plants = Console(width=150), soybean()
    tables = chosen.only or ("small", "all", "distinct")
    for cases in (60, 100) if "small" in tables else ():
        found = small_books(plants, cases, chosen.draws, chosen.seed)
        console.print(small_table(f"Books of {cases} plants, {chosen.draws} draws", found))
    sets: dict[str, tuple[str, Callable[[], Plants]]] = {
        "all": ("All 683 plants", lambda: plants),
        "distinct": ("Without the 52 duplicates", plants.without_duplicates),
    }
    for name, (title, make) in sets.items():
        if name in tables:
            asked_about = make()
            found = ten_fold(asked_about, chosen.repeats, chosen.seed)
            title = f"{title}: {chosen.repeats} repeats of ten-fold"
            console.print(fold_table(title, asked_about, found))


if __name__ == "__main__":
    main()
