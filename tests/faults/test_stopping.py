"""When another check is worth less than trying the likeliest part."""

from __future__ import annotations

from itertools import product

import pytest
from drawn_books import tally
from msgspec.structs import replace

from kb.faults.costs import COVER_MINUTES, WAIT_RATE
from kb.faults.experience import Experience, experience_of
from kb.faults.next_checks import Bench, Proposal, next_checks
from kb.faults.ranking import rank
from kb.faults.stopping import sentences
from kb.faults.strengths import Strengths
from kb.faults.trying import Trying
from kb.values import CheckOption, Evidence, FaultRecord

SHARP, BLUNT = (1.0, 0.0), (0.6, 0.4)
TRYING = Trying(minutes={"cap/leaky": 30.0, "pot/dirty": 30.0}, usual=30.0, search=200.0)


def experience(**checks: tuple[float, float]) -> Experience:
    """Twenty faults of each of two causes; a check comes out "yes" in these shares of them."""
    faults = [
        FaultRecord(
            "2021-001",
            "piper-8",
            cause,
            checks=tuple(
                (check, "yes" if number < round(20 * shares[which]) else "no")
                for check, shares in checks.items()
            ),
        )
        for (which, cause), number in product(enumerate(("cap/leaky", "pot/dirty")), range(20))
    ]
    return experience_of(tally(faults), {}, {}, Strengths(weight=1.0))


def option(check: str, **changes: object) -> CheckOption:
    given = {"access": "outside", "minutes": 4.0, "outcomes": ("yes", "no"), **changes}
    return CheckOption(check=check, label=f"Do {check}", **given)


def propose(book: Experience, *options: CheckOption, **bench: object) -> Proposal:
    ranking = rank(book, Evidence("piper-8", checks=bench.get("made", ())))
    return next_checks(book, ranking, Bench(options, **{"trying": TRYING, **bench}))


def test_a_quick_sharp_check_is_worth_more_than_a_part_on_the_off_chance() -> None:
    stop = propose(experience(sharp=SHARP), option("sharp")).stop
    assert stop is not None
    assert not stop.now
    assert stop.check == "sharp"
    assert 0.0 < stop.saves < 30.0


def test_a_check_that_takes_longer_than_it_saves_is_not() -> None:
    stop = propose(experience(sharp=SHARP), option("sharp", minutes=60.0)).stop
    assert stop is not None
    assert stop.now
    assert stop.saves < 0.0
    assert stop.cause == "cap/leaky"
    assert stop.minutes == 30.0


def test_once_the_cause_is_clear_it_is_tried() -> None:
    book = experience(sharp=SHARP, blunt=BLUNT)
    stop = propose(book, option("sharp"), option("blunt"), made=(("sharp", "no"),)).stop
    assert stop is not None
    assert stop.now
    assert stop.cause == "pot/dirty"
    assert stop.probability > 0.8
    said = sentences(stop, "open")
    assert said[0].startswith("From here trying “pot/dirty” (about 30 min")


def test_the_minutes_after_a_check_are_those_worked_out_the_long_way() -> None:
    book = experience(sharp=SHARP)
    stop = propose(book, option("sharp")).stop
    assert stop is not None

    def minutes(*checks: tuple[str, str]) -> float:
        ranking = rank(book, Evidence("piper-8", checks=checks))
        spent, left = 0.0, 1.0
        for cause in ranking.causes:
            spent += left * 30.0
            left -= cause.probability
        return spent + left * 200.0

    proposed = propose(book, option("sharp")).checks[0]
    later = sum(chance * minutes(("sharp", o)) for o, chance in proposed.outcomes.items())
    assert stop.expected == pytest.approx(minutes())
    assert stop.saves == pytest.approx(minutes() - 4.0 - later)


def test_nothing_is_tried_blind_that_is_hardly_likely() -> None:
    cheap = replace(TRYING, search=31.0)
    stop = propose(experience(blunt=BLUNT), option("blunt"), trying=cheap).stop
    assert stop is not None
    assert stop.cause is None
    assert not stop.now
    assert "no part is likely enough" in sentences(stop, "open")[0]


def test_while_something_must_come_first_nothing_is_tried() -> None:
    proposal = propose(
        experience(sharp=SHARP), option("sharp"), option("unplug"), first=("unplug",)
    )
    assert proposal.stop is None


def test_a_part_behind_the_cover_takes_the_cover_off_and_says_so() -> None:
    inside = replace(TRYING, behind=frozenset({"cap/leaky", "pot/dirty"}))
    book = experience(sharp=SHARP)
    stop = propose(book, option("sharp", minutes=90.0), trying=inside).stop
    assert stop is not None
    assert stop.access == "open"
    assert stop.minutes == 30.0 + COVER_MINUTES
    assert "more than is allowed here" in sentences(stop, "outside")[1]
    assert "all cautions of that access hold" in sentences(stop, "open")[1]


def test_a_fault_that_comes_and_goes_is_cured_only_after_a_long_run() -> None:
    book = experience(sharp=SHARP)
    stop = propose(book, option("sharp", minutes=90.0), intermittent=True, prove=72.0).stop
    assert stop is not None
    assert stop.prove == 72.0
    assert stop.minutes == pytest.approx(30.0 + 72.0 * WAIT_RATE)
    assert "stayed away for 72 min" in sentences(stop, "outside")[-1]


def test_a_check_that_disturbs_says_how_long_it_must_stay_away() -> None:
    book = experience(sharp=SHARP)
    proposal = propose(book, option("sharp", disturbs=True), intermittent=True, prove=72.0)
    assert "stayed away for 72 min" in proposal.checks[0].cautions[0]


def test_what_it_takes_to_go_further_is_said_with_its_time_and_its_caution() -> None:
    book = experience(probe=SHARP, peek=BLUNT)
    further = propose(
        book,
        option("probe", access="live", minutes=8.0, needs=("peek",), hazards=("high-voltage",)),
        option("peek", access="open", minutes=2.0, hazards=("stored-charge",)),
    ).further
    assert [(f.check, f.access, f.minutes, f.cover) for f in further] == [
        ("peek", "open", 2.0 + COVER_MINUTES, COVER_MINUTES),
        ("probe", "live", 10.0 + COVER_MINUTES, COVER_MINUTES),
    ]
    assert further[1].bits > further[0].bits > 0.0
    assert further[1].hazards == ("stored-charge", "high-voltage")
    assert "all cautions of that access hold" in further[1].caution
