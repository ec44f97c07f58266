"""The soybean diseases as a book: each plant a fault, its disease the cause, findings as checks.

Source and licence: see the head of `outside/data/soybean.txt`. All findings of a plant were taken
at one visit, so they count as known when it came in; a missing one is a check not made.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from msgspec import Struct

from kb.values import Evidence, FaultRecord

FAMILY = "soybean"
MISSING = "?"


class Plants(Struct, frozen=True):
    """`findings` and `diseases` by name; `values` (plants, findings), -1 missing; `disease`."""

    findings: tuple[str, ...]
    names: tuple[tuple[str, ...], ...]
    diseases: tuple[str, ...]
    values: np.ndarray
    disease: np.ndarray

    def without_duplicates(self) -> Plants:
        """Every distinct row once, in the order of first coming."""
        whole = np.column_stack([self.values, self.disease])
        first = np.sort(np.unique(whole, axis=0, return_index=True)[1])
        return Plants(
            self.findings, self.names, self.diseases, self.values[first], self.disease[first]
        )

    def checks(self, plant: int) -> tuple[tuple[str, str], ...]:
        """The findings of a plant that are not missing."""
        return tuple(
            (name, values[v])
            for name, values, v in zip(self.findings, self.names, self.values[plant], strict=True)
            if v >= 0
        )

    def records(self, plants: Iterable[int]) -> list[FaultRecord]:
        """These plants as finished faults."""
        return [
            FaultRecord(
                case=f"{i:04}",
                family=FAMILY,
                cause=self.diseases[self.disease[i]],
                checks=(made := self.checks(i)),
                at_intake=len(made),
            )
            for i in plants
        ]

    def evidence(self, plant: int) -> Evidence:
        """A plant as a question."""
        return Evidence(family=FAMILY, checks=self.checks(plant))

    def coded(self) -> np.ndarray:
        """For other methods: the values with "missing" as one value more, from 0."""
        return self.values + 1


def soybean() -> Plants:
    """Read the data."""
    path = Path(__file__).parent / "outside" / "data" / "soybean.txt"
    lines = [ln for ln in path.read_text(encoding="utf-8").splitlines() if ln[:1] not in ("#", "")]
    heads = [ln.split(": ") for ln in lines if ": " in ln]
    rows = [ln.split() for ln in lines if ": " not in ln]
    values = [[-1 if v == MISSING else int(v) for v in row] for row, _ in rows]
    return Plants(
        findings=tuple(name for name, _ in heads[:-1]),
        names=tuple(tuple(listed.split()) for _, listed in heads[:-1]),
        diseases=tuple(heads[-1][1].split()),
        values=np.array(values),
        disease=np.array([ord(letter) - ord("a") for _, letter in rows]),
    )


def folds(disease: Sequence[int] | np.ndarray, number: int, seed: int) -> np.ndarray:
    """Which fold each plant is in, every disease spread evenly."""
    rng = np.random.default_rng(seed)
    fold = np.empty(len(disease), dtype=int)
    at = 0
    for d in np.unique(disease):
        members = rng.permutation(np.flatnonzero(np.asarray(disease) == d))
        fold[members] = (np.arange(len(members)) + at) % number
        at += len(members)
    return fold
