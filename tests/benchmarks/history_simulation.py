"""Print how far the intervals of the histories can be trusted, and how far to lean on other units.

    python tests/benchmarks/history_simulation.py [--runs 2000] [--seed 3]

Three questions, each answered on drawn benches whose truth is known:

- repairs: how often the 95 % interval of the share that holds has the true share in it, beside the
  share one gets by counting young repairs as held;
- units: how often the 95 % interval of the mean number of further repairs has the true mean in it,
  with units that all fail alike and with units of which some fail far more often;
- leaning: how far the share of a family's next visits is off, the farther one leans on the others.
"""

from __future__ import annotations

import argparse

import numpy as np
from numpy.random import Generator

from kb.faults.opportunity import LEAN
from kb.faults.proportions import wilson
from kb.faults.recurrence import mean_cumulative

DAYS = 90
YEARS = 3.0


def repairs(draw: Generator, runs: int) -> None:
    """Repairs at a growing rate over two years, a fifth of which come back within the days."""
    print(
        "share that holds, true 0.80: interval has it, mean share, mean if the young count as held"
    )
    for number in (15, 40, 150):
        inside, shares, naive = 0, [], []
        for _ in range(runs):
            out = 730 * np.sqrt(draw.random(number))
            back = np.where(draw.random(number) < 0.2, draw.uniform(0, DAYS, number), np.inf)
            seen = out + back <= 730
            followed = out <= 730 - DAYS
            held = int((followed & ~seen).sum())
            low, high = wilson(held, int(followed.sum()))
            inside += low <= 0.8 <= high
            if followed.sum():
                shares.append(held / followed.sum())
            naive.append(1 - seen.mean())
        print(
            f"  {number:4} repairs: {inside / runs:.3f}  {np.mean(shares):.3f}  {np.mean(naive):.3f}"
        )


def units(draw: Generator, runs: int) -> None:
    """Units first seen over eight years; a mean of 0.6 further repairs in the first three."""
    print(f"\nfurther repairs in {YEARS:.0f} years, true 0.60: interval has it")
    for number in (10, 30, 100):
        row = []
        for spread in (0.0, 1.0):
            inside = asked = 0
            for _ in range(runs):
                followed = 8 * draw.random(number)
                rate = 0.2 * (draw.gamma(1 / spread, spread, number) if spread else np.ones(number))
                drawn = [
                    (float(end), sorted(draw.uniform(0, end, draw.poisson(r * end)).tolist()))
                    for end, r in zip(followed, rate, strict=True)
                ]
                points = [p for p in mean_cumulative(drawn) if p.years * 365.25 <= YEARS]
                if points:
                    asked += 1
                    inside += points[-1].interval[0] <= 0.2 * YEARS <= points[-1].interval[1]
            row.append(f"{inside / asked:.3f} ({1 - asked / runs:.1%} without any)")
        print(f"  {number:4} units: alike {row[0]}, unlike {row[1]}")


def leaning(draw: Generator, runs: int) -> None:
    """Families of 12 visits beside 36 of comparable ones; one cause in ten stands out fivefold."""
    print(
        "\nmean error of a cause's share (points), by how many visits the comparable units speak for"
    )
    leans = (0.0, 3.0, LEAN, 10.0, 20.0)
    errors: dict[str, dict[float, list[float]]] = {
        "all causes": {lean: [] for lean in leans},
        "weak points, a fifth of the visits or more": {lean: [] for lean in leans},
    }
    for _ in range(runs):
        common = draw.dirichlet(np.full(30, 0.5))
        apart = draw.random(30) < 0.1
        own = common * np.where(apart, 5.0, 1.0)
        own /= own.sum()
        here, there = draw.multinomial(12, own), draw.multinomial(36, common)
        groups = (here + there > 0, apart & (own >= 0.2))
        for lean in leans:
            off = (here + lean * there / 36) / (12 + lean) - own
            for found, group in zip(errors.values(), groups, strict=True):
                found[lean] += np.abs(off[group]).tolist()
    for group, found in errors.items():
        said = ", ".join(f"{lean:.0f}: {100 * np.mean(e):.2f}" for lean, e in found.items())
        print(f"  {group}: {said}")


def main() -> None:
    """Print the three tables."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--runs", type=int, default=2000)
    asked.add_argument("--seed", type=int, default=3)
    options = asked.parse_args()
    draw = np.random.default_rng(options.seed)
    repairs(draw, options.runs)
    units(draw, options.runs)
    leaning(draw, options.runs)


if __name__ == "__main__":
    main()
