"""How often a flagged weak point is none, and how many true ones are found, on made-up books.

    python tests/benchmarks/weak_points_simulation.py [--books 60] [--seed 1] [--known]

Each book has 12 families, 60 causes of very different frequency and 400 cases over six years. In
null books all families of a kind have the same causes in the same shares. In planted books eight
pairs are made 2.5 to 6 times as frequent. In every other book the intake grows by 15 % a year. No
pair has a trend. First the families are of 3 kinds and 3 in 10 causes are confined to one kind;
then, which is harder, of 6 kinds (one comparable family each) with 8 in 10 causes confined. Lines of
two families of a kind, makers of three families and the kinds are asked about too.

A last table plants one pair of given counts in a small book of ten families and about 120 cases, in
which four other pairs stand out.

With `--known` what is expected is taken as known for certain, as in DuMouchel (1999), instead of as
resting on few comparable cases: that is why the program does not.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

import kb.faults.weak_points as weak_points_module
from kb.faults.shrinkage import Pair, fit, ratios
from kb.faults.weak_points import weak_points
from kb.values_weak import FamilyGroup, FamilyVisits, FamilyWeakPoints, WeakPoint

FAMILIES, CAUSES, CASES, YEARS = 12, 60, 400, 6
PLANTED = 8
Rates = NDArray[np.float64]
Counts = NDArray[np.int64]


@dataclass(frozen=True)
class Setting:
    """How like each other the families of a book are."""

    kinds: int
    confined: float


SETTINGS = (Setting(kinds=3, confined=0.3), Setting(kinds=6, confined=0.8))


@dataclass
class Tally:
    """What was flagged and what was true, over many books."""

    books: int = 0
    flags: int = 0
    false: int = 0
    not_planted: int = 0
    books_with_false: int = 0
    false_share: list[float] = field(default_factory=list)
    many: list[bool] = field(default_factory=list)
    few: list[bool] = field(default_factory=list)
    six: list[bool] = field(default_factory=list)
    group_flags: int = 0
    group_false: int = 0
    group_books_with_false: int = 0
    trends: int = 0
    rising: int = 0
    falling: int = 0


def book(
    rng: np.random.Generator, setting: Setting, planted: bool, growing: bool
) -> tuple[list[FamilyVisits], Rates, Rates]:
    """Make a book; give it with the share of each cause in each family, and what was planted."""
    kind = np.arange(FAMILIES) % setting.kinds
    often = np.tile(rng.gamma(0.6, 1.0, CAUSES) + 0.02, (FAMILIES, 1))
    confined = rng.random(CAUSES) < setting.confined
    home = np.where(confined, rng.integers(0, setting.kinds, CAUSES), -1)
    often[(home >= 0) & (home != kind[:, None])] = 0.0
    times = np.ones((FAMILIES, CAUSES))
    for _ in range(PLANTED if planted else 0):
        family = rng.integers(FAMILIES)
        cause = rng.choice(CAUSES, p=often[family] / often[family].sum())
        times[family, cause] = rng.uniform(2.5, 6.0)
    # Failing more often brings a family to the bench more often.
    rates = often / often.sum(axis=1, keepdims=True) * times
    size = rng.lognormal(0.0, 0.5, FAMILIES) * rates.sum(axis=1)
    rates /= rates.sum(axis=1, keepdims=True)
    intake = (1.15 if growing else 1.0) ** np.arange(YEARS)
    visits = rng.multinomial(CASES, np.outer(size / size.sum(), intake / intake.sum()).ravel())
    visits = visits.reshape(FAMILIES, YEARS)
    found = np.array([[rng.multinomial(n, rates[f]) for n in visits[f]] for f in range(FAMILIES)])
    return [as_visits(f, kind[f], visits[f], found[f]) for f in range(FAMILIES)], rates, times


def as_visits(family: int, kind: int, visits: Counts, found: Counts) -> FamilyVisits:
    """Turn counts by year (and cause) into what the weak points read."""
    years = range(2019, 2019 + len(visits))
    return FamilyVisits(
        family=f"family-{family:02}",
        label=f"Family {family}",
        kind=f"kind-{kind}",
        has=frozenset(),
        visits=dict(zip(years, map(int, visits), strict=True)),
        found={
            f"item-{cause:02}/failed": {y: int(n) for y, n in zip(years, column, strict=True) if n}
            for cause, column in enumerate(found.T)
            if column.any()
        },
    )


def true_ratio(families: list[FamilyVisits], rates: Rates, family: int, cause: int) -> float:
    """Compare a pair's rate with the mean rate of the visits it is compared with."""
    others = [
        i
        for i, f in enumerate(families)
        if i != family and f.kind == families[family].kind and f.total
    ]
    visits = [families[i].total for i in others]
    if not visits:
        return float("inf")
    return float(rates[family, cause] / np.average(rates[others, cause], weights=visits))


def measure(tally: Tally, setting: Setting, seed: int, planted: bool, growing: bool) -> None:
    """Make one book, ask for its weak points, and add what came out to the tally."""
    families, rates, times = book(np.random.default_rng(seed), setting, planted, growing)
    flags = false = 0
    answers = weak_points(families, {}, groups=groups(setting))
    for i, answer in enumerate(answers.families):
        for point in answer.causes:
            cause = int(point.cause[5:7])
            ratio = true_ratio(families, rates, i, cause)
            flags += point.flag
            # In the null books every ratio is 1; rounding must not make it more.
            false += point.flag and (ratio <= 1 + 1e-9 or not planted)
            tally.not_planted += point.flag and times[i, cause] == 1
            if times[i, cause] > 1 and ratio >= 3:
                if point.count >= 15:
                    tally.many.append(point.flag)
                elif 5 <= point.count <= 7:
                    tally.few.append(point.flag)
                if point.count == 6:
                    tally.six.append(point.flag)
            if point.count >= 3:
                tally.trends += 1
                tally.rising += point.trend.direction == "rising"
                tally.falling += point.trend.direction == "falling"
    tally.books += 1
    tally.flags += flags
    tally.false += false
    tally.books_with_false += false > 0
    tally.false_share.append(false / flags if flags else 0.0)
    measure_groups(tally, families, rates, answers.groups, planted)


def groups(setting: Setting) -> list[FamilyGroup]:
    """Lines of two families of a kind, makers of three of several kinds, and the kinds."""
    found = []
    for kind in range(setting.kinds):
        of_kind = list(range(kind, FAMILIES, setting.kinds))
        if len(of_kind) > 2:  # else nothing of the kind would be left to compare a line with
            found += [("line", of_kind[n : n + 2]) for n in range(0, len(of_kind), 2)]
        found.append(("kind", of_kind))
    found += [("maker", list(range(n, n + 3))) for n in range(0, FAMILIES, 3)]
    return [
        FamilyGroup(f"{sort}-{n}", sort, sort, frozenset(f"family-{i:02}" for i in members))
        for n, (sort, members) in enumerate(found)
    ]


def measure_groups(
    tally: Tally,
    families: list[FamilyVisits],
    rates: Rates,
    answers: Sequence[FamilyWeakPoints],
    planted: bool,
) -> None:
    """Add what was flagged of lines and makers; false if no more cases than its comparables say."""
    false = 0
    for answer in answers:
        members = [int(key[7:]) for key in answer.members]
        for point in (p for p in answer.causes if p.flag):
            tally.group_flags += 1
            false += (
                not planted or group_ratio(families, rates, members, int(point.cause[5:7])) <= 1
            )
    tally.group_false += false
    tally.group_books_with_false += false > 0


def group_ratio(
    families: list[FamilyVisits], rates: Rates, members: list[int], cause: int
) -> float:
    """Compare the cases that the members' rates promise with those of their comparables' rates."""
    here = expected = 0.0
    for i in members:
        others = [
            j
            for j, f in enumerate(families)
            if j not in members and f.kind == families[i].kind and f.total
        ]
        if others:
            visits = [families[j].total for j in others]
            here += families[i].total * rates[i, cause]
            expected += families[i].total * float(np.average(rates[others, cause], weights=visits))
    return here / expected if expected else float("inf")


def small_book(rng: np.random.Generator, here: int, elsewhere: int) -> WeakPoint:
    """Plant one pair of given counts, and four strong ones, in a book of about 120 cases."""
    size = rng.integers(11, 16, 10)
    share = 1 / np.arange(3, 83)
    counts = np.array([rng.multinomial(n, share / share.sum()) for n in size])
    strong = [(1, 5, 1), (2, 4, 1), (6, 6, 1), (7, 5, 0)]
    columns = np.zeros((10, 1 + len(strong)), dtype=np.int64)
    for column, (family, n, others) in enumerate([(0, here, elsewhere), *strong]):
        columns[family, column] = n
        same = [f for f in range(10) if f // 5 == family // 5 and f != family]
        for other in rng.choice(same, others):
            columns[other, column] += 1
    for f in range(10):
        # What is planted takes the place of other cases, so that the families keep their size.
        cases = np.repeat(np.arange(80), counts[f])
        gone = rng.choice(cases, min(columns[f].sum(), len(cases)), replace=False)
        np.subtract.at(counts[f], gone, 1)
    found = np.hstack([columns, counts])
    families = [as_visits(f, f // 5, np.array([n]), found[f][None, :]) for f, n in enumerate(size)]
    answer = weak_points(families, {}, only={"family-00"}).families[0]
    return next(point for point in answer.causes if point.cause == "item-00/failed")


def as_known(pairs: Sequence[Pair]) -> list[Pair]:
    """Let what is expected rest on so many cases that it is certain."""
    return [pair._replace(backing=1e9) for pair in pairs]


def share(part: float, of: float) -> str:
    """Say a share in percent, with one standard error."""
    if not of:
        return "none"
    p = part / of
    return f"{100 * p:.1f} % ± {100 * (p * (1 - p) / of) ** 0.5:.1f}  ({part:g} of {of:g})"


def show_books(console: Console, setting: Setting, books: int, seed: int) -> None:
    """Measure null and planted books of one setting and print what came out."""
    null, planted = Tally(), Tally()
    for b in range(books):
        growing = b % 2 == 1
        measure(null, setting, 1_000_000 * seed + 2 * b, planted=False, growing=growing)
        measure(planted, setting, 1_000_000 * seed + 2 * b + 1, planted=True, growing=growing)
    both = (null, planted)
    title = f"{setting.kinds} kinds, {setting.confined:.0%} of causes confined to one"
    table = Table("measured", "null books", "planted books", title=title)
    table.add_row("flags in a book", *(f"{t.flags / t.books:.2f}" for t in both))
    table.add_row("books with a false flag", *(share(t.books_with_false, t.books) for t in both))
    means = (f"{100 * np.mean(t.false_share):.1f} %" for t in both)
    table.add_row("false part of a book's flags, mean", *means)
    table.add_row("flags not planted", *(share(t.not_planted, t.flags) for t in both))
    for name, found in (("15+", planted.many), ("5 to 7", planted.few), ("6", planted.six)):
        table.add_row(f"found: true ratio 3+, {name} cases", "", share(sum(found), len(found)))
    table.add_row(
        "books with a false flag on a line or maker",
        *(share(t.group_books_with_false, t.books) for t in both),
    )
    table.add_row(
        "false flags on lines and makers", *(share(t.group_false, t.group_flags) for t in both)
    )
    table.add_row("false rising trends", *(share(t.rising, t.trends) for t in both))
    table.add_row("false falling trends", *(share(t.falling, t.trends) for t in both))
    console.print(table)


def show_small_books(console: Console, books: int, seed: int) -> None:
    """Print how often a pair of given counts is flagged in a small book."""
    many = (0, 1, 2, 4, 6)
    heads = (f"{k} in comparable units" for k in many)
    table = Table("cases among 11 to 15 visits", *heads, title="about 50 comparable visits")
    for here in (2, 3, 4, 5, 6):
        shares = []
        for elsewhere in many:
            seeds = range(1000 * seed, 1000 * seed + books)
            flags = [small_book(np.random.default_rng(s), here, elsewhere).flag for s in seeds]
            shares.append(f"{100 * np.mean(flags):.0f} %")
        table.add_row(str(here), *shares)
    console.print(table)


def main() -> None:
    """Run the simulation and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--books", type=int, default=60, help="books of each kind")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--known", action="store_true", help="take what is expected as certain")
    options = parser.parse_args()
    if options.known:
        weak_points_module.fit = lambda pairs: fit(as_known(pairs))
        weak_points_module.ratios = lambda prior, pairs: ratios(prior, as_known(pairs))
    started = time.perf_counter()
    console = Console(width=100)
    for setting in SETTINGS:
        show_books(console, setting, options.books, options.seed)
    show_small_books(console, max(options.books // 4, 5), options.seed)
    console.print(f"{time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main()
