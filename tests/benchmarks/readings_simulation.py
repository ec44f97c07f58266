"""How often points are said to follow the mains, and how often healthy readings are called unusual.

    python tests/benchmarks/readings_simulation.py [--books 1000] [--seed 3]

Units of a family differ by a normal spread around what they should read at 230 V; each is read at
mains drawn evenly from 221 to 243 V, to a whole volt. A rectified point follows in proportion, a
regulated one does not at all, one between goes with the square root. Prints tables in per cent, for
`docs/methods-readings.md`.
"""

from __future__ import annotations

import argparse

import numpy as np

from kb.faults.mains import DOES_NOT, FOLLOWS
from kb.faults.standards import USUAL, Standard, judge, standards
from kb.values_readings import Taken

POINTS = {"rectified": 1.0, "between": 0.5, "regulated": 0.0}
NOMINAL = 230.0


def drawn(rng: np.random.Generator, exponent: float, spread: float, count: int) -> list[Taken]:
    """Healthy readings at 300 V, to a tenth of a volt."""
    mains = rng.uniform(221, 243, count).round()
    values = 300 * (mains / NOMINAL) ** exponent * np.exp(spread * rng.standard_normal(count))
    return [
        Taken(
            case=str(i), family="f", serial=None, received="2024-01-01", finished=True, well=True,
            modified=(), at="p", value=round(float(v), 1), unit="V", when="as-left", state=None,
            mains=float(m),
        )
        for i, (v, m) in enumerate(zip(values, mains, strict=True))
    ]  # fmt: skip


def standard(readings: list[Taken]) -> Standard:
    """What they make of their point."""
    (found,) = standards(readings, {}, NOMINAL)["f"].values()
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--books", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=3)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    print(
        f"{'point':>10} {'spread':>6} {'n':>3} {'follows':>8} {'stays':>6} {'width':>6} {'alarms':>7}"
    )
    for name, exponent in POINTS.items():
        for spread in (0.01, 0.02, 0.03):
            for count in (5, 8, 12, 20, 40):
                row(rng, name, exponent, spread, count, options.books)


def row(
    rng: np.random.Generator, name: str, exponent: float, spread: float, count: int, books: int
) -> None:
    """Print one line: what was decided, the width against that as read, and false alarms."""
    verdicts, widths, alarms = [], [], 0
    for _ in range(books):
        *healthy, new = drawn(rng, exponent, spread, count + 1)
        found = standard(healthy)
        assert found.scale is not None
        assert found.raw is not None
        verdicts.append(found.follows.verdict)
        if verdicts[-1] == FOLLOWS:
            low, high = found.scale.range
            widths.append((high - low) / (found.raw.range[1] - found.raw.range[0]))
        judged = judge(found, new.value, new.mains, NOMINAL)
        assert judged is not None
        alarms += judged.outcome != USUAL
    follows, stays = (100 * verdicts.count(v) / books for v in (FOLLOWS, DOES_NOT))
    width = f"{np.median(widths):.2f}" if widths else ""
    print(
        f"{name:>10} {100 * spread:>5.0f}% {count:>3} {follows:>8.1f} {stays:>6.1f} {width:>6} "
        f"{100 * alarms / books:>7.1f}"
    )


if __name__ == "__main__":
    main()
