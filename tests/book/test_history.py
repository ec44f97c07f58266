"""Comebacks, batches, looks while it is open, spares and ages, asked of whole books."""

from __future__ import annotations

import subprocess
import sys

import pytest

from kb.book import Book
from kb.errors import QuestionError

PLANTED = {
    "drover-22": "carbon-resistor/noisy",
    "brock-d500": "relay/burnt-contacts",
    "larkspur-ii": "connector/oxidised",
    "lantern-echo": "signal-transistor/noisy",
    "mole-12a": "start-resistor/open",
}


def test_every_comeback_that_a_note_names_is_found(sample: Book):
    named = {
        (c.comeback_of, c.case)
        for c in sample.cases()
        if c.comeback_of and sample.case(c.comeback_of).root_causes
    }
    assert {(c.case, c.back_as) for c in sample.comebacks().comebacks if c.how == "named"} == named
    assert len(named) >= 4


def test_cleaning_the_relay_did_not_hold_and_renewing_it_did(sample: Book):
    relays = {h.fix: h for h in sample.comebacks().fixes if h.cause == "relay/burnt-contacts"}
    assert (relays["service"].held, relays["service"].followed) == (0, 1)
    assert relays["replace"].held == relays["replace"].followed >= 4


def test_the_bad_batch_of_valves_is_the_worst_of_all(sample: Book):
    worst = sample.comebacks().batches[0]
    assert (worst.part, worst.batch, worst.held, worst.followed) == (
        "EL84 type valve",
        "2114",
        0,
        2,
    )


def test_a_line_takes_in_its_families_and_no_other(sample: Book):
    families = {c.family for c in sample.comebacks("sallow").comebacks}
    assert families == {"sallow-15", "sallow-30r"}
    whole, line = sample.comebacks().overall, sample.comebacks("sallow").overall
    assert 0 < line.fixes < whole.fixes


def test_both_units_of_the_bad_batch_have_had_it_renewed(sample: Book):
    trace = sample.batch("EL84 type valve", "2114")
    assert {f.unit for f in trace.fittings} == {"SA15-0141", "SA30-0088"}
    assert all(f.came_back_as == f.ended_by and f.carried is False for f in trace.fittings)
    assert any(f.carried for f in sample.batch("EL84").fittings)


@pytest.mark.parametrize(("family", "cause"), PLANTED.items())
def test_the_known_weak_point_is_the_first_thing_to_look_at(sample: Book, family: str, cause: str):
    first = sample.while_open(family).suggestions[0]
    assert first.cause == cause
    assert first.saved > 5


def test_with_the_valves_out_of_a_sallow_the_sockets_are_worth_the_chassis(sample: Book):
    answer = sample.while_open("sallow-30r", doing="power-valve/shorted")
    assert answer.off == "back plate"
    first = answer.suggestions[0]
    assert (first.cause, first.free) == ("valve-socket/loose-contacts", False)
    assert "power-valve/shorted" not in {s.cause for s in answer.suggestions}


def test_with_the_plate_of_a_mole_out_its_start_resistors_cost_only_a_look(sample: Book):
    answer = sample.while_open("mole-12a", doing="solder-joint/cracked")
    assert answer.off == "plate amplifier out"
    first = answer.suggestions[0]
    assert (first.cause, first.free) == ("start-resistor/open", True)


def test_the_resistors_of_the_rising_fault_are_the_first_spare_for_its_family(sample: Book):
    first = sample.drawer(["mole-12a"]).spares[0]
    assert first.part == "470 kΩ 0.6 W metal film 350 V"
    assert first.repairs == 6


def test_the_ages_at_which_the_start_resistors_went_lie_close_together(sample: Book):
    (family,) = sample.ages("mole-12a").families
    (cause,) = [c for c in family.causes if c.cause == "start-resistor/open"]
    assert cause.count == cause.known == 7
    assert cause.youngest is not None
    assert cause.oldest is not None
    assert 7.5 < cause.youngest < cause.oldest < 10


def test_a_case_on_the_bench_can_be_asked_about_by_its_number(sample: Book):
    case = next(c for c in sample.cases() if c.root_causes and c.family == "drover-22")
    answer = sample.while_open(case.case)
    assert (answer.family, answer.doing) == ("drover-22", case.root_causes[0])
    assert not set(case.root_causes) & {s.cause for s in answer.suggestions}


def test_what_to_look_at_never_comes_without_its_cautions(sample: Book):
    for family in sample.vocabulary.families:
        answer = sample.while_open(family)
        assert any("plug" in text for text in answer.cautions)
        assert all(s.cover is None or s.why for s in answer.suggestions)


def test_the_drawer_holds_a_years_parts_in_the_order_to_buy_them(sample: Book):
    answer = sample.drawer()
    assert answer.until == max(d for c in sample.cases() for d in (c.received, c.finished) if d)
    assert answer.spares[-1].coverage == 1.0
    assert answer.spares[answer.enough - 1].coverage >= answer.aim
    valve = sample.drawer(["drover", "serin-40"])
    assert valve.families == ("drover", "drover-22", "drover-50", "serin-40")
    assert {f for s in valve.spares for f in s.families} <= set(valve.families)


def test_ages_are_given_family_by_family_with_what_is_not_known(sample: Book):
    answer = sample.ages("sallow")
    assert [f.family for f in answer.families] == ["sallow-15", "sallow-30r"]
    for family in answer.families:
        built = [c.built for c in sample.cases() if c.family == family.family]
        assert family.built_unknown == built.count(None)
        assert all(c.known <= c.count for c in family.causes)
    shorted = next(c for c in answer.families[0].causes if c.cause == "power-valve/shorted")
    assert shorted.renewed == 1
    assert shorted.youngest is not None
    assert shorted.youngest < 1


def test_units_that_were_seen_again_show_in_the_repairs_over_time(sample: Book):
    (family,) = sample.ages("drover-22").families
    assert family.seen_again == 3
    means = [p.mean for p in family.repairs]
    assert means == sorted(means)
    assert all(p.interval[0] <= p.mean <= p.interval[1] for p in family.repairs)


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda b: b.comebacks("drover-2"), "unknown family"),
        (lambda b: b.batch("EL48 type valve"), "was fitted"),
        (lambda b: b.batch("EL84 type valve", "9999"), "of batch '9999'"),
        (lambda b: b.while_open("drover-2"), "no family and no case"),
        (lambda b: b.while_open("drover-22", doing="carbon-resistor/loud"), "unknown cause"),
        (lambda b: b.drawer(["nobody"]), "unknown family"),
        (lambda b: b.ages("nobody"), "unknown family"),
    ],
)
def test_an_unknown_word_is_said_with_a_hint(sample: Book, ask, says: str):
    with pytest.raises(QuestionError, match=says) as raised:
        ask(sample)
    assert raised.value.hint


def test_a_book_of_its_own_comeback_days_is_counted_by_them(make_book):
    book = make_book()
    (book.folder / "book.yaml").write_text("title: Small\ncomeback_days: 30\n", encoding="utf-8")
    for number, received, finished in (
        ("A1", "2024-01-01", "2024-01-03"),
        ("A2", "2024-02-20", "2024-02-22"),
    ):
        book.write(number, family="drover-22", unit="7", received=received, finished=finished,
                   root_cause="fuse/blown", fix="replace")  # fmt: skip
    with book.open() as opened:
        assert opened.comebacks().days == 30
        assert opened.comebacks().comebacks == ()
    (book.folder / "book.yaml").write_text("title: Small\ncomeback_days: 60\n", encoding="utf-8")
    with book.open() as opened:
        assert [c.days for c in opened.comebacks().comebacks] == [48]


def test_a_book_without_a_finished_case_answers_plainly(make_book):
    book = make_book()
    book.write("A1", family="drover-22")
    with book.open() as opened:
        assert opened.comebacks().overall.fixes == 0
        assert opened.drawer().spares == ()
        assert opened.while_open("drover-22").suggestions == ()
        assert opened.ages("drover-22").families[0].causes == ()
        assert opened.ages("lantern").families == ()


@pytest.mark.parametrize("ask", ["comebacks()", "drawer()", "ages('drover')"])
def test_these_are_answered_without_loading_scipy(ask: str, small):
    code = (
        "import sys; from kb.book import Book\n"
        f"Book.open({str(small.folder)!r}, {str(small.cache)!r}).{ask}\n"
        "sys.exit('scipy' in sys.modules)"
    )
    with small.open() as book:
        book.index()
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0
