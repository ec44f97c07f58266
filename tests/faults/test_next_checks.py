"""Which check comes next: safety first, then information for time, within the allowed access."""

from __future__ import annotations

import pytest
from drawn_books import tally

from kb.faults.costs import COVER_MINUTES
from kb.faults.experience import Experience, experience_of
from kb.faults.next_checks import Bench, Proposal, next_checks
from kb.faults.ranking import rank
from kb.values import CheckOption, Evidence, FaultRecord, NextCheck

# Two causes; each check tells them apart with its own sharpness.
SHARP, BLUNT = (1.0, 0.0), (0.7, 0.3)


def experience(**checks: tuple[float, float]) -> Experience:
    """Ten faults of each of two causes; a check comes out "yes" in these shares of them."""
    faults = []
    for cause, which in (("cap/leaky", 0), ("pot/dirty", 1)):
        for number in range(10):
            outcomes = tuple(
                (check, "yes" if number < round(10 * shares[which]) else "no")
                for check, shares in checks.items()
            )
            faults.append(FaultRecord("2021-001", "piper-8", cause, checks=outcomes))
    return experience_of(tally(faults), {}, {})


def option(check: str, **changes: object) -> CheckOption:
    given = {"access": "outside", "minutes": 5.0, "outcomes": ("yes", "no"), **changes}
    return CheckOption(check=check, label=f"Do {check}", **given)


def propose(book: Experience, *options: CheckOption, limit: int = 8, **bench: object) -> Proposal:
    made = bench.get("made", ())
    ranking = rank(book, Evidence(family="piper-8", checks=made))
    return next_checks(book, ranking, Bench(options=options, **bench), limit)


def order(proposal: Proposal) -> list[str]:
    return [c.check for c in proposal.checks]


def test_of_two_checks_that_take_as_long_the_one_that_tells_more_comes_first() -> None:
    book = experience(blunt=BLUNT, sharp=SHARP)
    proposal = propose(book, option("blunt"), option("sharp"))
    assert order(proposal) == ["sharp", "blunt"]
    assert proposal.checks[0].bits > proposal.checks[1].bits > 0


def test_of_two_checks_that_tell_as_much_the_quicker_comes_first() -> None:
    book = experience(slow=SHARP, quick=SHARP)
    proposal = propose(book, option("slow", minutes=20.0), option("quick", minutes=4.0))
    assert order(proposal) == ["quick", "slow"]


def test_a_check_that_tells_nothing_is_left_out() -> None:
    book = experience(useless=(1.0, 1.0), sharp=SHARP)
    assert order(propose(book, option("useless"), option("sharp"), option("unknown"))) == ["sharp"]


def test_no_more_checks_are_proposed_than_asked_for() -> None:
    book = experience(one=SHARP, two=BLUNT, three=BLUNT)
    options = [option(c) for c in ("one", "two", "three")]
    assert order(propose(book, *options, limit=2)) == ["one", "three"]


def test_the_cover_is_paid_once() -> None:
    book = experience(outside=SHARP, inside=SHARP, probe=BLUNT)
    options = (
        option("outside", minutes=COVER_MINUTES + 1),
        option("inside", access="open", minutes=5.0),
        option("probe", access="open", minutes=1.0),
    )
    assert order(propose(book, *options, allowed="open"))[0] == "outside"
    opened = propose(book, *options, allowed="open", made=(("probe", "not-showing"),))
    assert order(opened).index("inside") < order(opened).index("outside")


def test_waiting_unattended_costs_little() -> None:
    book = experience(soak=SHARP, fiddle=SHARP)
    proposal = propose(book, option("soak", minutes=2.0, wait=60.0), option("fiddle", minutes=10.0))
    assert order(proposal) == ["soak", "fiddle"]
    assert proposal.checks[0].wait == 60.0


def test_what_may_chase_the_fault_away_goes_late_while_it_comes_and_goes() -> None:
    book = experience(reseat=SHARP, listen=SHARP)
    options = (option("reseat", minutes=4.0, disturbs=True), option("listen", minutes=5.0))
    assert order(propose(book, *options)) == ["reseat", "listen"]
    assert order(propose(book, *options, intermittent=True)) == ["listen", "reseat"]


def test_a_check_with_an_outcome_is_not_proposed_again_but_one_not_showing_is() -> None:
    book = experience(tap=SHARP, look=SHARP)
    options = (option("tap"), option("look"))
    assert order(propose(book, *options, made=(("tap", "yes"),))) == ["look"]
    assert "tap" in order(propose(book, *options, made=(("tap", "not-showing"),)))


def test_nothing_above_the_allowed_access_is_proposed_but_it_is_said() -> None:
    book = experience(probe=SHARP, knob=BLUNT)
    proposal = propose(book, option("probe", access="live"), option("knob"), allowed="open")
    assert order(proposal) == ["knob"]
    assert len(proposal.notes) == 1
    assert "access “live”: “Do probe”" in proposal.notes[0]


def test_what_must_come_first_comes_first_even_if_it_tells_little() -> None:
    book = experience(sharp=SHARP, unplug=(0.5, 0.5))
    proposal = propose(
        book, option("sharp"), option("sniff"), option("unplug"), first=("unplug", "sniff")
    )
    assert order(proposal) == ["unplug", "sniff", "sharp"]
    assert [c.first for c in proposal.checks] == [True, True, False]
    assert proposal.checks[1].outcomes == {}


def test_what_came_first_already_is_not_asked_for_again() -> None:
    book = experience(sharp=SHARP, unplug=(0.5, 0.5))
    options = (option("sharp", needs=("powered",)), option("unplug"))
    done = propose(book, *options, first=("unplug",), made=(("unplug", "yes"),))
    assert order(done) == ["sharp"]
    again = propose(book, *options, first=("unplug",), made=(("unplug", "not-showing"),))
    assert order(again) == ["unplug"]


@pytest.mark.parametrize("need", ["powered", "warm", "signal", "fault-present"])
def test_nothing_is_switched_on_before_what_must_come_first(need: str) -> None:
    book = experience(sharp=SHARP, knob=BLUNT, unplug=(0.5, 0.5))
    options = (option("sharp", needs=(need,)), option("knob"), option("unplug"))
    proposal = propose(book, *options, first=("unplug",))
    assert order(proposal) == ["unplug", "knob"]
    assert proposal.notes[0].startswith("Held back")
    assert "“Do sharp”" in proposal.notes[0]


def test_live_work_waits_for_what_must_come_first() -> None:
    book = experience(probe=SHARP, unplug=(0.5, 0.5))
    options = (option("probe", access="live"), option("unplug"))
    assert order(propose(book, *options, first=("unplug",), allowed="live")) == ["unplug"]


def test_a_check_that_needs_another_made_with_power_on_waits_too() -> None:
    book = experience(compare=SHARP, measure=BLUNT, unplug=(0.5, 0.5))
    options = (
        option("compare", needs=("measure",)),
        option("measure", needs=("powered",)),
        option("unplug"),
    )
    assert order(propose(book, *options, first=("unplug",))) == ["unplug"]


def test_a_first_check_above_the_allowed_access_holds_everything_powered_back_and_is_said() -> None:
    book = experience(sharp=SHARP, ramp=BLUNT)
    options = (
        option("sharp", needs=("powered",)),
        option("inspect", access="open"),
        option("ramp", needs=("powered",)),
    )
    proposal = propose(book, *options, first=("inspect", "ramp"))
    assert order(proposal) == []
    assert "“Do inspect” must come before anything else" in proposal.notes[0]
    assert "“Do ramp” waits" in proposal.notes[1]


def test_a_first_check_that_this_unit_does_not_have_is_said_and_still_holds_power_back() -> None:
    book = experience(sharp=SHARP)
    proposal = propose(book, option("sharp", needs=("powered",)), first=("gone",))
    assert order(proposal) == []
    assert "“gone” must come before anything else" in proposal.notes[0]


def test_what_a_check_needs_is_added_to_its_time_and_named_first() -> None:
    book = experience(compare=SHARP, quick=SHARP)
    options = (
        option("compare", minutes=2.0, needs=("measure", "note-down")),
        option("measure", minutes=9.0, needs=("note-down",)),
        option("note-down", minutes=1.0),
        option("quick", minutes=5.0),
    )
    proposal = propose(book, *options)
    assert order(proposal) == ["quick", "compare"]
    assert proposal.checks[1].cautions == ("Make “Do note-down” first.", "Make “Do measure” first.")
    made = (("measure", "yes"), ("note-down", "yes"))
    assert order(propose(book, *options, made=made)) == ["compare", "quick"]


def test_a_check_that_must_come_first_opens_the_cover_and_meets_the_needs_of_others() -> None:
    book = experience(outside=SHARP, inside=SHARP)
    options = (
        option("outside", minutes=7.0),
        option("inside", access="open", needs=("inspect",)),
        option("inspect", access="open"),
    )
    assert order(propose(book, *options, allowed="open"))[0] == "outside"
    proposal = propose(book, *options, allowed="open", first=("inspect",))
    assert order(proposal) == ["inspect", "inside", "outside"]
    assert proposal.checks[1].cautions == ()


def test_a_check_whose_need_is_above_the_allowed_access_is_not_proposed() -> None:
    book = experience(compare=SHARP)
    options = (option("compare", needs=("measure",)), option("measure", access="open"))
    proposal = propose(book, *options)
    assert order(proposal) == []
    assert "access “open”: “Do compare”" in proposal.notes[0]


def test_checks_that_need_each_other_do_not_hang() -> None:
    book = experience(a=SHARP, b=SHARP)
    assert order(propose(book, option("a", needs=("b",)), option("b", needs=("a",)))) == ["a", "b"]


def test_each_outcome_says_what_the_ranking_would_be_then() -> None:
    book = experience(sharp=SHARP)
    proposed: NextCheck = propose(book, option("sharp")).checks[0]
    assert set(proposed.then) == set(proposed.outcomes) == {"yes", "no"}
    for outcome, leading in proposed.then.items():
        after = rank(book, Evidence(family="piper-8", checks=(("sharp", outcome),)))
        expected = {c.cause: c.probability for c in after.causes}
        assert leading == pytest.approx(expected, abs=1e-12)
        assert list(leading) == [c.cause for c in after.causes[:3]]


def test_the_text_of_the_check_and_its_hazards_are_passed_on() -> None:
    book = experience(sharp=SHARP)
    given = option("sharp", hazards=("mains",), how="Gently.", owner_ok=True)
    proposed = propose(book, given).checks[0]
    assert (proposed.hazards, proposed.how, proposed.owner_ok) == (("mains",), "Gently.", True)
    assert (proposed.label, proposed.minutes, proposed.access) == ("Do sharp", 5.0, "outside")


def test_a_check_counts_only_for_causes_in_whose_faults_it_was_made():
    """Nobody ever looked at the fuse when it crackled, so a fuse tells nothing about a crackle."""
    from kb.faults.experience import experience_of
    from kb.faults.information import Beliefs, expect
    from kb.faults.ranking import rank
    from kb.values import Counts, Evidence

    counts = Counts(
        faults={"drum": {"noisy": 9.0, "worn": 1.0, "blown": 1.0}},
        checks={
            "look-at-fuse": {"black": {"blown": 1.0}, "whole": {"worn": 1.0}},
            "tap": {"changes": {"noisy": 8.0}, "same": {"worn": 1.0, "blown": 1.0, "noisy": 1.0}},
        },
    )
    book = experience_of(counts, {}, {})
    beliefs = Beliefs.of(rank(book, Evidence(family="drum")))
    fuse, tap = expect(book, beliefs, "look-at-fuse"), expect(book, beliefs, "tap")
    assert tap.known == pytest.approx(1.0)
    assert tap.told == pytest.approx(tap.bits)
    assert 0.0 < fuse.known < 0.4
    assert fuse.told < fuse.bits
