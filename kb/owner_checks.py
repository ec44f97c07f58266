"""What an owner may check: from outside, harmless, and of use for the symptoms at hand."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from functools import lru_cache

from kb.notes.case import Case
from kb.notes.vocabulary import CheckTerm, Vocabulary
from kb.owner_words import NOT_FOR_OWNERS, OPENS

MOST = 3
"""a sheet is one page, and nobody works through a long list"""
_OPENS = re.compile(rf"\b(?:{OPENS})\b", re.IGNORECASE)

Habits = dict[tuple[str | None, str], Counter[str]]
"""(kind of unit, symptom) -> check -> faults that it was made on"""


def habits(cases: Iterable[Case], words: Vocabulary) -> Habits:
    """Which checks are made on which symptoms, on each kind of unit.

    A check on a symptom counts for what the symptom is a kind of as well.
    """
    found: Habits = {}
    for case in cases:
        kind = words.kind_of(case.family)
        for fault in case.faults:
            made = {one.check for one in fault.checks}
            for symptom in _with_parents((*fault.symptom, *fault.seen), words):
                found.setdefault((kind, symptom), Counter()).update(made)
    return found


def dangers(case: Case, words: Vocabulary) -> tuple[CheckTerm, ...]:
    """The checks that its symptoms ask for before anything else; empty where none is a danger."""
    symptoms = _with_parents(case.symptoms, words)
    first = (c for s in symptoms if s in words.symptoms for c in words.symptoms[s].first)
    return tuple(words.checks[c] for c in dict.fromkeys(first) if c in words.checks)


def fitting(
    family: str, symptoms: Iterable[str], known: Habits, words: Vocabulary
) -> tuple[CheckTerm, ...]:
    """The checks for an owner that were made most on these symptoms on this kind of unit."""
    kind = words.kind_of(family)
    counts: Counter[str] = Counter()
    for symptom in symptoms:
        # What was made on the symptom itself says more than what was made on its kin.
        chain = words.symptom_ancestors(symptom) or (symptom,)
        counts.update(
            next((c for s in chain if (c := _allowed(known, kind, s, family, words))), {})
        )
    ranked = sorted(counts, key=lambda check: (-counts[check], check))
    return tuple(words.checks[check] for check in ranked[:MOST])


def for_owners(check: CheckTerm, family: str, words: Vocabulary) -> bool:
    """Whether an owner may be sent to make it: nothing is opened and nothing in it can kill."""
    return (
        check.owner_ok
        and words.access_needed(check.key, family) == "outside"
        and NOT_FOR_OWNERS.isdisjoint(check.hazards)
        and not _speaks_of_opening(f"{check.label} {check.how or ''}")
    )


@lru_cache(maxsize=1024)
def _speaks_of_opening(text: str) -> bool:
    return bool(_OPENS.search(text))


def _allowed(
    known: Habits, kind: str | None, symptom: str, family: str, words: Vocabulary
) -> dict[str, int]:
    return {
        check: count
        for check, count in known.get((kind, symptom), {}).items()
        if check in words.checks and for_owners(words.checks[check], family, words)
    }


def _with_parents(symptoms: Iterable[str], words: Vocabulary) -> dict[str, None]:
    chains = (words.symptom_ancestors(symptom) or (symptom,) for symptom in symptoms)
    return dict.fromkeys(symptom for chain in chains for symptom in chain)
