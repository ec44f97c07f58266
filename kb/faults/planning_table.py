"""What every check would tell and save, worked on arrays, for plans: they ask hundreds of times.

The likeliest causes have a column each; the last column is the rest, known or not, and takes
evidence like the unseen.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from kb.faults.bench import Bench, Offer
from kb.faults.costs import COVER_MINUTES
from kb.faults.experience import Experience

TRIED = 24
"""of the parts, at most so many are weighed for trying after an outcome"""
Array = NDArray[np.float64]
CONSIDERED = 0.95
"""the likeliest causes that make up this share of the known ones have a column of their own"""


class Table:
    """The rates of the checks for the causes that matter here, and what trying those takes."""

    def __init__(
        self, experience: Experience, beliefs: Sequence[tuple[str, float]], bench: Bench
    ) -> None:
        """`beliefs` are (cause, probability), likeliest first."""
        known = sum(p for _, p in beliefs)
        reached, count = 0.0, 0
        while count < len(beliefs) and reached < CONSIDERED * known:
            reached += beliefs[count][1]
            count += 1
        self.causes = tuple(cause for cause, _ in beliefs[:count])
        self.start: Array = np.array([*(p for _, p in beliefs[:count]), 1.0 - reached])
        self.minutes: Array = np.array([bench.trying_of(c) for c in self.causes])
        self.inside = np.array([c in bench.trying.behind for c in self.causes], dtype=bool)
        self.search = bench.trying.search
        self.rows: dict[str, range] = {}
        self.outcomes: list[str] = []
        self.made: dict[str, Array] = {}
        rates: list[list[float]] = []
        likelihoods: list[list[float]] = []
        strengths = experience.strengths
        for option in bench.options:
            rows = experience.check_rates(option.check)
            weight = strengths.weight_of(f"check:{option.check}")
            self.rows[option.check] = range(len(rates), len(rates) + len(rows))
            for outcome, row in rows.items():
                tempered = row.tempered(weight, strengths.weight)
                self.outcomes.append(outcome)
                rates.append([*row.means(self.causes), tempered.pooled])
                likelihoods.append(
                    [*(tempered.likelihoods.get(c, tempered.typical) for c in self.causes),
                     tempered.of_unseen]
                )  # fmt: skip
            seen = next(iter(rows.values())).made if rows else {}
            self.made[option.check] = np.array([c in seen for c in self.causes], dtype=float)
        shape = (len(rates), count + 1)
        self.rates: Array = np.array(rates).reshape(shape)
        self.likelihoods: Array = np.array(likelihoods).reshape(shape)


class Worth(Struct, frozen=True):
    """Of each offer, in their order: the bits that it tells, how far its outcomes are known, and
    the minutes that it saves beyond its own.
    """

    told: Array
    known: Array
    saves: Array


def weigh(table: Table, p: Array, offers: Sequence[Offer], closed: bool) -> Worth:
    """Weigh the offers at these probabilities, as `expect` and `stop_point` do with one."""
    blocks = [table.rows[o.option.check] for o in offers]
    rows = np.array([i for block in blocks for i in block], dtype=np.intp)
    minutes = np.array([o.minutes for o in offers])
    if not len(rows):
        return Worth(np.zeros(len(offers)), np.zeros(len(offers)), -minutes)
    owner = np.repeat(np.arange(len(offers)), [len(block) for block in blocks])
    chance = table.rates[rows] @ p
    mass = table.rates[rows] * p
    after = table.likelihoods[rows] * p
    after /= after.sum(axis=1, keepdims=True)
    left = np.bincount(owner, chance * entropies(after), len(offers))
    bits = np.maximum(entropies(p[None])[0] - left, 0.0) / np.log(2.0)
    made = np.array([table.made[o.option.check] for o in offers])
    known = np.minimum(made @ p[:-1] / max(p[:-1].sum(), 1e-300), 1.0)
    opens = np.array([o.opens for o in offers])
    shut = closed & ~opens[owner]
    later = np.bincount(owner, trying(table, after, mass, shut), len(offers))
    both = np.stack([p, p])
    now, opened = trying(table, both, both, np.array([closed, False]))
    untold = np.where(opens, opened, now)
    return Worth(
        told=np.where([bool(block) for block in blocks], bits * known, 0.0),
        known=known,
        saves=now - (known * later + (1.0 - known) * untold) - minutes,
    )


def trying(table: Table, believed: Array, mass: Array, closed: NDArray[np.bool_]) -> Array:
    """The minutes of trying parts, times the sum of the mass, for each row.

    The parts are tried as best by what is `believed`; each cause counts with its `mass`. `closed`
    says of each row whether the cover is on. The last column is the rest, which is searched for.
    """
    whole = mass.sum(axis=1)
    p = believed[:, :-1]
    if not p.shape[1]:
        return np.asarray(whole * table.search)
    worth = p / table.minutes
    if p.shape[1] > TRIED:
        best = np.argpartition(-worth, TRIED, axis=1)[:, :TRIED]
        worth = np.take_along_axis(worth, best, 1)
    else:
        best = np.broadcast_to(np.arange(p.shape[1]), p.shape)
    by_worth = np.argsort(-worth, axis=1, kind="stable")
    order, worth = np.take_along_axis(best, by_worth, 1), np.take_along_axis(worth, by_worth, 1)
    minutes, inside = table.minutes[order], table.inside[order]
    if closed.any() and inside.any():
        cover = np.where(closed, COVER_MINUTES, 0.0)[:, None]
        spent = np.cumsum(inside * minutes, axis=1) + cover
        chance = np.take_along_axis(p, order, 1)
        row = np.where(inside, np.cumsum(inside * chance, axis=1) / np.maximum(spent, 1e-9), -1.0)
        block = inside & (np.arange(order.shape[1]) <= row.argmax(axis=1)[:, None])
        key = np.where(block, row.max(axis=1)[:, None], worth)
        again = np.argsort(-key, axis=1, kind="stable")
        order, minutes, inside = (
            np.take_along_axis(values, again, 1) for values in (order, minutes, inside)
        )
        minutes = minutes + cover * (inside & (np.cumsum(inside, axis=1) == 1))

    def after_each(shares: Array, whole: Array) -> Array:
        chance = np.take_along_axis(shares, order, 1)
        reached = np.cumsum(chance, axis=1)
        spent = np.cumsum((whole[:, None] - reached + chance) * minutes, axis=1)
        found = spent + (whole[:, None] - reached) * table.search
        return np.concatenate([whole[:, None] * table.search, found], axis=1)

    tried = after_each(p, np.ones(len(p))).argmin(axis=1)[:, None]
    return np.asarray(np.take_along_axis(after_each(mass[:, :-1], whole), tried, 1)[:, 0])


def entropies(p: Array) -> Array:
    """The entropy of each row, in nats."""
    logs = np.log(p, out=np.zeros_like(p), where=p > 0)
    return np.asarray(-(p * logs).sum(axis=1))
