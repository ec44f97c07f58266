"""The owner's sheet: what is on it, what an owner may check, and how it stands by itself."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_source import CASES, HOSTILE, VOCABULARY, hostile_source
from justhtml import JustHTML
from msgspec.structs import replace
from owner_sheets_made import document, page, sheet, text
from page_reader import read

from kb import cautions
from kb.book import Book
from kb.notes.case import Case, Offer, SafetyCheck
from kb.notes.settings import Settings
from kb.notes.vocabulary import CheckTerm
from kb.owner_checks import for_owners, habits
from kb.owner_sheets import OwnerSheets, explanation
from kb.owner_words import NOT_FOR_OWNERS
from kb.site.alone import is_sheet

REPAIRED, WITH_TWO_FAULTS, OPEN, NOT_FOUND, DECLINED = CASES
GONE = Offer("New earth connection", 25, "declined", "soon")


# ---------------------------------------------------------------- what is on it


def test_it_tells_the_visit_from_the_complaint_to_the_proof() -> None:
    shown, at = text(REPAIRED), 0
    for piece in (
        "Your Heron 20", "Repaired.",
        "What you told us", "Hums loudly, worse since the summer",
        "What we found", "Noticed Hum", "Electrolytic capacitor, high series resistance",
        "This capacitor stores charge and smooths the supply.", "It came with age.",
        "Damaged by it Fuse blown", "put right on the way Valve socket, loose contacts",
        "What we did, and why", "With a good one in its place the fault was gone.",
        "We replaced it.", "47 µF 450 V", "Afterwards it ran for 60 min (warmed up, tapped and moved)",
        "the fault stayed away",
        "Earth connection", "0.08 Ω", "Insulation", "200 MΩ", "It passed.",
        "What we recommend", "GBP 12.50", "New mains lead", "You agreed to it.",
        "What you declined", "GBP 90", "Renew the remaining electrolytics", "Can wait.",
        "What you can check yourself", "What you must not do", "enough to kill",
        cautions.LOCAL_CODES, "Words on this sheet",
    ):  # fmt: skip
        found = shown.replace("\xa0", " ").find(piece, at)
        assert found >= 0, piece
        at = found


def test_every_fault_of_a_visit_is_told() -> None:
    shown = text(WITH_TWO_FAULTS)
    assert "Fault 1" in shown
    assert "Fault 2" in shown
    assert "Soldered joint, cracked" in shown


def test_every_cause_of_the_sample_book_is_explained(sample: Book) -> None:
    silent = [c for c in sample.vocabulary.causes if not explanation(c, sample.vocabulary)]
    assert silent == []


def test_a_cause_that_nobody_explained_takes_the_explanation_of_its_kind_or_none() -> None:
    own = replace(VOCABULARY.causes["fuse/blown"], key="thing/odd", parent="capacitor/failed")
    words = replace(VOCABULARY, causes={**VOCABULARY.causes, "thing/odd": own})
    assert explanation("thing/odd", words) == explanation("capacitor/failed", words) != ""
    assert explanation("thing/unheard-of", words) == ""


def test_terms_are_explained_where_they_occur_and_only_once() -> None:
    case = replace(REPAIRED, offered=(Offer("Two new filters and a relay", 5, "asked", "soon"),))
    terms = {one.label for one in sheet(case).glossary}
    assert "relay" in terms
    assert "capacitor" not in terms, "the cause explains it"
    assert "winding" not in terms


@given(
    st.lists(
        st.builds(
            Offer,
            st.sampled_from(["New earth wire", "New knob"]),
            st.none() | st.floats(0, 1e4),
            st.sampled_from([None, "accepted", "declined", "asked"]),
            st.sampled_from([None, "now", "soon", "can-wait"]),
        ),
        max_size=6,
    )
)
def test_every_offer_stands_on_it_once_and_what_was_declined_nowhere_else(
    offered: list[Offer],
) -> None:
    made = sheet(replace(REPAIRED, offered=tuple(offered)))
    standing = [*made.recommended, *made.can_wait]
    declined = [*made.declined, *made.declined_safety]
    told = sorted((o.do, str(o.price), str(o.owner), str(o.urgency)) for o in standing + declined)
    assert told == sorted((o.do, str(o.price), str(o.owner), str(o.urgency)) for o in offered)
    assert all(o.owner != "declined" for o in standing)
    assert all(o.owner == "declined" for o in declined)
    assert all("earth" in o.do or o.urgency == "now" for o in made.declined_safety)
    assert not any("earth" in o.do or o.urgency == "now" for o in made.declined)
    assert all(o.urgency == "can-wait" for o in made.can_wait)


def test_declined_safety_work_is_said_plainly_in_a_box_before_all_else() -> None:
    shown = text(replace(REPAIRED, offered=(GONE,)))
    box = shown.index("Declined: work for safe use")
    assert shown.index("New earth connection") > box
    assert shown.index("You declined it, and it has not been done.") > box
    assert box < shown.index("What you told us")
    assert shown.count("New earth connection") == 1


def test_a_unit_that_still_works_is_not_forbidden_over_work_that_was_only_due_soon() -> None:
    assert sheet(replace(REPAIRED, offered=(GONE,))).keep_off == ()


@pytest.mark.parametrize(
    "case",
    [
        replace(REPAIRED, safety=SafetyCheck((), "fail")),
        replace(REPAIRED, offered=(replace(GONE, urgency="now"),)),
        DECLINED,
        replace(DECLINED, closed_as="beyond-repair"),
        replace(OPEN, finished=dt.date(2024, 6, 9), closed_as="declined"),
        replace(OPEN, finished=dt.date(2024, 6, 9), closed_as="no-fault-found"),
    ],
    ids=["failed", "declined now", "not repaired", "beyond repair", "danger", "danger not found"],
)
def test_what_may_be_unsafe_is_to_stay_unplugged_and_names_nothing_to_check(case: Case) -> None:
    made = sheet(case)
    assert made.keep_off
    assert made.checks == ()
    shown = page(made).text
    assert shown.index("Do not plug it in") < shown.index("What you told us")
    assert "leave it unplugged" in shown


def test_what_was_repaired_and_passed_is_not_forbidden() -> None:
    assert sheet(REPAIRED).keep_off == ()


def test_a_case_on_the_bench_says_so_and_what_it_waits_for() -> None:
    made = sheet(OPEN)
    assert made.open
    assert made.state == "Still on the bench. It waits for parts to arrive."
    shown = page(made).text
    assert "What we have found so far" in shown
    assert "Smell of burning" in shown
    for piece in ("Repaired", "check yourself", "No safety measurement", "Do not plug it in"):
        assert piece not in shown


# ---------------------------------------------------------------- what an owner may check


def test_checks_are_those_made_on_such_symptoms_that_an_owner_may_make() -> None:
    assert [one.check for one in sheet(REPAIRED).checks] == ["swap-lead"]
    assert sheet(WITH_TWO_FAULTS).checks[0].check == "swap-lead"


def test_on_a_sign_of_danger_no_check_is_named_even_after_the_repair() -> None:
    burnt = replace(REPAIRED.faults[0], symptom=("smell-of-burning", "hum"))
    made = sheet(replace(REPAIRED, faults=(burnt,)))
    assert made.checks == ()
    assert made.checks_said.startswith("Nothing")


@pytest.mark.parametrize("hazard", sorted(NOT_FOR_OWNERS))
def test_a_check_with_a_hazard_of_the_inside_is_none_for_owners(hazard: str) -> None:
    check = CheckTerm(key="c", label="Look at it", owner_ok=True, hazards=(hazard,))
    assert not for_owners(check, "heron-20", replace(VOCABULARY, checks={"c": check}))


@pytest.mark.parametrize(
    "how",
    [
        "Unplug before opening the holder.",
        "Take the back panel off first.",
        "Undo two thumbscrews.",
        "With the covers off, look in.",
        "Pull the small valve straight out.",
        "Remove the grille and look.",
    ],
)
def test_a_check_that_speaks_of_opening_is_none_for_owners(how: str) -> None:
    check = CheckTerm(key="c", label="Look at it", owner_ok=True, how=how)
    assert not for_owners(check, "heron-20", replace(VOCABULARY, checks={"c": check}))


def test_a_check_is_for_owners_only_where_the_vocabulary_and_the_family_say_so() -> None:
    check = CheckTerm(key="tap-board", label="Tap", owner_ok=True, how="Covers on, tap gently.")
    words = replace(VOCABULARY, checks={"tap-board": check})
    assert for_owners(check, "kestrel-500", words)
    assert not for_owners(check, "heron-20", words), "it needs more there"
    assert not for_owners(replace(check, owner_ok=False), "kestrel-500", words)


def test_no_sheet_of_the_sample_book_sends_an_owner_inside(sample: Book) -> None:
    known = habits(sample.cases(), sample.vocabulary)
    sheets = OwnerSheets(sample.settings, sample.vocabulary, known)
    named = {check.check for case in sample.cases() for check in sheets.of(case).checks}
    assert len(named) > 5
    assert named.isdisjoint(
        {"look-at-fuse", "tap-valves", "swap-small-valve", "swap-mains-lead", "clean-heads"}
    )


# ---------------------------------------------------------------- a page of its own


def test_its_policy_allows_its_own_style_by_hash_and_nothing_else() -> None:
    made = document(sheet(REPAIRED))
    (style,) = re.findall(r"<style>(.*?)</style>", made, re.S)
    # Content Security Policy Level 3, section 6.7.2.4: base64 of the digest of the element's text.
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="(.*?)"', made)
    assert policy == (
        f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    )


@pytest.mark.parametrize("case", CASES, ids=[case.case for case in CASES])
def test_it_is_whole_by_itself_with_language_landmarks_and_headings_in_order(case: Case) -> None:
    made = document(sheet(case))
    assert JustHTML(made, collect_errors=True).errors == []
    found = page(sheet(case))
    assert found.named("html") == [{"lang": "en"}]
    assert found.named("script", "link", "img", "iframe", "a") == []
    assert not [attrs for _, attrs in found.elements if "style" in attrs]
    assert len(found.named("main")) == 1
    assert found.named("header")
    assert found.named("footer")
    levels = [int(tag[1]) for tag, _ in found.elements if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_hostile_text_stays_text() -> None:
    source = hostile_source()
    settings = Settings(title=source.title, currency=source.currency)
    sheets = OwnerSheets(settings, source.vocabulary, habits(source.cases(), source.vocabulary))
    for hostile, tame in zip(source.cases(), CASES, strict=True):
        made = page(sheets.of(hostile))
        kinds = {(tag, frozenset(attrs)) for tag, attrs in made.elements}
        # A hostile outcome or urgency is no key, so lists may be there that the tame ones lack.
        usual = {(tag, frozenset(a)) for c in CASES for tag, a in page(sheet(c)).elements}
        assert kinds <= usual
        assert made.addresses == []
        shown = HOSTILE.replace("\x00", "\ufffd").replace("\x07", "\ufffd")
        assert " ".join(shown.split()) in made.text.replace("\xa0", " ")
        assert tame.case in made.text


def test_it_is_known_again_and_nothing_else_is_taken_for_it() -> None:
    made = document(sheet(REPAIRED)).encode()
    assert is_sheet(made)
    assert not is_sheet(b"")
    assert not is_sheet(made[made.index(b"<body>") :])
    mark = b'<meta name="generator" content="benchbook owner-sheet 1">'
    assert not is_sheet(b"My thesis quotes " + mark)
    assert not is_sheet(made.replace(mark, b""))


# ---------------------------------------------------------------- on the site


def test_the_site_has_the_sheet_of_every_closed_case_and_its_page_leads_there(tame) -> None:
    made = {path.stem for path in (tame / "sheets").glob("*.html")}
    assert made == {case.case for case in CASES if not case.is_open}
    for case in CASES:
        hrefs = {attrs.get("href") for attrs in read(tame / f"cases/{case.case}.html").named("a")}
        assert (f"../sheets/{case.case}.html" in hrefs) == (not case.is_open)


def test_the_sheet_on_the_site_says_what_the_file_says(tame) -> None:
    on_site = read(tame / f"sheets/{REPAIRED.case}.html").text
    in_file = text(REPAIRED, "unit")
    whole = in_file[in_file.index("Your Heron 20") : in_file.rindex("Local codes")]
    assert whole.strip() in on_site
