"""Technicians for the made-up shops: a habit, minutes and covers, and notes that come of these.

A technician makes the checks in an order of his own, now and then two of them the other way round
or one not at all, until he is sure by what is true in his shop (he knows it well) or has made
eight. Then he puts parts right, likeliest for their minutes first, until the fault is gone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from drawn_shops import CHECKS, STICKS, Array, Shop
from msgspec.structs import replace

from kb.faults.costs import COVER_MINUTES
from kb.faults.trying import best_tries
from kb.notes.vocabulary import ACCESS
from kb.values import Evidence, FaultRecord

SEARCH = 150.0
"""minutes for a cause that the parts tried did not come to"""
LEAST, MOST, SURE = 2, 8, 0.9
SWAPPED, SKIPPED = 0.2, 0.15
LIKELIEST = 40


@dataclass
class Technician:
    """His order of the checks, what each takes and needs, what putting each cause right takes."""

    order: list[int]
    minutes: Array
    access: list[str]
    right: Array
    behind: list[bool]

    @property
    def inside(self) -> frozenset[str]:
        """The causes that sit behind the cover."""
        return frozenset(f"c{c}" for c, hidden in enumerate(self.behind) if hidden)

    def today(self, rng: np.random.Generator) -> list[int]:
        """The order in which he goes about it today."""
        order = [*self.order]
        for i in range(CHECKS - 1):
            if rng.random() < SWAPPED:
                order[i], order[i + 1] = order[i + 1], order[i]
        return [k for k in order if rng.random() > SKIPPED]

    def until_found(self, p: Array, cause: int, closed: bool) -> float:
        """The minutes of trying parts at these probabilities until it is this cause."""
        likeliest = np.argsort(-p, kind="stable")[:LIKELIEST]
        hidden = [self.behind[c] for c in likeliest]
        minutes = self.right[likeliest].tolist()
        cover = COVER_MINUTES if closed else 0.0
        tries = best_tries(p[likeliest].tolist(), minutes, SEARCH, hidden, cover)
        spent = 0.0
        for i in tries.order:
            spent += minutes[i] + (cover if hidden[i] else 0.0)
            cover = 0.0 if hidden[i] else cover
            if likeliest[i] == cause:
                return spent
        return spent + SEARCH


@dataclass
class Visit:
    """One fault as it was noted, what was told of it, and every outcome that would have come."""

    record: FaultRecord
    told: tuple[str, ...]
    outcomes: list[str]


def draw_technician(rng: np.random.Generator) -> Technician:
    """Draw one: checks of some 7 minutes, parts of some 23, half the checks and more inside."""
    return Technician(
        order=[int(k) for k in rng.permutation(CHECKS)],
        minutes=np.exp(rng.normal(np.log(6.0), 0.6, CHECKS)),
        access=[str(a) for a in rng.choice(ACCESS, CHECKS, p=[0.5, 0.25, 0.25])],
        right=np.exp(rng.normal(np.log(20.0), 0.5, STICKS)),
        behind=[bool(hidden) for hidden in rng.random(STICKS) < 0.6],
    )


def work(rng: np.random.Generator, shop: Shop, technician: Technician, number: int) -> Visit:
    """Draw a fault and let him find it."""
    fault = shop.fault(rng, number)
    cause = int(fault.cause[1:])
    outcomes = [f"o{rng.choice(len(c[cause]), p=c[cause])}" for c in shop.checks]
    told = tuple(str(s) for s in rng.permutation(sorted(fault.symptoms))[:2])
    made: list[tuple[str, str]] = []
    times: list[tuple[str, float]] = []
    closed, spent = True, 0.0
    p = shop.posterior(Evidence(fault.family, told))
    for k in technician.today(rng):
        if len(made) >= LEAST and (p.max() > SURE or len(made) == MOST):
            break
        made.append((f"k{k}", outcomes[k]))
        times.append((f"k{k}", round(technician.minutes[k] * np.exp(rng.normal(0.0, 0.3)), 1)))
        spent += times[-1][1]
        if closed and technician.access[k] != ACCESS[0]:
            spent, closed = spent + COVER_MINUTES, False
        p = shop.posterior(Evidence(fault.family, told, checks=tuple(made)))
    spent += technician.until_found(p, cause, closed) * np.exp(rng.normal(0.0, 0.2))
    record = replace(fault, checks=tuple(made), times=tuple(times), minutes=round(spent, 1))
    return Visit(record, told, outcomes)
