"""A replay of made-up books beside two simpler forecasts of the same faults, and how long it takes.

    python tests/benchmarks/replay_simulation.py [--books 20] [--seed 1] [--sizes 60 200 600]

Books are drawn from the model that the ranking assumes (`tests/drawn_shops.py`), every second with
evidence that hangs together; some symptoms are told at the counter, others only found on the bench.
"less" is ours less the other's, by book, with its 95 % interval over the books. The last line is
one book of 10,000 faults with a very long tail of causes.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table
from scipy import stats

sys.path.insert(0, str(Path(__file__).parent.parent))
from drawn_shops import LINEAGE, Shop, dated_faults, draw_shop

from kb.faults.replay.run import replay
from kb.values_replay import Replay

COPYING = 0.8
LARGE = 10_000
SAID = 0.2
"""what is said of causes is summed up from this probability on"""


def book(seed: int, size: int, number: int) -> tuple[np.random.Generator, Shop]:
    """Draw a shop and what goes on drawing from it."""
    rng = np.random.default_rng([seed, size, number])
    return rng, draw_shop(rng, COPYING if number % 2 else 0.0)


def long_tailed(seed: int) -> tuple[np.random.Generator, Shop]:
    """A shop in which half of all faults have a cause drawn evenly from 500."""
    rng, shop = book(seed, LARGE, 0)
    for family, shares in shop.causes.items():
        shop.causes[family] = 0.5 * shares + 0.5 / len(shares)
    return rng, shop


def mean_of(values: list[float]) -> str:
    """A mean with its 95 % interval."""
    reach = stats.t.ppf(0.975, len(values) - 1) * np.std(values, ddof=1) / np.sqrt(len(values))
    return f"{np.mean(values):+.3f} ± {reach:.3f}"


def said_and_came(answers: list[Replay]) -> str:
    """What was said on average where it was much, and what came of it."""
    bins = [b for a in answers for b in a.calibration if b.low >= SAID]
    counts = [b.count for b in bins]
    said, came = (np.average(x, weights=counts) for x in (
        [b.predicted for b in bins], [b.observed for b in bins]))  # fmt: skip
    return f"{said:.3f} / {came:.3f}"


def rows(size: int, answers: list[Replay]) -> Iterable[list[str]]:
    """A row of the table for each forecaster, at intake and after checks."""
    for when in ("at intake", "after checks"):
        asked = [a if when == "at intake" else a.after_checks for a in answers]
        ours = [np.mean([getattr(a, key) for a in asked]) for key in ("log_loss", "top3")]
        yield [str(size), when, "this ranking", f"{ours[0]:.3f}", f"{ours[1]:.3f}", "", "", ""]
        for name in asked[0].baselines:
            them = [a.baselines[name] for a in asked]
            less = [[getattr(o.ours_less, key) for o in them] for key in ("log_loss", "top3")]
            better = sum(loss < 0 < top for loss, top in zip(*less, strict=True))
            yield [
                "", "", name,
                f"{np.mean([o.log_loss for o in them]):.3f}",
                f"{np.mean([o.top3 for o in them]):.3f}",
                mean_of(less[0]), mean_of(less[1]), f"{better} of {len(them)}",
            ]  # fmt: skip


def main(arguments: Iterable[str] | None = None) -> None:
    """Print a table for books of several sizes, then the time for a large one."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--books", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sizes", type=int, nargs="*", default=[60, 200, 600])
    parser.add_argument("--large", type=int, default=LARGE)
    chosen = parser.parse_args(arguments)
    console = Console(width=140)
    table = Table(title=f"{chosen.books} made-up books of each size")
    for heading in (
        "faults", "asked", "forecast", "log loss", "top 3", "ours less it: log loss", "top 3",
        "better in both",
    ):  # fmt: skip
        table.add_column(heading, justify="right")
    for size in chosen.sizes:
        answers = []
        for number in range(chosen.books):
            rng, shop = book(chosen.seed, size, number)
            answers.append(replay(dated_faults(rng, shop, size), LINEAGE, {}))
        for row in rows(size, answers):
            table.add_row(*row)
        unseen = [a.unseen.predicted - a.unseen.observed for a in answers]
        console.print(
            f"{size} faults: of what was said with at least {SAID:.0%} at intake, said / came true "
            f"{said_and_came(answers)}; unseen said less true {mean_of(unseen)}"
        )
    if chosen.sizes:
        console.print(table)
    if chosen.large:
        rng, shop = long_tailed(chosen.seed)
        records = dated_faults(rng, shop, chosen.large)
        start = time.perf_counter()
        answer = replay(records, LINEAGE, {})
        seconds = time.perf_counter() - start
        causes = len({r.cause for r in records})
        console.print(
            f"{chosen.large} faults of {causes} causes: {answer.cases} asked at intake, "
            f"{answer.after_checks.questions} after checks, in {seconds:.1f} s"
        )


if __name__ == "__main__":
    main()
