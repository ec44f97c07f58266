"""How true the ranking is on made-up shops of which everything is known, and how fast.

    python tests/benchmarks/ranking_simulation.py [--shops 200] [--seed 1] [--fixed]

The shops are drawn from the model that the ranking assumes (`tests/drawn_shops.py`), strengths and
weights fitted to each as `index` does. Beside them shops in which evidence hangs together: every
second symptom and check is, four times in five, a copy of the one before it. "true" is the
posterior from the shop's own rates. New faults are asked with up to two symptoms and three checks.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from math import log
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

sys.path.insert(0, str(Path(__file__).parent.parent))
from drawn_shops import CHECKS, LINEAGE, Shop, draw_shop, question

from kb.faults.counting import counts_of
from kb.faults.experience import Experience, experience_of
from kb.faults.fitting import fit
from kb.faults.next_checks import Bench, next_checks
from kb.faults.ranking import rank
from kb.faults.strengths import FIXED
from kb.values import CheckOption, Evidence

SIZES = (100, 400)
QUESTIONS = 12
COPYING = 0.8
SMALL = 5
"""a family with at most so many faults is small"""


@dataclass
class Tally:
    """What the ranking said and what was true, over many questions."""

    covered: list[bool] = field(default_factory=list)
    leader: list[bool] = field(default_factory=list)
    width: list[float] = field(default_factory=list)
    loss: list[float] = field(default_factory=list)
    true_loss: list[float] = field(default_factory=list)
    top3: list[bool] = field(default_factory=list)
    unseen_gap: list[float] = field(default_factory=list)
    small_gap: list[float] = field(default_factory=list)
    asked_gap: list[float] = field(default_factory=list)
    unseen: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)


def shelves(shop: Shop, book: Experience, tally: Tally) -> None:
    """Compare the prior's unseen with the true one, family by family."""
    known = set(book.causes)
    for family in LINEAGE:
        true = shop.share_unknown(family, known)
        gap = book.prior(family).unseen - true
        tally.unseen.append(true)
        tally.unseen_gap.append(gap)
        if sum(book.counts.faults.get(family, {}).values()) <= SMALL:
            tally.small_gap.append(gap)


def ask(rng: np.random.Generator, shop: Shop, book: Experience, tally: Tally) -> None:
    """Ask one new fault and score the answer."""
    fault = shop.fault(rng, 0)
    evidence = question(rng, fault)
    true = shop.posterior(evidence)
    answer = rank(book, evidence)
    found = {c.cause: c.probability for c in answer.causes}
    tally.loss.append(-log(found.get(fault.cause, answer.unseen)))
    known = sum(float(true[int(c[1:])]) for c in found)
    own = float(true[int(fault.cause[1:])])
    tally.true_loss.append(-log(own if fault.cause in found else max(1.0 - known, 1e-12)))
    tally.top3.append(fault.cause in [c.cause for c in answer.causes[:3]])
    tally.asked_gap.append(answer.unseen - (1.0 - known))
    for place, likely in enumerate(answer.causes[:3]):
        low, high = likely.interval
        inside = bool(low <= true[int(likely.cause[1:])] <= high)
        tally.covered.append(inside)
        tally.width.append(high - low)
        if place == 0:
            tally.leader.append(inside)


def milliseconds(book: Experience) -> float:
    """The median time of one ranking with next checks, everything worked out afresh."""
    options = [CheckOption(f"k{k}", f"k{k}", "live", 5.0) for k in range(CHECKS)]
    evidence = Evidence("model-01", ("s1", "s2"), ("s3",), (("k1", "o0"), ("k2", "o1")))
    times = []
    for _ in range(5):
        start = time.perf_counter()
        fresh = experience_of(book.counts, book.lineage, {}, book.strengths)
        next_checks(fresh, rank(fresh, evidence), Bench(options, evidence.checks, (), "live"))
        times.append(1000 * (time.perf_counter() - start))
    return float(np.median(times))


def simulate(shops: int, cases: int, copying: float, seed: int, fixed: bool) -> tuple[Tally, float]:
    """Draw so many shops, fit a book to each, ask it; the tally and one book's milliseconds."""
    tally = Tally()
    for number in range(shops):
        rng = np.random.default_rng([seed, cases, number])
        shop = draw_shop(rng, copying)
        records = [shop.fault(rng, i) for i in range(cases)]
        start = time.perf_counter()
        strengths = FIXED if fixed else fit(records, LINEAGE, {})
        tally.seconds.append(time.perf_counter() - start)
        book = experience_of(counts_of(records), LINEAGE, {}, strengths)
        shelves(shop, book, tally)
        for _ in range(QUESTIONS):
            ask(rng, shop, book, tally)
    return tally, milliseconds(book)


def _gap(values: list[float]) -> str:
    return f"{np.mean(values):+.3f} ± {np.std(values) / np.sqrt(max(len(values), 1)):.3f}"


def main(arguments: Iterable[str] | None = None) -> None:
    """Print a table: one row for each size of book, evidence apart and evidence that hangs
    together.
    """
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--fixed", action="store_true", help="the fixed strengths instead")
    chosen = parser.parse_args(arguments)
    table = Table(title=f"{chosen.shops} made-up shops of each kind")
    for heading in (
        "cases", "evidence", "80 % cover", "leader", "width", "log loss", "of the truth", "top 3",
        "unseen true", "said less true", "small families", "after evidence", "fit s", "ask ms",
    ):  # fmt: skip
        table.add_column(heading, justify="right")
    for cases in SIZES:
        for copying in (0.0, COPYING):
            tally, ms = simulate(chosen.shops, cases, copying, chosen.seed, chosen.fixed)
            means = (tally.covered, tally.leader, tally.width, tally.loss, tally.true_loss,
                     tally.top3, tally.unseen)  # fmt: skip
            table.add_row(
                str(cases),
                "hangs together" if copying else "independent",
                *(f"{np.mean(values):.3f}" for values in means),
                _gap(tally.unseen_gap),
                _gap(tally.small_gap),
                _gap(tally.asked_gap),
                f"{np.mean(tally.seconds):.2f}",
                f"{ms:.1f}",
            )
    Console(width=190).print(table)


if __name__ == "__main__":
    main()
