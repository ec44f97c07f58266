"""The fault-finding charts of a book: for which families and symptoms, from which cases."""

from __future__ import annotations

from kb.bench_tables import Counted
from kb.faults.chart import PastFault, draw, pairs_of
from kb.faults.experience import experience_of
from kb.faults.strengths import Strengths
from kb.learning import lineage, symptom_parents
from kb.notes.vocabulary import ACCESS, Vocabulary
from kb.on_the_bench import bench_for, first_checks
from kb.values_chart import Chart

MOST_CHARTS = 48
"""the best supported pairs of a book are drawn, so that a large one is written as fast"""


def fault_charts(found: Counted, words: Vocabulary, strengths: Strengths) -> tuple[Chart, ...]:
    """The charts of these faults and no others, by family and symptom.

    `strengths` are those fitted to the book. A pair with enough past faults has no chart where
    no check has enough behind it, and where a narrower symptom demands something first that the
    broader one does not: there the narrower one has to be asked for.
    """
    tallies = found.tallies
    experience = experience_of(tallies.counts, lineage(words), symptom_parents(words), strengths)
    known = [record for record in found.records if record.cause]
    with_symptom: dict[str, list[PastFault]] = {}
    for record in known:
        fault = PastFault.of(record)
        for symptom in record.symptoms:
            with_symptom.setdefault(symptom, []).append(fault)
    hasty = _hasty(words)
    charts = [
        draw(
            experience,
            family,
            symptom,
            bench_for(tallies, words, family, (symptom,), (), ACCESS[-1]),
            with_symptom[symptom],
        )
        for family, symptom in pairs_of(known, MOST_CHARTS)
        if symptom not in hasty
    ]
    return tuple(
        sorted(
            (chart for chart in charts if chart.root.step),
            key=lambda chart: (chart.family, chart.symptom),
        )
    )


def _hasty(words: Vocabulary) -> frozenset[str]:
    """Broader symptoms of which a narrower one demands checks that they do not."""
    found: set[str] = set()
    for key in words.symptoms:
        demanded = set(first_checks((key,), words))
        for above in words.symptom_ancestors(key)[1:]:
            if not demanded <= set(first_checks((above,), words)):
                found.add(above)
    return frozenset(found)
