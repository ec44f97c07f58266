"""How true the ranking is on made-up shops of which everything is known, and how fast.

    python tests/benchmarks/ranking_simulation.py [--shops 25] [--seed 1] [--weight W]

A shop has ten models of six kinds and 160 causes in a long tail; each cause shows each of 25
symptoms, and each outcome of 12 checks, with rates of its own, independent of each other. Of each
fault a few checks were made. New faults are then asked with up to two symptoms and two checks.
"true" is the posterior from the shop's own rates.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from math import log

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from kb.faults.experience import Experience, experience_of
from kb.faults.next_checks import Bench, next_checks
from kb.faults.prior import Place
from kb.faults.ranking import rank
from kb.faults.strengths import FIXED, Strengths
from kb.values import CheckOption, Counts, Evidence

CAUSES, SYMPTOMS, CHECKS, QUESTIONS = 160, 25, 12, 12
KINDS = ("guitar",) * 3 + ("bass",) * 2 + ("echo",) * 2 + ("piano", "mixer", "rotary")
MODELS = {f"model-{i}": Place(kind=kind) for i, kind in enumerate(KINDS)}
Array = NDArray[np.float64]


@dataclass
class Shop:
    """The true rates: model -> cause, cause and symptom, check -> cause and outcome."""

    causes: dict[str, Array]
    symptoms: Array
    checks: list[Array]


@dataclass
class Tally:
    """What the ranking said and what was true, over many questions."""

    covered: list[bool] = field(default_factory=list)
    width: list[float] = field(default_factory=list)
    loss: list[float] = field(default_factory=list)
    top3: list[bool] = field(default_factory=list)
    unseen: list[float] = field(default_factory=list)
    truly_unseen: list[float] = field(default_factory=list)


def shop(rng: np.random.Generator) -> Shop:
    """Draw a shop."""
    common = 1.0 / np.arange(1, CAUSES + 1)
    kinds = {kind: common * rng.gamma(0.6, size=CAUSES) for kind in dict.fromkeys(KINDS)}
    shares = {m: kinds[p.kind or ""] * rng.gamma(1.0, size=CAUSES) for m, p in MODELS.items()}
    usual = [rng.dirichlet([6.0, 1.0, 1.0][: 2 + k % 2]) for k in range(CHECKS)]
    return Shop(
        causes={model: share / share.sum() for model, share in shares.items()},
        symptoms=0.01 + 0.98 * rng.beta(0.25, 2.0, (CAUSES, SYMPTOMS)),
        checks=[
            np.where(
                rng.random((CAUSES, 1)) < 0.7,
                rng.dirichlet(3.0 * outcomes + 0.02, CAUSES),
                rng.dirichlet(np.full(len(outcomes), 0.6), CAUSES),
            )
            for outcomes in usual
        ],
    )


def fault(rng: np.random.Generator, of: Shop) -> tuple[str, int, list[int], list[tuple[int, int]]]:
    """Draw a fault: model, cause, symptoms, checks with outcomes."""
    model = str(rng.choice(sorted(MODELS)))
    cause = int(rng.choice(CAUSES, p=of.causes[model]))
    symptoms = [int(s) for s in np.flatnonzero(rng.random(SYMPTOMS) < of.symptoms[cause])]
    made = rng.choice(CHECKS, size=rng.integers(1, 5), replace=False)
    outcomes = [(int(k), int(rng.choice(len(p), p=p))) for k in made for p in [of.checks[k][cause]]]
    return model, cause, symptoms, outcomes


def experience(rng: np.random.Generator, of: Shop, cases: int, strengths: Strengths) -> Experience:
    """Count so many faults."""
    faults: dict[str, dict[str, float]] = {}
    symptoms: dict[str, dict[str, float]] = {}
    checks: dict[str, dict[str, dict[str, float]]] = {}
    for _ in range(cases):
        model, cause, noted, made = fault(rng, of)
        rows = [faults.setdefault(model, {})]
        rows += [symptoms.setdefault(f"s{s}", {}) for s in noted]
        rows += [checks.setdefault(f"k{k}", {}).setdefault(f"o{o}", {}) for k, o in made]
        for row in rows:
            row[f"c{cause}"] = row.get(f"c{cause}", 0.0) + 1.0
    counts = Counts(faults=faults, symptoms=symptoms, checks=checks)
    return experience_of(counts, MODELS, {}, strengths)


def ask(rng: np.random.Generator, of: Shop, book: Experience, tally: Tally) -> None:
    """Ask one new fault and score the answer."""
    model, cause, symptoms, made = fault(rng, of)
    symptoms, made = symptoms[:2], made[: rng.integers(0, 3)]
    true = of.causes[model].copy()
    for s in symptoms:
        true *= of.symptoms[:, s]
    for k, o in made:
        true *= of.checks[k][:, o]
    true /= true.sum()
    checks = tuple((f"k{k}", f"o{o}") for k, o in made)
    answer = rank(book, Evidence(model, tuple(f"s{s}" for s in symptoms), checks=checks))
    found = {c.cause: c.probability for c in answer.causes}
    tally.loss.append(-log(found.get(f"c{cause}", answer.unseen)))
    tally.top3.append(f"c{cause}" in [c.cause for c in answer.causes[:3]])
    tally.unseen.append(answer.unseen)
    tally.truly_unseen.append(1.0 - sum(true[int(c[1:])] for c in found))
    for leader in answer.causes[:3]:
        low, high = leader.interval
        tally.covered.append(bool(low <= true[int(leader.cause[1:])] <= high))
        tally.width.append(high - low)


def milliseconds(book: Experience) -> float:
    """The median time of one ranking with next checks, everything worked out afresh."""
    options = [CheckOption(f"k{k}", f"k{k}", "live", 5.0) for k in range(CHECKS)]
    evidence = Evidence("model-1", ("s1", "s2"), ("s3",), (("k1", "o0"), ("k2", "o1")))
    times = []
    for _ in range(9):
        start = time.perf_counter()
        fresh = experience_of(book.counts, book.lineage, {})
        next_checks(fresh, rank(fresh, evidence), Bench(options, evidence.checks, (), "live"))
        times.append(1000 * (time.perf_counter() - start))
    return float(np.median(times))


def main(arguments: Iterable[str] | None = None) -> None:
    """Print a table: one row for each size of book."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=25)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--weight", type=float, default=FIXED.weight)
    chosen = parser.parse_args(arguments)
    strengths = replace(FIXED, weight=chosen.weight)
    table = Table(title=f"Ranking on made-up shops, weight {chosen.weight}")
    for heading in (
        "cases", "80 % cover", "mean width", "log loss", "top 3",
        "unseen said", "unseen true", "causes", "ms",
    ):  # fmt: skip
        table.add_column(heading, justify="right")
    for cases in (100, 400, 2000):
        rng, tally = np.random.default_rng(chosen.seed), Tally()
        for _ in range(chosen.shops):
            drawn = shop(rng)
            book = experience(rng, drawn, cases, strengths)
            for _ in range(QUESTIONS):
                ask(rng, drawn, book, tally)
        means = (tally.covered, tally.width, tally.loss, tally.top3, tally.unseen)
        cells = [f"{np.mean(values):.3f}" for values in (*means, tally.truly_unseen)]
        table.add_row(str(cases), *cells, str(len(book.causes)), f"{milliseconds(book):.1f}")
    Console(width=120).print(table)


if __name__ == "__main__":
    main()
