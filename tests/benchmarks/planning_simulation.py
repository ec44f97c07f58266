"""What a plan saves on made-up shops of which every outcome of every check is known.

    python tests/benchmarks/planning_simulation.py [--shops 20] [--faults 400] [--questions 40]

Planned from the notes alone (`tests/working_shops.py`), strengths fitted as `index` does, and
scored on the truth: the outcomes are drawn from the shop's own rates beforehand, the same for
every way of going about it, and minutes are counted until the true cause is put right (checks,
opening, parts tried, and 150 for a cause that was not among them). Beside the plan go the shop's
own order as read from its notes with the same stop rule, the checks that the technician himself
made with his own stop, and parts tried at once. All try parts by the book's probabilities.
"Said" is what each was expected to take, by the plan's own model. Differences are paired by
fault, their 95 % interval is over shops.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

import numpy as np
from rich.console import Console
from rich.table import Table as Printed

sys.path.insert(0, str(Path(__file__).parent.parent))
from drawn_shops import CHECKS, LINEAGE, Shop, draw_shop
from working_shops import SEARCH, Technician, Visit, draw_technician, work

from kb.faults.bench import Bench
from kb.faults.costs import COVER_MINUTES
from kb.faults.counting import counts_of
from kb.faults.experience import experience_of
from kb.faults.fitting import fit
from kb.faults.habit import usual_order
from kb.faults.planning import (
    Node,
    Policy,
    Situation,
    Walk,
    expected_minutes,
    grow,
    in_order,
    recommended,
)
from kb.faults.ranking import rank
from kb.faults.trying import durations_of, trying_minutes
from kb.values import CheckOption, Evidence, FaultRecord

WAYS = (
    "the plan",
    "the shop's order, same stop",
    "the shop's checks, own stop",
    "parts at once",
    "the technician himself",
)
SHARPER = 3.0


@dataclass
class Tally:
    """Minutes, checks and what was said, per way; one list a shop."""

    minutes: list[list[list[float]]] = field(default_factory=list)
    checks: list[list[list[float]]] = field(default_factory=list)
    said: list[list[list[float]]] = field(default_factory=list)

    def column(self, values: list[list[list[float]]], way: int) -> np.ndarray:
        return np.array([np.mean([row[way] for row in shop]) for shop in values])


@dataclass
class Truth:
    """One fault: what every check will show, and how long putting its cause right takes."""

    technician: Technician
    visit: Visit

    def make(
        self, walk: Walk, situation: Situation, option: CheckOption
    ) -> tuple[Situation, float]:
        """Make a check: where one stands then, and its minutes."""
        name = self.visit.outcomes[int(option.check[1:])]
        found = walk.outcomes(situation, option)
        after = next((s for s in found if s.made[-1] == (option.check, name)), None)
        if after is None:  # an outcome the book has never seen tells it nothing
            made = (*situation.made, (option.check, name))
            after = Situation(made, situation.believed, situation.mass, found[0].closed)
        minutes = float(self.technician.minutes[int(option.check[1:])])
        return after, minutes + (COVER_MINUTES if walk.opens(situation, option) else 0.0)

    def finish(self, walk: Walk, situation: Situation) -> float:
        """The true minutes of trying the parts that the book would try."""
        cover = COVER_MINUTES if situation.closed else 0.0
        spent = 0.0
        for i in walk.tries(situation).order:
            cause = walk.table.causes[i]
            spent += float(self.technician.right[int(cause[1:])])
            if walk.table.inside[i]:
                spent, cover = spent + cover, 0.0
            if cause == self.visit.record.cause:
                return spent
        return spent + SEARCH

    def go(self, walk: Walk, policy: Policy) -> tuple[float, int, float]:
        """Go by a policy: minutes to the cause, checks made, and the minutes it was said to take."""
        node = grow(walk, policy)
        said = expected_minutes(walk, node)
        situation, spent, checks = walk.start(), 0.0, 0
        while not node.stops and node.option is not None:
            situation, minutes = self.make(walk, situation, node.option)
            spent, checks = spent + minutes, checks + 1
            node = _following(node, situation) or grow(walk, policy, situation)
        return spent + self.finish(walk, situation), checks, said

    def as_noted(self, walk: Walk) -> tuple[float, int]:
        """Make the checks that the technician made, and then try parts by the book."""
        situation, spent = walk.start(), 0.0
        for check, _ in self.visit.record.checks:
            situation, minutes = self.make(walk, situation, walk.options[check])
            spent += minutes
        return spent + self.finish(walk, situation), len(self.visit.record.checks)


def _following(node: Node, situation: Situation) -> Node | None:
    """The node of a tree that was grown already, unless nobody looked further there."""
    made = situation.made[-1]
    return next((c for c in node.children if c.situation.made[-1] == made and not c.cut), None)


def options_of(records: list[FaultRecord], technician: Technician) -> list[CheckOption]:
    """The checks with the minutes that the notes tell."""
    noted = {
        f"k{k}": [m for r in records for c, m in r.times if c == f"k{k}"] for k in range(CHECKS)
    }
    return [
        CheckOption(check, check, technician.access[int(check[1:])], median(times or [10.0]))
        for check, times in noted.items()
    ]


def sharpened(shop: Shop, power: float) -> Shop:
    """The same shop with checks that come out one way more often for each cause."""
    sharper = [c**power for c in shop.checks]
    return Shop(
        shop.intake,
        shop.causes,
        shop.symptoms,
        [c / c.sum(axis=1, keepdims=True) for c in sharper],
        shop.copying,
    )


def simulate(shops: int, faults: int, questions: int, sharper: float, seed: int) -> Tally:
    """Draw so many shops, plan so many new faults in each, and score them."""
    tally = Tally()
    for number in range(shops):
        rng = np.random.default_rng([seed, number])
        shop, technician = sharpened(draw_shop(rng), sharper), draw_technician(rng)
        records = [work(rng, shop, technician, i).record for i in range(faults)]
        book = experience_of(counts_of(records), LINEAGE, {}, fit(records, LINEAGE, {}))
        options = options_of(records, technician)
        trying = trying_minutes(durations_of(records), technician.inside)
        minutes, checks, said = [], [], []
        for _ in range(questions):
            truth = Truth(technician, work(rng, shop, technician, 0))
            family, told = truth.visit.record.family, truth.visit.told
            usual = usual_order(records, told, family, LINEAGE)
            bench = Bench(options, allowed="live", trying=trying, usual=usual)
            walk = Walk(book, rank(book, Evidence(family, told)), bench)
            ours = truth.go(walk, recommended)
            habit = truth.go(walk, in_order(usual.checks if usual else ()))
            noted = truth.as_noted(walk)
            start = walk.start()
            own = float(truth.visit.record.minutes or 0.0)
            minutes.append([ours[0], habit[0], noted[0], truth.finish(walk, start), own])
            checks.append([ours[1], habit[1], noted[1], 0.0, noted[1]])
            said.append([ours[2], habit[2], np.nan, *walk.finish([start]), np.nan])
        tally.minutes.append(minutes)
        tally.checks.append(checks)
        tally.said.append(said)
    return tally


def main(arguments: Iterable[str] | None = None) -> None:
    """Print a table for the shops as drawn, and one for the same shops with sharper checks."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=20)
    parser.add_argument("--faults", type=int, default=400)
    parser.add_argument("--questions", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sharper", type=float, nargs="+", default=[1.0, SHARPER])
    chosen = parser.parse_args(arguments)
    for sharper in chosen.sharper:
        tally = simulate(chosen.shops, chosen.faults, chosen.questions, sharper, chosen.seed)
        kind = "as drawn" if sharper == 1.0 else "with sharper checks"
        table = Printed(title=f"{chosen.shops} made-up shops {kind}, {chosen.faults} faults each")
        for heading in ("way", "checks", "minutes", "said", "the plan less it"):
            table.add_column(heading, justify="left" if heading == "way" else "right")
        ours = tally.column(tally.minutes, 0)
        for way, name in enumerate(WAYS):
            column = tally.column(tally.minutes, way)
            less = ours - column
            half = 1.96 * less.std(ddof=1) / np.sqrt(len(less))
            said = tally.column(tally.said, way).mean()
            table.add_row(
                name,
                f"{tally.column(tally.checks, way).mean():.1f}",
                f"{column.mean():.1f}",
                "" if np.isnan(said) else f"{said:.1f}",
                f"{less.mean():+.1f} ± {half:.1f}" if way else "",
            )
        Console(width=100).print(table)


if __name__ == "__main__":
    main()
