"""Shops of which everything is known, drawn from the model that the ranking assumes.

Causes: a two-parameter (Pitman-Yor) process for the book by breaking sticks, and below it one
for each kind and each family around the level above, theta and d drawn anew for every shop.
Evidence: each cause shows each symptom, and each outcome of a check, with a rate of its own. With
`copying` above 0 evidence hangs together: every second symptom, and every second check, is with
that probability a copy of the one before it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from kb.faults.prior import Place
from kb.values import Evidence, FaultRecord

Array = NDArray[np.float64]
STICKS, SYMPTOMS, CHECKS, WORDS = 500, 20, 12, 40
KINDS = ("guitar",) * 4 + ("bass",) * 3 + ("echo",) * 2 + ("piano", "mixer", "rotary")
LINEAGE = {f"model-{i:02}": Place(kind=kind) for i, kind in enumerate(KINDS)}


@dataclass
class Shop:
    """The true shares and rates: causes are numbers, a cause's key is `c<number>`."""

    intake: Array
    causes: dict[str, Array]
    symptoms: Array
    checks: list[Array]
    copying: float

    def share_unknown(self, family: str, known: set[str]) -> float:
        """How much of a family's faults has a cause that is not among these."""
        return 1.0 - float(sum(self.causes[family][int(c[1:])] for c in known))

    def fault(self, rng: np.random.Generator, number: int) -> FaultRecord:
        """Draw a fault; all its symptoms are told, and one to five checks are made."""
        family = f"model-{rng.choice(len(KINDS), p=self.intake):02}"
        cause = int(rng.choice(STICKS, p=self.causes[family]))
        noted = rng.random(SYMPTOMS) < self.symptoms[cause]
        copied = rng.random(SYMPTOMS) < self.copying
        noted[1::2] = np.where(copied[1::2], noted[0::2], noted[1::2])
        outcomes = [int(rng.choice(len(p), p=p)) for p in (c[cause] for c in self.checks)]
        for k in range(1, CHECKS, 2):
            if rng.random() < self.copying:
                outcomes[k] = outcomes[k - 1]
        made = rng.permutation(CHECKS)[: rng.integers(1, 6)]
        return FaultRecord(
            case=f"n{number:05}",
            family=family,
            cause=f"c{cause}",
            symptoms=frozenset(told := [f"s{s}" for s in np.flatnonzero(noted)]),
            at_counter=tuple(told),
            checks=tuple((f"k{k}", f"o{outcomes[k]}") for k in made),
        )

    def posterior(self, evidence: Evidence) -> Array:
        """The true probability of every cause, from the shop's own rates."""
        p = self.causes[evidence.family or ""].copy()
        noted = {int(s[1:]) for s in evidence.symptoms}
        for s in sorted(noted):
            own = self.symptoms[:, s]
            if s % 2:
                first = 1.0 if s - 1 in noted else self.symptoms[:, s - 1]
                own = self.copying * first + (1.0 - self.copying) * own
            p = p * own
        shown = {int(k[1:]): int(o[1:]) for k, o in evidence.checks}
        for k, o in sorted(shown.items()):
            own = self.checks[k][:, o]
            if k % 2:
                first = float(shown[k - 1] == o) if k - 1 in shown else self.checks[k - 1][:, o]
                own = self.copying * first + (1.0 - self.copying) * own
            p = p * own
        return np.asarray(p / p.sum())


@dataclass
class Counter:
    """What of a fault is known when it comes in: which symptoms the owner tells, in which words."""

    told: Array
    words: Array

    def dated(self, rng: np.random.Generator, fault: FaultRecord, received: dt.date) -> FaultRecord:
        """The same fault with its dates, what was told of it at the counter, and minutes."""
        noted = sorted(fault.symptoms)
        told = tuple(s for s in noted if rng.random() < self.told[int(s[1:])])
        said = np.flatnonzero(rng.random(WORDS) < self.words[int(fault.cause[1:])])
        return replace(
            fault,
            at_counter=told,
            words=frozenset(f"w{w}" for w in said),
            received=received.isoformat(),
            finished=(received + dt.timedelta(int(rng.geometric(0.12)) - 1)).isoformat(),
            times=tuple((check, float(rng.integers(2, 15))) for check, _ in fault.checks),
        )


def draw_counter(rng: np.random.Generator) -> Counter:
    """Draw how much is told: of some symptoms nearly always, others are mostly found later."""
    usual = rng.beta(0.6, 12.0, WORDS)
    return Counter(
        told=rng.beta(1.5, 1.5, SYMPTOMS),
        words=rng.beta(4.0 * usual, 4.0 * (1.0 - usual), (STICKS, WORDS)),
    )


def dated_faults(rng: np.random.Generator, shop: Shop, number: int) -> list[FaultRecord]:
    """So many faults of a shop, one to a visit, some eight a week."""
    counter = draw_counter(rng)
    days = np.cumsum(rng.geometric(0.54, number) - 1)
    first = dt.date(2001, 1, 1)
    return [
        counter.dated(rng, shop.fault(rng, i), first + dt.timedelta(int(day)))
        for i, day in enumerate(days)
    ]


def question(rng: np.random.Generator, fault: FaultRecord) -> Evidence:
    """A new fault as it is asked: up to two of its symptoms, and up to three checks so far."""
    symptoms = rng.permutation(sorted(fault.symptoms))[:2]
    checks = fault.checks[: rng.integers(0, 4)]
    return Evidence(fault.family, tuple(str(s) for s in symptoms), checks=checks)


def draw_shop(rng: np.random.Generator, copying: float = 0.0) -> Shop:
    """Draw a shop: twelve families of six kinds, some of which hardly ever come in."""
    book = _sticks(rng, np.exp(rng.uniform(np.log(8), np.log(60))), rng.uniform(0.2, 0.7))
    low, high, most = np.log(2), np.log(20), 0.5
    theta, discount = np.exp(rng.uniform(low, high, 2)), rng.uniform(0, most, 2)
    kinds = {kind: _around(rng, theta[0], discount[0], book) for kind in dict.fromkeys(KINDS)}
    causes = {
        family: _around(rng, theta[1], discount[1], kinds[place.kind or ""])
        for family, place in LINEAGE.items()
    }
    usual = rng.beta(1.0, 10.0, SYMPTOMS)
    backing = np.exp(rng.uniform(np.log(0.5), np.log(3)))
    rates = rng.beta(backing * usual, backing * (1.0 - usual), (STICKS, SYMPTOMS))
    backing = np.exp(rng.uniform(np.log(0.7), np.log(4)))
    checks = []
    for k in range(CHECKS):
        typical = rng.dirichlet([4.0, 2.0, 1.0][: 2 + k // 2 % 2])
        checks.append(rng.dirichlet(backing * typical + 1e-3, STICKS))
    return Shop(
        intake=rng.dirichlet(np.full(len(KINDS), 0.8)),
        causes=causes,
        symptoms=np.clip(rates, 1e-4, 1.0 - 1e-4),
        checks=checks,
        copying=copying,
    )


def _sticks(rng: np.random.Generator, theta: float, discount: float) -> Array:
    k = np.arange(1, STICKS + 1)
    parts = rng.beta(1.0 - discount, theta + discount * k)
    left = np.concatenate([[1.0], np.cumprod(1.0 - parts)[:-1]])
    sticks = parts * left
    return np.asarray(sticks / sticks.sum())


def _around(rng: np.random.Generator, theta: float, discount: float, above: Array) -> Array:
    which = rng.choice(STICKS, size=STICKS, p=above)
    return np.bincount(which, weights=_sticks(rng, theta, discount), minlength=STICKS)
