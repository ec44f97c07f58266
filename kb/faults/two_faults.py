"""Whether one cause explains what is known, or two would do it so much better.

Nothing is wrong with a unit having two faults; they are rarer than one. So the two stories are
weighed by Bayes' rule: with one cause the evidence is as likely as the ranking finds it, with two
a symptom is there if either brings it (for rare symptoms the usual "noisy or": J. Pearl,
Probabilistic Reasoning in Intelligent Systems, 1988, section 4.3.2), a symptom is absent if
neither does, and a check shows the one or the other, which of them nobody can know.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, log

from kb.faults.experience import Experience
from kb.faults.findings import Finding, read_evidence
from kb.faults.ranking import add, log_prior
from kb.values import Evidence, TwoFaults

LIKELY = 1.0 / 3.0
"""from this probability on it is said"""
PER_FINDING = 10
"""causes taken from each finding: pairs of others are left out, which speaks against two"""
NOBODY_SAID = (0.5, 10.0)
"""visits with several faults, and all visits, that the book's own are added to: judgement"""


def share_of_visits(visits: Mapping[float, float]) -> float:
    """The share of visits that had several faults; `visits` is faults of a visit -> faults."""
    few, all_of_them = NOBODY_SAID
    several = sum(faults / n for n, faults in visits.items() if n > 1)
    return (several + few) / (sum(faults / n for n, faults in visits.items()) + all_of_them)


def two_faults(
    experience: Experience, evidence: Evidence, share: float, likely: float = LIKELY
) -> TwoFaults | None:
    """The two causes that explain the evidence together, if that is likelier than one cause.

    `share` is how many visits have several faults. None if fewer than two findings speak, the
    book knows fewer than two causes, or the probability of two is below `likely`.
    """
    pieces = [f for f in read_evidence(experience, evidence).pieces if f.key != "text"]
    if sum(f.key.startswith("symptom:") for f in pieces) < 2 or len(experience.causes) < 2:
        return None
    strengths = experience.strengths
    start = log_prior(experience, experience.prior(evidence.family))
    weights = [strengths.weight_of(f.key) for f in pieces]
    logs = [f.log_likelihoods(experience.causes, strengths.weight) for f in pieces]
    one = start
    for row, weight in zip(logs, weights, strict=True):
        one = add(one, row, weight)
    chosen = _chosen(start, logs, weights)
    pairs = [
        (a, b, log(2.0) + start[a] + start[b] + _together(pieces, logs, weights, a, b))
        for i, a in enumerate(chosen)
        for b in chosen[i + 1 :]
    ]
    first, second, _ = max(pairs, key=lambda pair: pair[2])
    difference = log(share / (1.0 - share)) + _log_sum([x for _, _, x in pairs]) - _log_sum(one)
    probability = 1.0 / (1.0 + exp(min(-difference, 700.0)))
    if probability < likely:
        return None
    explains: tuple[list[str], list[str]] = ([], [])
    for finding, row in zip(pieces, logs, strict=True):
        if finding.key.startswith("symptom:"):
            explains[row[second] > row[first]].append(finding.key)
    causes = experience.causes
    return TwoFaults(
        probability=probability,
        causes=(causes[first], causes[second]),
        explains=(tuple(explains[0]), tuple(explains[1])),
    )


def _chosen(
    start: Sequence[float], logs: Sequence[Sequence[float]], weights: Sequence[float]
) -> list[int]:
    """The causes that explain one finding best each; the unseen at the end is no partner."""
    known = range(len(start) - 1)
    found: set[int] = set()
    for row, weight in zip(logs, weights, strict=True):
        found.update(sorted(known, key=lambda i: -(start[i] + weight * row[i]))[:PER_FINDING])
    return sorted(found)


def _together(
    pieces: Sequence[Finding],
    logs: Sequence[Sequence[float]],
    weights: Sequence[float],
    a: int,
    b: int,
) -> float:
    total = 0.0
    for finding, row, weight in zip(pieces, logs, weights, strict=True):
        if finding.key.startswith("symptom:"):
            p, q = exp(row[a]), exp(row[b])
            total += weight * log(p + q - p * q)
        elif finding.key.startswith("absent:"):
            total += weight * (row[a] + row[b])
        else:
            total += weight * log((exp(row[a]) + exp(row[b])) / 2.0)
    return total


def _log_sum(logs: Sequence[float]) -> float:
    top = max(logs)
    return top + log(sum(exp(x - top) for x in logs))
