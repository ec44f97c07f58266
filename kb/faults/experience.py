"""What the book has seen, made ready for questions, with or without one of its faults."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import replace

from kb.faults.likelihood import CheckRates, Rates, check_rates, noted_rates
from kb.faults.prior import Lineage, Prior, Tree, grow, prior, prune
from kb.faults.strengths import FIXED, Strengths
from kb.values import Counts, FaultRecord


class Experience(Struct, frozen=True):
    """Counts with what every question needs of them. Build it with `experience_of`.

    `causes` are the known causes in order, `totals` their faults, `tree` the tables of the
    prior. `seen_checks` only remembers rates already worked out.
    """

    counts: Counts
    lineage: Lineage
    symptom_parents: Mapping[str, str]
    strengths: Strengths
    causes: tuple[str, ...]
    totals: Mapping[str, float]
    tree: Tree
    seen_checks: dict[str, CheckRates]

    def prior(self, family: str | None) -> Prior:
        """The prior for a family, or for the whole book."""
        return prior(self.tree, family, self.lineage, self.strengths)

    def ancestors(self, symptom: str) -> tuple[str, ...]:
        """What a symptom is a kind of, nearest first, without itself."""
        found: list[str] = []
        parent = self.symptom_parents.get(symptom)
        while parent is not None and parent not in found and parent != symptom:
            found.append(parent)
            parent = self.symptom_parents.get(parent)
        return tuple(found)

    def knows_symptom(self, symptom: str) -> bool:
        """Whether any fault was noted with it."""
        return bool(self.counts.symptoms.get(symptom))

    def symptom_rates(self, symptom: str) -> Rates:
        """The rates of a symptom that the book knows, leaning on its ancestors."""
        chain = [self.counts.symptoms[symptom]]
        chain += [self.counts.symptoms[s] for s in self.ancestors(symptom) if self.knows_symptom(s)]
        return noted_rates(chain, self.totals, self.strengths.symptom)

    def word_rates(self, word: str) -> Rates | None:
        """The rates of a word of the complaint; None if no complaint ever held it."""
        seen = self.counts.words.get(word)
        return noted_rates([seen], self.totals, self.strengths.word) if seen else None

    def check_rates(self, check: str) -> CheckRates:
        """The rates of a check's outcomes; no outcomes if nobody has made it."""
        if check not in self.seen_checks:
            outcomes = self.counts.checks.get(check, {})
            self.seen_checks[check] = check_rates(outcomes, self.strengths.check)
        return self.seen_checks[check]

    def without(self, record: FaultRecord) -> Experience:
        """The same experience had this fault never come in.

        Raises KeyError if the counts do not hold the fault.
        """
        counts, cause, weight = self.counts, record.cause, record.weight
        family = _less(counts.faults[record.family], cause, weight)
        symptoms = {**counts.symptoms}
        for symptom in record.symptoms:
            symptoms[symptom] = _less(symptoms[symptom], cause, weight)
        words = {**counts.words}
        for word in record.words:
            words[word] = _less(words[word], cause, weight)
        checks = {**counts.checks}
        for check, outcome in set(record.checks):
            rows = {**checks[check]}
            rows[outcome] = _less(rows[outcome], cause, weight)
            checks[check] = rows
        made = {check for check, _ in record.checks}
        totals = _less(self.totals, cause, weight)
        cases = tuple(c for c in counts.cases.get(cause, ()) if c != record.case)
        return replace(
            self,
            counts=Counts(
                faults={**counts.faults, record.family: family},
                symptoms=symptoms,
                checks=checks,
                words=words,
                cases={**counts.cases, cause: cases},
            ),
            causes=self.causes if cause in totals else tuple(sorted(totals)),
            totals=totals,
            tree=prune(self.tree, record.family, cause, self.lineage, weight),
            seen_checks={k: rates for k, rates in self.seen_checks.items() if k not in made},
        )


def experience_of(
    counts: Counts,
    lineage: Lineage,
    symptom_parents: Mapping[str, str],
    strengths: Strengths = FIXED,
) -> Experience:
    """Make counts ready for questions. `symptom_parents` is symptom -> parent."""
    totals: dict[str, float] = {}
    for causes in counts.faults.values():
        for cause, count in causes.items():
            totals[cause] = totals.get(cause, 0.0) + count
    totals = {cause: totals[cause] for cause in sorted(totals) if totals[cause] > 0}
    return Experience(
        counts=counts,
        lineage=lineage,
        symptom_parents=symptom_parents,
        strengths=strengths,
        causes=tuple(totals),
        totals=totals,
        tree=grow(counts.faults, lineage),
        seen_checks={},
    )


def _less(row: Mapping[str, float], key: str, weight: float) -> dict[str, float]:
    left = {**row, key: row[key] - weight}
    if left[key] <= 0:
        del left[key]
    return left
