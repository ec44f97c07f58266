"""What `Book.diagnose` answers."""

from __future__ import annotations

import pytest

from kb import cautions
from kb.errors import QuestionError


@pytest.fixture
def book(small):
    with small.open() as opened:
        yield opened


def chance(answer, cause: str) -> float:
    return next(c.probability for c in answer.causes if c.cause == cause)


def test_the_probabilities_and_the_unseen_sum_to_one(book):
    for question in ({}, {"text": "crackles"}, {"family": "drover-22", "symptoms": ["hum"]}):
        answer = book.diagnose(**question)
        total = sum(c.probability for c in answer.causes) + answer.unseen
        assert total == pytest.approx(1.0, abs=1e-9)


def test_words_of_the_owner_are_recognised_as_a_symptom(book):
    answer = book.diagnose("It crackles once it is warm")
    assert answer.recognised == ("crackle-when-warm",)
    assert answer.causes[0].cause == "carbon-resistor/noisy"
    assert "A1" in answer.causes[0].cases


def test_what_the_owner_says_is_not_there_counts_as_absent(book):
    plain = book.diagnose("it crackles")
    denied = book.diagnose("it crackles but no hum")
    tired = "electrolytic-capacitor/high-esr"
    assert chance(denied, tired) < chance(plain, tired)


def test_an_outcome_less_likely_under_a_cause_than_under_the_rest_lowers_it(sample):
    """Every outcome that the sample book knows, against every cause: the law, on real counts."""
    checked = 0
    for family in ("drover-22", "lantern-echo"):
        before = sample.diagnose(family=family)
        prior = {c.cause: c.probability for c in before.causes}
        for check in list(sample.vocabulary.checks.values())[:30]:
            for outcome in check.outcomes:
                after = sample.diagnose(family=family, checks=[(check.key, outcome)])
                for cause in after.causes:
                    effect = [w.log_odds for w in cause.why if w.evidence.startswith("check:")]
                    if effect and abs(effect[0]) > 1e-9:
                        checked += 1
                        assert (cause.probability < prior[cause.cause]) == (effect[0] < 0)
    assert checked > 1000


def test_reasons_add_up_to_the_log_odds_shown(sample):
    from math import log

    answer = sample.diagnose("crackles once it is warm", family="drover-22")
    for cause in answer.causes:
        total = sum(w.log_odds for w in cause.why)
        assert total == pytest.approx(log(cause.probability / (1 - cause.probability)), abs=1e-6)


def test_an_interval_holds_its_probability(sample):
    for cause in sample.diagnose("hums", family="sallow-15").causes:
        low, high = cause.interval
        assert 0 <= low <= cause.probability <= high <= 1


def test_nothing_above_the_allowed_access_is_proposed(sample):
    order = ["outside", "open", "live"]
    for i, access in enumerate(order):
        answer = sample.diagnose("crackles when warm", family="drover-22", access=access)
        assert answer.next_checks
        assert all(order.index(c.access) <= i for c in answer.next_checks)


def test_a_live_check_carries_its_cautions_in_full(sample):
    answer = sample.diagnose("crackles when warm", family="drover-22", access="live")
    live = [c for c in answer.next_checks if c.access == "live"]
    assert live
    for check in live:
        assert set(cautions.ACCESS["open"] + cautions.ACCESS["live"]) <= set(check.cautions)
        assert check.cautions[-1] == cautions.LOCAL_CODES


def test_what_must_come_first_comes_first_and_power_stays_off(book):
    answer = book.diagnose("smoke came out", family="drover-22", access="live")
    first = answer.next_checks[0]
    assert (first.check, first.first) == ("look-inside", True)
    assert all(c.access != "live" for c in answer.next_checks)
    assert any("leave it off and unplugged" in c for c in answer.cautions)


def test_a_first_check_beyond_the_access_is_said_and_not_proposed(book):
    answer = book.diagnose("smoke came out", family="drover-22", access="outside")
    assert all(c.check != "look-inside" for c in answer.next_checks)
    assert any("must come before anything else" in n for n in answer.notes)


def test_a_check_that_was_made_is_not_proposed_again(book):
    made = [("tap-valves", "no-change")]
    answer = book.diagnose("crackles", family="drover-22", checks=made, access="live")
    assert all(c.check != "tap-valves" for c in answer.next_checks)


def test_not_showing_changes_no_probability(book):
    plain = book.diagnose("crackles", family="drover-22")
    same = book.diagnose("crackles", family="drover-22", checks=[("tap-valves", "not-showing")])
    assert [(c.cause, c.probability) for c in plain.causes] == [
        (c.cause, c.probability) for c in same.causes
    ]


@pytest.mark.parametrize(
    ("question", "hint"),
    [
        ({"family": "drover-2"}, "drover-22"),
        ({"symptoms": ["humm"]}, "hum"),
        ({"absent": ["smok"]}, "smoke"),
        ({"checks": [("tap-valve", "no-change")]}, "tap-valves"),
        ({"checks": [("tap-valves", "loud")]}, "no-change"),
        ({"access": "inside"}, "outside"),
    ],
)
def test_an_unknown_term_is_refused_with_a_hint(book, question, hint):
    with pytest.raises(QuestionError) as caught:
        book.diagnose(**question)
    assert hint in (caught.value.hint or "")


def test_a_symptom_cannot_be_there_and_absent(book):
    with pytest.raises(QuestionError, match="both"):
        book.diagnose(symptoms=["hum"], absent=["hum"])


def test_the_heads_of_a_tape_echo_are_not_cleaned_on_a_guitar_amplifier(sample):
    answer = sample.diagnose("no sound", family="drover-22", access="live")
    assert not {c.check for c in answer.next_checks} & {"clean-heads", "clean-tape-path"}


OWNERS_WORDS = [
    ("I got an electric shock off my guitar strings", "shock"),
    ("it gave me a belt", "shock"),
    ("one of my valves was glowing bright red", "anode-glows"),
    ("stinks of burning", "burning-smell"),
    ("sparks coming out of it", "flash-inside"),
    ("my drummer knocked a pint over it", "liquid-spilt"),
    ("keeps tripping the electrics when I switch it on", "trips-breaker"),
    ("the fuse keeps going", "fuse-blew-twice"),
    ("a bang and a puff of smoke", "smoke"),
    ("gets really hot", "overheats"),
]


@pytest.mark.parametrize(("words", "symptom"), OWNERS_WORDS)
def test_danger_in_an_owners_words_is_recognised_and_keeps_the_power_off(sample, words, symptom):
    answer = sample.diagnose(words, family="drover-22", access="live")
    assert symptom in answer.recognised
    assert answer.danger
    assert answer.next_checks[0].check == "keep-off"
    needing_power = {
        c.key
        for c in sample.vocabulary.checks.values()
        if c.access == "live" or "powered" in c.needs
    }
    assert not needing_power & {c.check for c in answer.next_checks}


def test_without_a_danger_word_the_danger_is_asked_for(sample):
    answer = sample.diagnose("crackles", family="drover-22")
    assert answer.danger == ()
    assert answer.cautions[0] == cautions.ASK_DANGER


@pytest.mark.parametrize(
    ("symptom", "checks", "family"),
    [
        ("shock", ["measure-earth-bond=high", "measure-insulation=low"], "sallow-15"),
        (
            "fuse-blew-twice",
            ["measure-supply-cold=shorted", "inspect-inside=damage-seen"],
            "sallow-15",
        ),
        ("liquid-spilt", ["inspect-inside=liquid-traces", "measure-insulation=low"], "fellgate-8p"),
    ],
)
def test_a_safety_check_that_came_out_badly_keeps_the_power_off(sample, symptom, checks, family):
    made = [("keep-off", "kept-off"), *(tuple(c.split("=")) for c in checks)]
    answer = sample.diagnose(symptoms=[symptom], family=family, checks=made, access="live")
    for check in answer.next_checks:
        assert check.access != "live"
        assert "powered" not in sample.vocabulary.checks[check.check].needs
    assert any("has to be put right" in note for note in answer.notes)


def test_safety_checks_that_came_out_well_let_the_power_on_again(sample):
    made = [
        ("keep-off", "kept-off"),
        ("measure-earth-bond", "good"),
        ("measure-insulation", "good"),
    ]
    answer = sample.diagnose(symptoms=["shock"], family="sallow-15", checks=made, access="live")
    assert any("powered" in sample.vocabulary.checks[c.check].needs for c in answer.next_checks)


def test_a_family_of_which_no_hazard_was_noted_is_taken_for_the_worst(small):
    with small.open() as book:
        answer = book.diagnose("dull repeats", family="lantern", access="live", symptoms=["smoke"])
        unknown = book.diagnose("smoke", access="open")
    (inside,) = [c for c in answer.next_checks if c.access == "open"]
    assert set(cautions.WORST) <= set(inside.hazards)
    assert set(cautions.TOPICS["valves"]) <= set(unknown.cautions)


def test_a_very_long_complaint_is_refused_plainly(book):
    with pytest.raises(QuestionError, match="more than 2000"):
        book.diagnose("hum " * 1000)


def test_what_the_words_deny_is_told(sample):
    answer = sample.diagnose("crackles without any hum")
    assert (answer.recognised, answer.denied) == (("crackle",), ("hum",))


def test_a_part_that_was_a_victim_before_names_what_took_it_along(sample):
    answer = sample.diagnose(symptoms=["low-output"], family="sallow-15")
    worn = next(c for c in answer.causes if c.cause == "power-valve/worn")
    assert [(b.cause, b.label) for b in worn.behind] == [
        ("coupling-capacitor/leaky", sample.vocabulary.causes["coupling-capacitor/leaky"].label)
    ]


def test_a_modified_unit_says_so_at_the_causes_of_that_place_only(sample):
    plain = sample.diagnose(symptoms=["no-sound"], family="sallow-15")
    told = sample.diagnose(
        symptoms=["no-sound"], family="sallow-15", modified=["solid-state-rectifier"]
    )
    said = {c.cause for c in told.causes if any("This unit is modified" in r for r in c.remarks)}
    assert said
    assert all("rectifier" in f"{cause} {sample.vocabulary.causes[cause]}" for cause in said)
    assert not any("This unit" in r for c in plain.causes for r in c.remarks)
    assert [c.probability for c in told.causes] == [c.probability for c in plain.causes]


def test_the_time_it_may_take_comes_from_the_notes(sample):
    time = sample.diagnose(symptoms=["hum"]).time
    minutes = [f.minutes for c in sample.cases() for f in c.faults if f.minutes]
    assert min(minutes) <= time.middle <= time.under
    assert time.share >= 0.8


def test_a_low_reading_speaks_for_what_it_was_found_with(sample):
    plain = sample.diagnose(symptoms=["hum"], family="sallow-15")
    told = sample.diagnose(
        symptoms=["hum"], family="sallow-15", readings=["first-filter=291 V @ 230 V, idle"]
    )
    key = "check:reading:first-filter:idle=low"

    def of(answer, cause):
        return next(c for c in answer.causes if c.cause == cause)

    capacitor = of(told, "electrolytic-capacitor/high-esr")
    assert [w.log_odds > 0 for w in capacitor.why if w.evidence == key] == [True]
    assert capacitor.probability > of(plain, "electrolytic-capacitor/high-esr").probability
    assert any("is low for this family" in note for note in told.notes)
    assert sum(c.probability for c in told.causes) + told.unseen == pytest.approx(1.0)


def test_a_reading_that_nothing_can_be_held_against_is_said_and_not_counted(sample):
    plain = sample.diagnose(symptoms=["hum"], family="sallow-15")
    told = sample.diagnose(
        symptoms=["hum"], family="sallow-15", readings=["no-such-point=3 V, idle"]
    )
    assert [c.probability for c in told.causes] == [c.probability for c in plain.causes]
    assert any("was not counted" in note for note in told.notes)


def test_a_reading_without_a_family_asks_for_one(sample):
    with pytest.raises(QuestionError, match="family"):
        sample.diagnose(symptoms=["hum"], readings=["first-filter=291 V"])


@pytest.mark.parametrize("access", ["outside", "open", "live"])
def test_a_plan_keeps_to_the_allowed_access_and_what_must_come_first(sample, access):
    answer = sample.diagnose(
        symptoms=["burning-smell"], family="sallow-15", access=access, plan=True
    )
    allowed = ["outside", "open", "live"][: ["outside", "open", "live"].index(access) + 1]
    assert {s.access for s in answer.plan.steps} <= set(allowed)
    first = [s.first for s in answer.plan.steps]
    assert first == sorted(first, reverse=True)
    assert answer.plan.expected > 0
    assert all(f.access not in allowed for f in answer.further)


def test_a_plan_is_only_made_where_it_is_asked_for(sample):
    assert sample.diagnose(symptoms=["hum"]).plan is None
