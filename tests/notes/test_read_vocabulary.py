"""The vocabulary in, its terms and its faults out."""

from __future__ import annotations

from kb.notes.read_vocabulary import Settings, read_settings, read_vocabulary
from kb.notes.vocabulary import Vocabulary, nearest


def problems(**files: str):
    return read_vocabulary({k: v.encode() for k, v in files.items()}).problems


def test_a_family_inherits_from_its_line(words: Vocabulary):
    assert words.kind_of("drover-22") == "valve-guitar-amplifier"
    assert words.maker_of("drover-22") == "Ottermoor"
    assert words.items_of("drover-22") == {"carbon-resistor", "fuse"}
    assert words.hazards_of("drover-22") == ("high-voltage",)


def test_a_family_may_ask_for_more_access_than_the_check(words: Vocabulary):
    assert words.access_needed("tap-valves", "drover-22") == "open"
    assert words.access_needed("tap-valves", None) == "outside"


def test_a_family_may_name_the_cover_of_an_item(words: Vocabulary):
    assert words.cover_of("carbon-resistor/noisy", "drover-22") == "chassis out"
    assert words.cover_of("fuse/blown", "drover-22") is None


def test_a_circle_of_parents_is_reported_and_broken():
    read = read_vocabulary(
        {
            "symptoms": b"a: {label: A, parent: b}\nb: {label: B, parent: a}\nc: {label: C, parent: a}"
        }
    )
    assert len(read.problems) == 1
    assert "circle: a → b → a" in read.problems[0].message
    assert read.vocabulary.symptom_ancestors("c") == ("c", "a")


def test_an_unknown_reference_is_reported_with_the_nearest_term():
    found = problems(
        symptoms="smoke: {label: Smoke, first: [look-insid]}\n", checks="look-inside: {label: L}\n"
    )
    assert found[0].file == "vocabulary/symptoms.yaml"
    assert (found[0].line, found[0].column) == (1, 31)
    assert found[0].suggestion == "look-inside"


def test_an_entry_with_one_bad_field_is_kept():
    read = read_vocabulary({"checks": b"tap: {label: Tap, access: closed, minutes: 3}"})
    assert len(read.problems) == 1
    assert read.vocabulary.checks["tap"].minutes == 3


def test_a_cause_key_needs_item_and_mechanism():
    assert "item/mechanism" in problems(causes="fuse: {label: Fuse}")[0].message


def test_yes_and_no_and_numbers_stay_what_was_written():
    read = read_vocabulary({"checks": b"ask: {label: Ask, outcomes: [yes, no, 0417]}"})
    assert read.vocabulary.checks["ask"].outcomes == ("yes", "no", "0417")


def test_a_vocabulary_that_is_no_yaml_is_empty_and_reported():
    read = read_vocabulary({"causes": b"a: [b\n"})
    assert read.vocabulary.causes == {}
    assert read.problems[0].file == "vocabulary/causes.yaml"


def test_settings_fall_back_where_they_are_faulty():
    settings, found = read_settings(b"title: T\ncomeback_days: ninety\nmains: {voltage: 120}\n")
    assert settings == Settings(title="T", mains_voltage=120)
    assert [(p.line, p.column) for p in found] == [(2, 16)]


def test_nothing_is_suggested_for_a_word_like_no_other():
    assert nearest("zzzzzz", ["hum", "crackle"]) is None
