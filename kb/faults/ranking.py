"""How likely each cause is, given what is known of the unit.

    P(c | family, evidence) ~ P(c | family) * product of P(e | c)^w_e

over all causes in the book and `unseen`, a cause that is not in it yet. Worked in logs.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, inf, log, log1p

from msgspec import Struct

from kb.faults.experience import Experience
from kb.faults.findings import Finding, read_evidence
from kb.faults.intervals import down, intervals, rival_means, trigamma, up
from kb.faults.prior import Prior
from kb.values import Evidence, LikelyCause, Why

LEVEL = 0.8


class Ranking(Struct, frozen=True):
    """The known causes, likeliest first, and the rest of the probability.

    The probabilities and `unseen` sum to 1. The label of each cause is its key, its `confirm`
    and `cover` are empty: those are the vocabulary's to fill.
    """

    causes: tuple[LikelyCause, ...]
    unseen: float
    level: float
    notes: tuple[str, ...] = ()


def rank(experience: Experience, evidence: Evidence, level: float = LEVEL) -> Ranking:
    """Rank the causes. `level` is that of the intervals.

    The `why` of a cause starts with the log odds of its prior; each entry after it is what one
    piece of evidence changed, taken in the order symptoms, absences, checks, text, and by key
    among those. They add up to the log odds of the probability. An entry is negative exactly when
    the evidence is less likely under this cause than under the rest, each rival weighed by what
    it had before (likelihoods taken with their weight).
    """
    causes, strengths = experience.causes, experience.strengths
    prior = experience.prior(evidence.family)
    found = read_evidence(experience, evidence)
    scores = log_prior(experience, prior)
    odds = [log_odds(scores)]
    logs = [finding.log_likelihoods(causes, strengths.weight) for finding in found.pieces]
    for finding, log_likelihoods in zip(found.pieces, logs, strict=True):
        scores = add(scores, log_likelihoods, strengths.weight_of(finding.key))
        odds.append(log_odds(scores))
    p = probabilities(scores)
    spreads = [strengths.spread_of(finding.key) for finding in found.pieces]
    ranges = intervals(
        p,
        odds[-1],
        *_variances(experience, prior, found.pieces),
        _weighing(p, logs, spreads),
        level,
    )
    keys = ["prior", *(finding.key for finding in found.pieces)]
    ranked = [
        LikelyCause(
            cause=causes[i],
            label=causes[i],
            probability=p[i],
            interval=ranges[i],
            cases=experience.counts.cases.get(causes[i], ()),
            why=tuple(
                Why(key, now[i] - before[i]) if before else Why(key, now[i])
                for key, before, now in zip(keys, [None, *odds], odds, strict=False)
            ),
        )
        for i in sorted(range(len(causes)), key=lambda i: (-p[i], causes[i]))
    ]
    notes, family = found.notes, evidence.family
    if family is not None and not experience.counts.faults.get(family):
        notes = (
            f"No finished fault of “{family}” yet: its line, its kind and the rest stand in.",
            *notes,
        )
    return Ranking(causes=tuple(ranked), unseen=p[-1], level=level, notes=notes)


def posterior(experience: Experience, evidence: Evidence) -> tuple[dict[str, float], float]:
    """The probability of each known cause, and of the unseen: those of `rank`, and nothing else.

    Many times faster, for when no reasons and no intervals are asked for.
    """
    strengths = experience.strengths
    scores = log_prior(experience, experience.prior(evidence.family))
    for finding in read_evidence(experience, evidence).pieces:
        likelihoods = finding.log_likelihoods(experience.causes, strengths.weight)
        scores = add(scores, likelihoods, strengths.weight_of(finding.key))
    *known, unseen = probabilities(scores)
    return dict(zip(experience.causes, known, strict=True)), unseen


def log_prior(experience: Experience, prior: Prior) -> list[float]:
    """The log prior of each cause in order, the unseen last."""
    return [*(log(prior.causes[cause]) for cause in experience.causes), log(prior.unseen)]


def add(scores: Sequence[float], log_likelihoods: Sequence[float], weight: float) -> list[float]:
    """The scores after one more piece of evidence."""
    return [s + weight * x for s, x in zip(scores, log_likelihoods, strict=True)]


def probabilities(scores: Sequence[float]) -> list[float]:
    """Scores in logs to probabilities that sum to 1."""
    top = max(scores)
    raised = [exp(s - top) for s in scores]
    total = sum(raised)
    return [r / total for r in raised]


def log_odds(scores: Sequence[float]) -> list[float]:
    """The log odds of each hypothesis against all others; infinite for one without a rival."""
    if len(scores) == 1:
        return [inf]
    first = max(range(len(scores)), key=scores.__getitem__)
    top = scores[first]
    raised = [exp(s - top) for s in scores]
    total = sum(raised)
    # Against the leader, the rivals are summed by themselves: 1 - p would lose them to rounding.
    rivals = [s for i, s in enumerate(scores) if i != first]
    best = max(rivals)
    lead = top - best - log(sum(exp(s - best) for s in rivals))
    return [lead if i == first else s - top - log(total - raised[i]) for i, s in enumerate(scores)]


def _variances(
    experience: Experience, prior: Prior, pieces: Sequence[Finding]
) -> tuple[list[float], list[float]]:
    """The log variances of each hypothesis downwards and upwards, the unseen last."""
    sizes = [prior.size * prior.causes[cause] for cause in experience.causes]
    sizes.append(prior.size * prior.unseen)
    downwards = [trigamma(size) for size in sizes]
    upwards = [log1p(1.0 / size) for size in sizes]
    for finding in pieces:
        part = finding.share**2
        for rates in finding.rates:
            pairs = [*(rates.of(cause) for cause in experience.causes), rates.pooled]
            for i, pair in enumerate(pairs):
                downwards[i] += part * down(pair)
                upwards[i] += part * up(pair)
    return downwards, upwards


def _weighing(
    p: Sequence[float], logs: Sequence[Sequence[float]], spreads: Sequence[float]
) -> list[float]:
    """The variance of each log odds that comes from not knowing the weights exactly.

    By the delta method: the log odds of a cause change with a weight by how much better the
    finding fits the cause than its rivals.
    """
    total = [0.0] * len(p)
    for row, spread in zip(logs, spreads, strict=True):
        for i, (own, rivals) in enumerate(zip(row, rival_means(p, row), strict=True)):
            total[i] += (spread * (own - rivals)) ** 2
    return total
