"""One note in, a case or its faults with their places out."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.case import CheckMade, Part, Quantity
from kb.notes.read_case import read_case
from kb.notes.vocabulary import Vocabulary


def only(result):
    """The one problem of a note that must have exactly one."""
    assert len(result.problems) == 1, result.problems
    return result.problems[0]


def test_six_lines_are_enough_to_open_a_case(read):
    result = read()
    assert result.problems == ()
    assert result.case.is_open
    assert result.case.received == dt.date(2024, 3, 4)
    assert result.case.faults[0].symptom == ("crackle-when-warm",)


def test_every_key_of_the_format_is_read(read):
    result = read(
        """unit: DR22-0418
built: 1996
modified: [solid-state-rectifier]
seen: [hum]
absent: hum
reproduced: sometimes
onset: 12 min
every: 20 min
checks:
  - {check: tap-valves, outcome: no-change, minutes: 3}
  - {check: freeze-spray, outcome: fault-changes, minutes: 10, at: V2 anode, note: quiet for 20 s}
finished: 2024-03-11
closed_as: repaired
root_cause: carbon-resistor/noisy
at: V2 anode resistor
confirmed_by: substitution
brought_on_by: ageing
took_with_it: [fuse/blown]
fix: replace
parts: ["100 kΩ 1 W metal film", {part: 12AX7 type valve, batch: "2351"}]
minutes: 55
proved: {run: 60 min, with: [heat, tap], result: held}
readings:
  - {at: first-filter, value: 318 V, when: as-left, state: idle, mains: 231 V}
safety: {earth-bond: 0.08 Ω, insulation: 200 MΩ, result: pass}
offered: [{do: renew the electrolytics, price: 90, owner: declined, urgency: can-wait}]
found_too: [socket/loose-contacts]
returned: 2024-03-15
comeback_of: 2023-0871
private: {owner: A. Person, phone: 01632 960123}
""",
        "\n# Warm crackle\n\nText.\n",
    )
    assert result.problems == ()
    case = result.case
    fault = case.faults[0]
    assert fault.checks[1] == CheckMade(
        "freeze-spray", "fault-changes", 10.0, "V2 anode", "quiet for 20 s"
    )
    assert fault.onset == Quantity(12, "min")
    assert fault.parts == (Part("100 kΩ 1 W metal film"), Part("12AX7 type valve", "2351"))
    assert case.readings[0].mains == Quantity(231, "V")
    assert case.safety.measured[1] == ("insulation", Quantity(200, "MΩ"))
    assert case.proved.under == ("heat", "tap")
    assert case.offered[0].price == 90
    assert case.title == "Warm crackle"
    assert case.comeback_of == "2023-0871"
    assert "960123" not in repr(case)


def test_both_forms_of_a_single_fault_give_the_same_fault(read):
    inner = "root_cause: carbon-resistor/noisy\nfix: [replace]\nminutes: 5\n"
    single = read("finished: 2024-03-05\n" + inner).case
    several = read(
        whole="---\ncase: 2024-0117\nfamily: drover-22\nreceived: 2024-03-04\ncomplaint: c\n"
        "finished: 2024-03-05\nfaults:\n  - symptom: crackle-when-warm\n"
        + "".join(f"    {line}\n" for line in inner.splitlines())
        + "---\n"
    ).case
    assert single.faults == several.faults


def test_a_check_that_served_two_faults_stands_in_both(read):
    case = read(
        whole="""---
case: A1
family: drover-22
received: 2024-03-04
complaint: two things
checks: [{check: tap-valves, outcome: no-change, for: [1, 2]}]
faults:
  - {symptom: hum}
  - {symptom: crackle, checks: [{check: freeze-spray, outcome: no-change}]}
---
"""
    ).case
    assert [c.check for c in case.faults[0].checks] == ["tap-valves"]
    assert [c.check for c in case.faults[1].checks] == ["tap-valves", "freeze-spray"]


@pytest.mark.parametrize(
    ("more", "line", "column", "message", "suggestion"),
    [
        ("sympton: hum\n", 7, 1, "unknown key", "symptom"),
        ("seen: [humm]\n", 7, 8, "unknown symptom 'humm'", "hum"),
        ("unit: [a, b]\n", 7, 7, "must be text, not a list", None),
        ("minutes: 5 min\n", 7, 10, "number of zero or more", None),
        ("received: 2024-03-05\n", 7, 1, "stands twice", None),
        ("finished: 2024-02-30\n", 7, 11, "no such day", None),
        ("finished: 4 March\n", 7, 11, "write it as 2024-03-31", None),
        ("onset: 12 minuts\n", 7, 8, "'minuts' is no unit", "minutes"),
        ("onset: 12 V\n", 7, 8, "not in s", None),
        ("onset: 12\n", 7, 8, "has no unit", None),
        ("reproduced: maybe\n", 7, 13, "unknown value of 'reproduced'", None),
        ("checks: [{check: tap-valves, outcome: no-chance}]\n", 7, 39, "outcome", "no-change"),
        ("checks: [{check: tap-valve, outcome: no-change}]\n", 7, 18, "unknown check", "tap-valves"),
        ("checks: [{outcome: no-change}]\n", 7, 10, "has no 'check'", None),
        ("readings: [{at: x, value: 3.3 kilos}]\n", 7, 27, "no unit", None),
        ("offered: [{price: 5}]\n", 7, 11, "needs 'do'", None),
        ("built: 2025\n", 7, 8, "built after", None),
        ("returned: 2024-03-09\n", 7, 11, "'finished' is missing", None),
        ("private: secret\n", 7, 10, "must be a mapping", None),
        ("root_cause: carbon-resistor/noise\n", 7, 13, "unknown cause", "carbon-resistor/noisy"),
    ],
)  # fmt: skip
def test_a_fault_is_reported_at_its_place(read, more, line, column, message, suggestion):
    result = read(more)
    assert result.case is None
    problem = only(result)
    assert (problem.line, problem.column) == (line, column)
    assert message in problem.message
    if suggestion:
        assert problem.suggestion == suggestion


def test_every_missing_needed_key_is_named(read):
    result = read(whole="---\ncase: A1\n---\n")
    named = {p.message.split("'")[1] for p in result.problems}
    assert named == {"family", "received", "complaint"}


def test_dates_out_of_order_are_an_error(read):
    problem = only(read("finished: 2024-03-03\nclosed_as: declined\n"))
    assert problem.line == 7
    assert "before it was received" in problem.message


def test_a_repaired_case_needs_its_cause_and_its_fix(read):
    assert (
        "'root_cause' is missing"
        in only(read("finished: 2024-03-05\nclosed_as: repaired\n")).message
    )
    more = "finished: 2024-03-05\nroot_cause: fuse/blown\n"
    assert "'fix' is missing" in only(read(more)).message


def test_a_declined_case_needs_no_cause(read):
    assert read("finished: 2024-03-05\nclosed_as: declined\n").case.closed_as == "declined"


def test_the_two_forms_of_faults_do_not_mix(read):
    result = read("faults: [{symptom: hum}]\n")
    problem = only(result)
    assert problem.line == 6
    assert "belongs inside an entry of 'faults'" in problem.message


def test_not_showing_is_an_outcome_of_every_check(read):
    assert read("checks: [{check: tap-valves, outcome: not-showing}]\n").case


@pytest.mark.parametrize("number", ["CON", "nul.txt", "a b", "-x", "a/b", "x.", "ä1", "a" * 65])
def test_a_case_number_must_be_a_usable_file_name_everywhere(read, number):
    text = f"---\ncase: {number}\nfamily: drover-22\nreceived: 2024-03-04\ncomplaint: c\n---\n"
    assert read(whole=text).case is None


def test_a_key_left_empty_counts_as_not_given(read):
    result = read("unit:\nfinished:\nparts:\n")
    assert result.problems == ()
    assert result.case.unit is None


def test_a_lost_comment_and_a_split_comma_are_pointed_out(read):
    warning = only(read("at: swapped V2 #5\n"))
    assert warning.severity == "warning"
    assert "#5" in warning.message
    problem = read("readings: [{at: x, value: 3,3 kΩ}]\n").problems
    assert any("comma inside { }" in p.message for p in problem)


def test_a_colon_in_a_sentence_is_explained(read):
    problem = only(read("unit: Hum: loud\n"))
    assert "quotes" in problem.message
    assert problem.line == 7


def test_a_warning_does_not_keep_a_note_out(read):
    assert read("at: swapped V2 #5\n").case is not None


@pytest.mark.parametrize(
    "link",
    ["../../../secret.jpg", "/etc/passwd", "../notes.jpg", "media/x.svg", "media/../../a.png"],
)
def test_a_media_link_may_not_lead_out_of_the_book(read, link):
    problem = only(read(body=f"one\ntwo ![x]({link})\n"))
    assert (problem.line, problem.column) == (9, 10)


def test_a_missing_photo_is_a_warning_and_a_link_is_an_error(tmp_path, words: Vocabulary):
    (tmp_path / "media").mkdir()
    (tmp_path / "outside.jpg").write_bytes(b"x")
    (tmp_path / "media" / "link.jpg").symlink_to(tmp_path / "outside.jpg")
    head = "---\ncase: A\nfamily: drover-22\nreceived: 2024-03-04\ncomplaint: c\n---\n"
    body = "![a](media/none.jpg) ![b](../../media/link.jpg)\n"
    result = read_case("cases/2024/a.md", (head + body).encode(), words, tmp_path)
    assert [(p.severity, p.line) for p in result.problems] == [("warning", 7), ("error", 7)]


def test_a_link_in_code_is_no_link(read):
    assert read(body="`![x](../../../a.jpg)`\n\n```\n[y](/etc/passwd)\n```\n").problems == ()


@given(st.text(max_size=400))
def test_any_text_at_all_is_read_without_a_crash(words: Vocabulary, text: str):
    for whole in (text, f"---\n{text}\n---\n", f"---\ncase: A\nfaults: {text}\n---\n"):
        result = read_case("cases/a.md", whole.encode("utf-8", "replace"), words)
        assert result.case is None or not any(p.severity == "error" for p in result.problems)


@given(st.binary(max_size=200))
def test_any_bytes_at_all_are_read_without_a_crash(words: Vocabulary, data: bytes):
    result = read_case("cases/a.md", data, words)
    assert result.case is None
    assert result.problems
