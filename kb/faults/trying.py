"""What it costs to try a part: put the likeliest cause right and see whether the fault is gone.

One fault, one cause: once a part has been tried in vain, the others share what it had. Trying in
the order of probability over minutes is best (J. B. Kadane & H. A. Simon, Annals of Statistics 5
(1977) 237-255; D. Heckerman, J. S. Breese & K. Rommelse, Communications of the ACM 38(3) (1995)
49-57). What lies behind the cover needs it off first, which is paid once: the best start of that
row, taken with the cover as one piece, stands in the order by its probability over its minutes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from msgspec import Struct

from kb.faults.costs import (
    COVER_MINUTES,
    ENOUGH_FAULTS,
    LEAST_TRYING,
    RUN_UNKNOWN,
    RUNS_PAST,
    SEARCH_MINUTES,
    SLOW,
    TRYING_MINUTES,
)
from kb.faults.proportions import quantile
from kb.values import FaultRecord


class Trying(Struct, frozen=True):
    """What trying costs on this bench, in hands-on minutes.

    `minutes` is per cause, without the cover; `usual` that of any other cause. `behind` are the
    causes that sit behind the cover. `search` is charged for a cause that none of the parts tried
    turned out to be: all minutes of a slow fault of this bench.
    """

    minutes: Mapping[str, float] = {}
    usual: float = TRYING_MINUTES
    search: float = SEARCH_MINUTES
    behind: Collection[str] = frozenset()

    def of(self, cause: str) -> float:
        """The minutes to put this cause right, with the cover off already."""
        return self.minutes.get(cause, self.usual)


class Tries(Struct, frozen=True):
    """The parts to try, as places in what was given, best first; then the search begins.

    `minutes` is how long it takes on average until the cause is found and put right.
    """

    order: tuple[int, ...]
    minutes: float


class Durations(Struct, frozen=True):
    """The minutes of past faults, as tallies.

    `left` is cause -> hands-on minutes less those of the checks -> faults; `whole` all hands-on
    minutes of a fault -> faults.
    """

    left: Mapping[str, Mapping[float, float]]
    whole: Mapping[float, float]


def durations_of(
    records: Iterable[FaultRecord], check_minutes: Mapping[str, float] | None = None
) -> Durations:
    """Tally the minutes of finished faults of which they were noted.

    A check whose minutes were not noted counts with those of `check_minutes`, else with none.
    """
    usual = check_minutes or {}
    left: dict[str, dict[float, float]] = {}
    whole: dict[float, float] = {}
    for record in records:
        if not record.cause or record.minutes is None:
            continue
        noted = {check for check, _ in record.times}
        checks = sum(minutes for _, minutes in record.times)
        checks += sum(usual.get(check, 0.0) for check, _ in record.checks if check not in noted)
        rest = max(record.minutes - checks, 0.0)
        row = left.setdefault(record.cause, {})
        row[rest] = row.get(rest, 0.0) + 1.0
        whole[record.minutes] = whole.get(record.minutes, 0.0) + 1.0
    return Durations(left, whole)


def trying_minutes(durations: Durations, behind: Collection[str] = frozenset()) -> Trying:
    """What trying each cause costs: the median of its faults, leaning on that of the book.

    The median of n faults counts n times against `ENOUGH_FAULTS` times the median over all
    faults, and that in the same way against a fixed figure. What was noted holds the opening of a
    unit; it is taken off for the causes `behind` the cover, because the cover is charged by
    itself. The search is charged with the time that nine of ten faults stayed under: a cause that
    neither checks nor parts came to is a slow one.
    """
    opened = {
        cause: {max(m - COVER_MINUTES, LEAST_TRYING): n for m, n in sorted(row.items())}
        if cause in behind
        else {max(m, LEAST_TRYING): n for m, n in row.items()}
        for cause, row in durations.left.items()
    }
    every: dict[float, float] = {}
    for row in opened.values():
        for minutes, faults in row.items():
            every[minutes] = every.get(minutes, 0.0) + faults
    usual = _leaning(every, TRYING_MINUTES, 0.5)
    return Trying(
        minutes={cause: _leaning(row, usual, 0.5) for cause, row in opened.items()},
        usual=usual,
        search=_leaning(durations.whole, SEARCH_MINUTES, SLOW),
        behind=frozenset(behind),
    )


def best_tries(
    probabilities: Sequence[float],
    minutes: Sequence[float],
    search: float | None = None,
    inside: Sequence[bool] = (),
    cover: float = 0.0,
) -> Tries:
    """Which parts to try in which order, and how long it takes on average.

    `probabilities` may leave something for a cause that is none of these. After the parts in
    the order, `search` is charged once for whatever it still may be; parts not worth trying before
    that are left out. Without `search` all are tried, and what is left costs nothing. `inside`
    says of each part whether the `cover` has to come off for it.
    """
    order = trying_order(probabilities, minutes, inside, cover)
    left, spent = 1.0, 0.0
    best = search if search is not None else 0.0
    count = 0 if search is not None else len(order)
    closed = cover if inside else 0.0
    for place, i in enumerate(order, 1):
        spent += left * minutes[i]
        if closed and inside[i]:
            spent += left * closed
            closed = 0.0
        left = max(left - probabilities[i], 0.0)
        if search is not None and spent + left * search < best:
            best, count = spent + left * search, place
    return Tries(order=tuple(order[:count]), minutes=best if search is not None else spent)


def minutes_in_order(
    order: Sequence[int],
    mass: Sequence[float],
    whole: float,
    minutes: Sequence[float],
    search: float,
    inside: Sequence[bool],
    cover: float,
) -> float:
    """What trying parts in a given order takes, each cause counted with its `mass` of the `whole`.

    Divided by the whole it is the mean.
    """
    left, spent = whole, 0.0
    for i in order:
        spent += left * minutes[i]
        if inside[i] and cover:
            spent += left * cover
            cover = 0.0
        left = max(left - mass[i], 0.0)
    return spent + left * search


def expected_trying_minutes(
    probabilities: Sequence[float],
    minutes: Sequence[float],
    search: float | None = None,
    inside: Sequence[bool] = (),
    cover: float = 0.0,
) -> float:
    """How long it takes on average to try parts until it is the right one, see `best_tries`."""
    return best_tries(probabilities, minutes, search, inside, cover).minutes


def trying_order(
    probabilities: Sequence[float],
    minutes: Sequence[float],
    inside: Sequence[bool] = (),
    cover: float = 0.0,
) -> list[int]:
    """All parts in the order that takes least time on average."""
    worth = [p / m for p, m in zip(probabilities, minutes, strict=True)]
    order = sorted(range(len(worth)), key=lambda i: -worth[i])
    if not cover or not any(inside):
        return order
    best, last = 0.0, 0
    chance, spent = 0.0, cover
    row = [i for i in order if inside[i]]
    for place, i in enumerate(row):
        chance += probabilities[i]
        spent += minutes[i]
        if chance / spent > best:
            best, last = chance / spent, place
    for i in row[: last + 1]:
        worth[i] = best
    return sorted(order, key=lambda i: -worth[i])


def proving_run(onset: float | None, every: float | None) -> float:
    """How many minutes a fault that comes and goes must stay away before it counts as cured.

    `onset` from switching on to the fault, `every` the mean gap between two showings. If the
    showings come at random, three gaps without one are 1 in 20 by luck alone.
    """
    if onset is None and every is None:
        return RUN_UNKNOWN
    return (onset or 0.0) + RUNS_PAST * (every or onset or 0.0)


def _leaning(tally: Mapping[float, float], on: float, share: float) -> float:
    """The value under which a share of a tally lies, leaning on another where there is little."""
    faults = sum(tally.values())
    if not faults:
        return on
    return (faults * quantile(tally, share) + ENOUGH_FAULTS * on) / (faults + ENOUGH_FAULTS)
