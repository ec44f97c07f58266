"""Why a ranking did badly, in a word, so that a shop sees what its notes lack."""

from __future__ import annotations

from kb.faults.replay.past import Past
from kb.values import Evidence, FaultRecord

FEW = 2
"""a cause with no more past faults than this is hardly known"""


def why(past: Past, record: FaultRecord, evidence: Evidence) -> str:
    """The first reason that holds for this question at this time: a key of `values_replay.WHY`."""
    if not past.knows(record.cause):
        return "new-cause"
    found = [key for key, _ in past.findings(evidence)]
    if not found:
        return "nothing-recognised"
    if past.of_family(record.family) is None:
        return "new-family"
    at = past.at[record.cause]
    symptoms = [key.partition(":")[2] for key in found if key.startswith("symptom:")]
    if symptoms and not any(past.symptoms[s][at] > 0 for s in symptoms):
        return "never-with-these-symptoms"
    return "few-cases" if past.totals[at] <= FEW else "like-others"
