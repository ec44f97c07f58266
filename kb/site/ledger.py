"""What the cases say about each term: one pass over the book, plain tallies.

Ranking and comparison are not done here; these are counts that a reader could make by hand.
Causes are tallied over finished faults with a known root cause, as the statistics do.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from kb.notes.case import Case, Fault
from kb.notes.vocabulary import Vocabulary, ancestry

Cases = dict[str, list[Case]]
Tallies = dict[str, Counter[str]]


class Ledger:
    """The cases under every term they name, newest first, and the tallies between terms."""

    def __init__(self, cases: Iterable[Case], vocabulary: Vocabulary) -> None:
        self.cases: Sequence[Case] = newest_first(cases)
        self.by_family: Cases = defaultdict(list)
        """a family, or a line with its families' cases too"""
        self.by_symptom: Cases = defaultdict(list)
        """a symptom, or a broader one with the cases of its narrower ones too"""
        self.by_cause: Cases = defaultdict(list)
        self.as_damage: Cases = defaultdict(list)
        self.found_too: Cases = defaultdict(list)
        self.by_check: Cases = defaultdict(list)
        self.comebacks: Cases = defaultdict(list)
        """an earlier case -> the later ones that its fault came back in"""
        self.causes_of_symptom: Tallies = defaultdict(Counter)
        self.symptoms_of_cause: Tallies = defaultdict(Counter)
        self.families_of_cause: Tallies = defaultdict(Counter)
        self.outcomes_of_check: Tallies = defaultdict(Counter)
        self.causes_of_outcome: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        self.minutes_of_check: dict[str, list[float]] = defaultdict(list)
        for case in self.cases:
            self._enter(case, vocabulary)

    def _enter(self, case: Case, vocabulary: Vocabulary) -> None:
        for family in vocabulary.family_chain(case.family):
            self.by_family[family.key].append(case)
        for symptom in _with_broader(case.symptoms, vocabulary):
            self.by_symptom[symptom].append(case)
        for cause in case.root_causes:
            self.by_cause[cause].append(case)
            self.families_of_cause[cause][case.family] += 1
        for damage in dict.fromkeys(d for fault in case.faults for d in fault.took_with_it):
            self.as_damage[damage].append(case)
        for cause in case.found_too:
            self.found_too[cause].append(case)
        if case.comeback_of:
            self.comebacks[case.comeback_of].append(case)
        self._enter_checks(case)
        for fault in case.faults:
            if fault.root_cause and not case.is_open:
                self._enter_fault(fault, fault.root_cause, vocabulary)

    def _enter_checks(self, case: Case) -> None:
        # A check that served several faults stands in each of them, and was made once.
        shared = dict.fromkeys(made for f in case.faults for made in f.checks if made.serves)
        own = [made for f in case.faults for made in f.checks if not made.serves]
        for made in (*shared, *own):
            self.outcomes_of_check[made.check][made.outcome] += 1
            if made.minutes is not None:
                self.minutes_of_check[made.check].append(made.minutes)
        for check in dict.fromkeys(made.check for fault in case.faults for made in fault.checks):
            self.by_check[check].append(case)

    def _enter_fault(self, fault: Fault, cause: str, vocabulary: Vocabulary) -> None:
        noted = (*fault.symptom, *fault.seen)
        self.symptoms_of_cause[cause].update(dict.fromkeys(noted, 1))
        for symptom in _with_broader(noted, vocabulary):
            self.causes_of_symptom[symptom][cause] += 1
        for check, outcome in dict.fromkeys((made.check, made.outcome) for made in fault.checks):
            self.causes_of_outcome[check, outcome][cause] += 1


def newest_first(cases: Iterable[Case]) -> list[Case]:
    """The cases by the day they came in, the latest first, ties by case number."""
    return sorted(sorted(cases, key=lambda case: case.case), key=_received, reverse=True)


def ranked(tally: Counter[str]) -> list[tuple[str, int]]:
    """The entries of a tally, the most frequent first, ties by key."""
    return sorted(tally.items(), key=lambda entry: (-entry[1], entry[0]))


def _received(case: Case) -> int:
    return case.received.toordinal()


def _with_broader(symptoms: Iterable[str], vocabulary: Vocabulary) -> dict[str, None]:
    return dict.fromkeys(
        term.key for key in symptoms for term in ancestry(key, vocabulary.symptoms)
    )
