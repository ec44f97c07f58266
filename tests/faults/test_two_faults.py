"""Two faults at once: said where one cause cannot explain the evidence, and not where it can."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.faults.counting import counts_of
from kb.faults.experience import Experience, experience_of
from kb.faults.ranking import posterior
from kb.faults.strengths import Strengths
from kb.faults.two_faults import share_of_visits, two_faults
from kb.values import Evidence, FaultRecord


def book(weight: float = 1.0) -> Experience:
    """Hum always comes from capacitors, crackle from resistors, and either never with the other."""
    faults = [("capacitor", "hum"), ("resistor", "crackle"), ("head", "dull")]
    records = [
        FaultRecord(f"{cause}{i}", "model", cause, symptoms=frozenset({symptom}))
        for cause, symptom in faults
        for i in range(40)
    ]
    return experience_of(counts_of(records), {}, {}, Strengths(weight=weight))


def test_two_symptoms_that_never_came_together_are_perhaps_two_faults():
    found = two_faults(book(), Evidence("model", ("hum", "crackle")), 0.1)
    assert found is not None
    assert dict(zip(found.causes, found.explains, strict=True)) == {
        "capacitor": ("symptom:hum",),
        "resistor": ("symptom:crackle",),
    }
    assert found.probability > 0.5


def test_one_symptom_is_one_fault():
    assert two_faults(book(), Evidence("model", ("hum",)), 0.5, likely=0.0) is None


def test_symptoms_of_one_cause_are_one_fault():
    records = [
        FaultRecord(f"n{i}", "model", cause, symptoms=frozenset(symptoms))
        for cause, symptoms in (("capacitor", ("hum", "weak")), ("resistor", ("crackle",)))
        for i in range(30)
    ]
    experience = experience_of(counts_of(records), {}, {})
    assert two_faults(experience, Evidence("model", ("hum", "weak")), 0.1) is None


@pytest.mark.parametrize("share", [0.02, 0.1, 0.3])
def test_the_probability_is_that_of_bayes_rule_over_all_pairs(share):
    """Worked out here over every pair, with the rates asked one by one from the ranking."""
    experience = book()
    evidence = Evidence("model", ("hum", "crackle"))
    causes = experience.causes
    prior, unseen = posterior(experience, Evidence("model"))
    rates = {
        s: dict(zip(causes, experience.symptom_rates(s).means(causes), strict=True))
        for s in evidence.symptoms
    }
    of_unseen = {s: experience.symptom_rates(s).of_unseen(1.0) for s in evidence.symptoms}
    one = unseen * math.prod(of_unseen.values())
    one += sum(prior[c] * math.prod(rates[s][c] for s in rates) for c in causes)
    two = sum(
        2 * prior[a] * prior[b]
        * math.prod(1 - (1 - rates[s][a]) * (1 - rates[s][b]) for s in rates)
        for i, a in enumerate(causes) for b in causes[i + 1 :]
    )  # fmt: skip
    expected = share * two / (share * two + (1 - share) * one)
    found = two_faults(experience, evidence, share, likely=0.0)
    assert found.probability == pytest.approx(expected, rel=1e-9)


@settings(max_examples=25)
@given(st.permutations(["hum", "crackle", "dull"]), st.floats(0.01, 0.5))
def test_the_order_of_the_symptoms_does_not_matter(symptoms, share):
    evidence = Evidence("model", tuple(symptoms[:2]))
    turned = replace(evidence, symptoms=evidence.symptoms[::-1])
    experience = book(0.5)
    assert two_faults(experience, evidence, share, 0.0) == two_faults(
        experience, turned, share, 0.0
    )


def test_the_share_of_visits_counts_visits_and_not_their_faults():
    # 90 visits of one fault and 10 of two, which are 20 faults; a book without any stands at 5 %.
    assert share_of_visits({1.0: 90.0, 2.0: 20.0}) == pytest.approx(10.5 / 110)
    assert share_of_visits({}) == pytest.approx(0.05)
