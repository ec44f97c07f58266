"""The ranking of causes, by small books that can be followed by hand."""

from __future__ import annotations

from math import exp, log

import pytest
from drawn_books import closed, tally

from kb.faults.experience import experience_of
from kb.faults.ranking import log_odds, probabilities, rank
from kb.faults.strengths import BackOff, Strengths
from kb.values import Counts, Evidence, FaultRecord, LikelyCause


def fault(cause: str, *symptoms: str, checks: tuple = (), words: str = "") -> FaultRecord:
    return FaultRecord(
        case="2021-001",
        family="piper-8",
        cause=cause,
        symptoms=closed(symptoms),
        checks=checks,
        words=frozenset(words.split()),
    )


def ask(faults: list[FaultRecord], strengths: Strengths | None = None, **evidence: object):
    book = experience_of(
        tally(faults),
        {},
        {"hum-with-light": "hum", "hum": "noise", "crackle": "noise"},
        strengths or Strengths(),
    )
    return rank(book, Evidence(family="piper-8", **evidence))


def named(ranking, cause: str) -> LikelyCause:
    return next(c for c in ranking.causes if c.cause == cause)


CAP = [fault("cap/leaky", "hum")] * 4
POT = [fault("pot/dirty", "crackle")] * 4


def test_an_empty_book_leaves_everything_to_the_unseen() -> None:
    ranking = rank(experience_of(Counts(), {}, {}), Evidence(symptoms=("hum",)))
    assert ranking.causes == ()
    assert ranking.unseen == 1.0


def test_a_book_with_one_fault_names_it_but_leaves_room() -> None:
    ranking = ask([fault("cap/leaky", "hum")])
    assert [c.cause for c in ranking.causes] == ["cap/leaky"]
    assert 0.2 < ranking.unseen < 0.95


def test_a_symptom_raises_the_cause_it_was_noted_with() -> None:
    without, with_it = ask(CAP + POT), ask(CAP + POT, symptoms=("hum",))
    assert named(with_it, "cap/leaky").probability > named(without, "cap/leaky").probability
    assert named(with_it, "pot/dirty").probability < named(without, "pot/dirty").probability


def test_a_symptom_that_is_absent_lowers_the_cause_it_was_noted_with() -> None:
    without, absent = ask(CAP + POT), ask(CAP + POT, absent=("hum",))
    assert named(absent, "cap/leaky").probability < named(without, "cap/leaky").probability


def test_of_a_symptom_and_what_it_is_a_kind_of_only_the_symptom_counts() -> None:
    both = ask(CAP + POT, symptoms=("noise", "hum"))
    assert [w.evidence for w in both.causes[0].why] == ["prior", "symptom:hum"]
    assert both == ask(CAP + POT, symptoms=("hum",))


def test_of_two_absences_the_wider_one_counts_because_it_implies_the_other() -> None:
    faults = [*CAP, *POT, fault("fuse/blown", "no-sound")]
    assert ask(faults, absent=("noise", "hum")) == ask(faults, absent=("noise",))


def test_a_symptom_nobody_noted_counts_as_what_it_is_a_kind_of_and_is_said() -> None:
    ranking = ask(CAP + POT, symptoms=("hum-with-light",))
    assert [w.evidence for w in ranking.causes[0].why] == ["prior", "symptom:hum"]
    assert ranking.notes == ("No past fault was noted with “hum-with-light”: counted as “hum”.",)


def test_what_nobody_has_seen_is_no_evidence_but_is_said() -> None:
    tapped = [fault("cap/leaky", checks=(("tap", "stays"),)), *POT]
    ranking = ask(tapped, symptoms=("glows",), absent=("smoke",), checks=(("tap", "rings"),))
    plain = ask(tapped)
    assert [c.probability for c in ranking.causes] == [c.probability for c in plain.causes]
    assert len(ranking.notes) == 3
    assert any("“tap” come out as “rings”" in note for note in ranking.notes)


def test_a_symptom_that_is_there_can_not_be_absent_as_well() -> None:
    ranking = ask(CAP + POT, symptoms=("hum",), absent=("noise",))
    assert [w.evidence for w in ranking.causes[0].why] == ["prior", "symptom:hum"]
    assert "can't be absent too" in ranking.notes[0]


def test_the_same_check_with_the_same_outcome_counts_once() -> None:
    tapped = [
        fault("cap/leaky", checks=(("tap", "stays"),)),
        fault("pot/dirty", checks=(("tap", "stops"),)),
    ]
    once = ask(tapped, checks=(("tap", "stops"),))
    assert ask(tapped, checks=(("tap", "stops"), ("tap", "stops"))) == once


def test_a_check_made_again_counts_with_its_last_outcome_and_that_is_said() -> None:
    tapped = [
        fault("cap/leaky", checks=(("tap", "stays"),)),
        fault("pot/dirty", checks=(("tap", "stops"),)),
    ]
    again = ask(tapped, checks=(("tap", "stays"), ("tap", "stops")))
    assert again.causes == ask(tapped, checks=(("tap", "stops"),)).causes
    assert again.notes == ("“tap” was made again: its later outcome “stops” counts.",)


def test_a_family_without_a_finished_fault_is_said_to_have_none() -> None:
    book = experience_of(tally(CAP), {}, {})
    assert (
        rank(book, Evidence(family="lark-echo")).notes[0].startswith("No finished fault of “lark")
    )
    assert rank(book, Evidence()).notes == ()


def test_words_of_the_complaint_are_one_reason_together() -> None:
    wet = [fault("cap/leaky", words="rain wet")] * 3 + [fault("pot/dirty", words="old")] * 3
    ranking = ask(wet, words=("wet", "rain", "zebra"))
    assert ranking.causes[0].cause == "cap/leaky"
    assert [w.evidence for w in ranking.causes[0].why] == ["prior", "text"]
    assert ranking.notes == ()


def test_words_that_always_come_together_count_less_than_their_sum() -> None:
    wet = [fault("cap/leaky", words="rain wet")] * 3 + [fault("pot/dirty", words="old")] * 3
    one, two = (
        log(named(r, "cap/leaky").probability / named(r, "pot/dirty").probability)
        for r in (ask(wet, words=("wet",)), ask(wet, words=("wet", "rain")))
    )
    assert two == pytest.approx(one * 2**0.5)


def test_reasons_come_in_one_order_whatever_was_given_first() -> None:
    faults = [
        fault(
            "cap/leaky",
            "hum",
            "crackle",
            checks=(("tap", "stays"), ("look", "burnt")),
            words="rain",
        )
    ]
    why = (
        ask(
            faults,
            words=("rain",),
            checks=(("tap", "stays"), ("look", "burnt")),
            absent=("crackle",),
            symptoms=("hum",),
        )
        .causes[0]
        .why
    )
    assert [w.evidence for w in why] == [
        "prior", "symptom:hum", "absent:crackle", "check:look=burnt", "check:tap=stays", "text",
    ]  # fmt: skip


def test_a_check_nobody_made_on_a_cause_leans_on_the_typical_cause_not_on_the_pool() -> None:
    # The culprit that the check was made for a dozen times must not make it look likely elsewhere.
    stops = [fault("valve/microphonic", checks=(("tap", "stops"),))] * 12
    stays = [fault(f"part-{i}/worn", checks=(("tap", "stays"),)) for i in range(7)]
    book = experience_of(tally([*stops, *stays, fault("cap/leaky")]), {}, {})
    rates = book.check_rates("tap")
    expected = (8 * 0 + 12 / 19) / 9  # pool as one cause more, over two outcomes that sum to 1
    with_it, against = rates["stops"].of("cap/leaky")
    assert with_it / (with_it + against) == pytest.approx(expected / (expected + (8 + 7 / 19) / 9))


def test_weight_and_rates_give_the_posterior_that_can_be_worked_by_hand() -> None:
    strengths = Strengths(
        family=BackOff(theta=2.0, discount=0.0),
        book=BackOff(theta=1.0, discount=0.0),
        symptom=1.0,
        weight=0.5,
    )
    ranking = ask([*CAP[:3], fault("pot/dirty", "crackle")], strengths, symptoms=("hum",))
    # Book: two causes known by one child each, N = 2, theta = 1. Family: N = 4, theta = 2.
    prior = {"cap": 3 / 6 + 2 / 6 / 3, "pot": 1 / 6 + 2 / 6 / 3, "unseen": 2 / 6 / 3}
    pool = 3.5 / 5  # symptom hum below noise, which all four have: share of the whole 3.5 / 5
    noise = 4.5 / 5
    share = pool / noise
    cap = (3 + share * (3 + noise) / 4) / 4
    pot = (0 + share * (1 + noise) / 2) / 2
    score = {
        "cap": prior["cap"] * cap**0.5,
        "pot": prior["pot"] * pot**0.5,
        # Three faults of one cause and one of the other: the power mean, to the power of the weight.
        "unseen": prior["unseen"] * (3 * cap**0.5 + pot**0.5) / 4,
    }
    whole = sum(score.values())
    assert named(ranking, "cap/leaky").probability == pytest.approx(score["cap"] / whole)
    assert named(ranking, "pot/dirty").probability == pytest.approx(score["pot"] / whole)
    assert ranking.unseen == pytest.approx(score["unseen"] / whole)


def test_causes_of_equal_probability_stand_in_the_order_of_their_keys() -> None:
    ranking = ask([fault("b/worn"), fault("c/worn"), fault("a/worn")])
    assert [c.cause for c in ranking.causes] == ["a/worn", "b/worn", "c/worn"]


def test_log_odds_stay_exact_when_one_cause_is_all_but_certain() -> None:
    odds = log_odds([0.0, -800.0, -801.0])
    assert odds[0] == pytest.approx(800 - log(1 + exp(-1)), abs=1e-9)
    assert odds[1] == pytest.approx(-800.0)
    assert sum(probabilities([0.0, -800.0, -801.0])) == 1.0


@pytest.mark.parametrize("wrong", [{"weight": 0.0}, {"check": 0.0}, {"symptom": -1.0}])
def test_strengths_that_would_break_the_posterior_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="above 0"):
        Strengths(**wrong)


def test_more_cases_of_the_same_kind_narrow_the_interval_of_the_leader() -> None:
    few, many = ask(CAP + POT, symptoms=("hum",)), ask((CAP + POT) * 8, symptoms=("hum",))
    width = [r.causes[0].interval[1] - r.causes[0].interval[0] for r in (few, many)]
    assert width[1] < width[0]
