"""From past faults to the strengths of the ranking."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from math import inf, log

import numpy as np
from msgspec.structs import replace

from kb.faults.counting import counts_of
from kb.faults.experience import Experience, experience_of
from kb.faults.fitting.leave_out import Array, in_content_order
from kb.faults.fitting.loss import loss_of
from kb.faults.fitting.prior import fit_prior
from kb.faults.fitting.questions import Questions
from kb.faults.fitting.weights import SPREADS, fit_weights
from kb.faults.prior import Lineage
from kb.faults.strengths import FIXED, Strengths
from kb.values import FaultRecord

LEAST_FAULTS = 20
"""a book with fewer keeps the fixed strengths"""
MOST_ASKED = 600
"""how many faults are asked at most; of a larger book those with the lowest content hash"""
LADDERS = {
    "check": (0.0625, 0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0),
    "symptom": (0.125, 0.25, 0.5, 1.0, 2.0, 4.0),
    "word": (4.0, 8.0, 16.0, 32.0, 64.0, 128.0),
}
"""the shrinkages that are tried, from the one before to the first that has no better neighbour"""
ROUNDS = 2
"""shrinkages given the weights, then weights given the shrinkages; on drawn books and the open data
a third round moved a weight by 0.05 at most"""
SPREAD_SHRINKAGE = 1.5
"""how far log shrinkage is let from that of the fixed strengths, as a standard deviation"""


def fit(
    records: Sequence[FaultRecord],
    lineage: Lineage,
    symptom_parents: Mapping[str, str],
    spreads: Sequence[float] = SPREADS,
) -> Strengths:
    """Strengths and weights from the finished faults of a book."""
    if len(records) < LEAST_FAULTS:
        return FIXED
    ordered = in_content_order(records)
    book = experience_of(counts_of(ordered), lineage, symptom_parents)
    strengths = fit_prior(ordered, book.tree, lineage)
    return fit_evidence(book, asked(ordered), strengths, spreads)


def fit_evidence(
    book: Experience,
    records: Sequence[FaultRecord],
    strengths: Strengths,
    spreads: Sequence[float] = SPREADS,
) -> Strengths:
    """Shrinkages and weights, given the prior."""
    questions = Questions(book, records, strengths)
    weights = np.full(len(questions.findings), strengths.weight)
    for left in reversed(range(ROUNDS)):
        questions.set_shrinkage(strengths)
        for kind, ladder in LADDERS.items():
            strengths = _best_shrinkage(questions, strengths, kind, ladder, weights)
        fitted = fit_weights(questions, spreads[-1:] if left else spreads)
        weights = fitted.each
        strengths = replace(strengths, weight=round(fitted.common, 4))
    return replace(
        strengths,
        spread=round(fitted.apart, 4),
        weights=_by_finding(questions, fitted.each),
        spreads=_by_finding(questions, fitted.spreads),
    )


def _by_finding(questions: Questions, values: Array) -> dict[str, float]:
    return {
        key: round(float(value), 4) for key, value in zip(questions.findings, values, strict=True)
    }


def _best_shrinkage(
    questions: Questions,
    strengths: Strengths,
    kind: str,
    ladder: Sequence[float],
    weights: Array,
) -> Strengths:
    if not len(questions.of_kind(kind)):
        return strengths
    usual = log(getattr(FIXED, kind))
    costs: dict[int, float] = {}

    def cost(at: int) -> float:
        if not 0 <= at < len(ladder):
            return inf
        if at not in costs:
            tried = replace(strengths, **{kind: ladder[at]})
            questions.set_shrinkage(tried, kind)
            pull = ((log(ladder[at]) - usual) / SPREAD_SHRINKAGE) ** 2 / 2
            costs[at] = loss_of(questions, weights) + pull
        return costs[at]

    at = ladder.index(getattr(strengths, kind))
    while cost(lower := min((at - 1, at + 1), key=cost)) < cost(at):
        at = lower
    best = replace(strengths, **{kind: ladder[at]})
    questions.set_shrinkage(best, kind)
    return best


def asked(records: Sequence[FaultRecord]) -> list[FaultRecord]:
    """Those of the faults that are asked, in the order they came."""
    if len(records) <= MOST_ASKED:
        return list(records)
    digests = [_digest(record) for record in records]
    chosen = sorted(range(len(records)), key=lambda i: (digests[i], i))[:MOST_ASKED]
    return [records[i] for i in sorted(chosen)]


def _digest(record: FaultRecord) -> bytes:
    text = f"{record.case}\n{record.family}\n{record.cause}\n{record.checks}"
    return hashlib.blake2b(text.encode(), digest_size=8).digest()
