"""The rules before work that takes the cover off or power on: all of them, and for whom."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_source import CAUTIONS, VOCABULARY, InventedSource
from msgspec.structs import replace
from page_reader import read

from kb.notes.vocabulary import ACCESS, Vocabulary
from kb.site import write_site
from kb.site.material import Material
from kb.site.pages.rules import levels_for, rules_of, topics_of


def text(site: Path, page: str) -> str:
    return read(site / page).text


def source_of(vocabulary: Vocabulary) -> Material:
    source = InventedSource()
    source.vocabulary = vocabulary
    return Material(source)


def with_access(**of_family: dict[str, str]) -> Vocabulary:
    """The invented vocabulary with other access in some families; `_` stands for the hyphen."""
    families = dict(VOCABULARY.families)
    for name, access in of_family.items():
        key = name.replace("_", "-")
        families[key] = replace(families[key], access=access)
    return replace(VOCABULARY, families=families)


def told(material: Material, check: str) -> list[tuple[str, list[str], list[str], bool]]:
    return [
        (r.access, [f.text for f in r.families], [level for level, _ in r.levels], r.above)
        for r in rules_of(material, material.vocabulary.checks[check])
    ]


def test_the_rules_of_a_check_hold_everywhere_unless_they_name_their_families() -> None:
    material = source_of(with_access(heron_20={"look-inside": "live"}))
    assert told(material, "tap-board") == [("live", [], ["open", "live"], False)]
    assert told(material, "look-inside") == [
        ("open", [], ["open"], False),
        ("live", ["Heron 20"], ["live"], True),
    ]
    assert told(material, "swap-lead") == []


def test_families_that_need_more_are_named_over_the_rules_that_they_need() -> None:
    material = source_of(
        with_access(heron_20={"swap-lead": "open"}, kestrel_500={"swap-lead": "live"})
    )
    assert told(material, "swap-lead") == [
        ("open", ["Heron 20"], ["open"], False),
        ("live", ["Kestrel 500"], ["live"], True),
    ]


@given(
    st.sampled_from(ACCESS),
    st.dictionaries(st.sampled_from(sorted(VOCABULARY.families)), st.sampled_from(ACCESS)),
)
def test_whoever_must_open_a_unit_for_a_check_reads_every_rule_of_it(
    own: str, of_family: dict[str, str]
) -> None:
    checks = {"swap-lead": replace(VOCABULARY.checks["swap-lead"], access=own)}
    families = {
        key: replace(family, access={"swap-lead": of_family[key]} if key in of_family else {})
        for key, family in VOCABULARY.families.items()
    }
    vocabulary = replace(VOCABULARY, checks=checks, families=families)
    rules = list(rules_of(source_of(vocabulary), checks["swap-lead"]))
    for key in families:
        level = vocabulary.access_needed("swap-lead", key)
        read = {
            name
            for group in rules
            for name, _ in group.levels
            if not group.families or ACCESS.index(group.access) <= ACCESS.index(level)
        }
        assert read.issuperset(ACCESS[1 : ACCESS.index(level) + 1])


def test_a_check_spells_out_the_topics_that_it_can_meet_and_links_to_the_others() -> None:
    has_valves_only = replace(VOCABULARY.families["heron-20"], has=("power-valve",), access={})
    material = source_of(replace(VOCABULARY, families={"heron-20": has_valves_only}))

    def met(check: str) -> set[str]:
        topics = topics_of(material, material.vocabulary.checks[check])
        assert [topic.key for topic in topics] == list(CAUTIONS.topics)
        return {topic.key for topic in topics if topic.paragraphs}

    assert met("look-inside") == {"valves"}
    assert met("swap-lead") == set()
    assert met("two-to-lift") == {"lifting"}


def test_a_unit_of_which_nothing_is_known_may_hold_anything() -> None:
    material = source_of(replace(VOCABULARY, families={}))
    topics = topics_of(material, material.vocabulary.checks["tap-board"])
    assert all(topic.paragraphs for topic in topics)
    assert not any(topic.inside for topic in topics)


def test_topics_of_a_check_that_opens_only_some_families_stand_apart(
    tmp_path: Path, templates: Path
) -> None:
    source = InventedSource()
    source.vocabulary = with_access(heron_20={"swap-lead": "open"})
    write_site(source, tmp_path, templates)
    shown = text(tmp_path, "checks/swap-lead.html")
    headings = [
        "An owner may do this at home, except on Heron 20.",
        "Before you start", "On Heron 20 only: cover off, power off", CAUTIONS.access["open"][0],
        "Wherever the cover is off", "Valves", CAUTIONS.topics["valves"][0],
        "Local codes and licensed practice come first.",
    ]  # fmt: skip
    assert sorted(headings, key=shown.index) == headings
    assert CAUTIONS.access["live"][0] not in shown


@pytest.mark.parametrize(
    ("hazards", "levels"),
    [
        (("mains",), ("open", "live")),
        (("hot-parts", "high-voltage"), ("open", "live")),
        (("stored-charge",), ("open",)),
        (("heavy", "loud"), ()),
        ((), ()),
    ],
)
def test_a_cause_brings_the_rules_for_what_its_hazards_may_take(
    hazards: tuple[str, ...], levels: tuple[str, ...]
) -> None:
    assert levels_for(hazards) == levels


def test_a_cause_that_can_kill_tells_its_rules_in_full_before_how_to_prove_it(tame: Path) -> None:
    shown = text(tame, "causes/electrolytic-capacitor/high-esr.html")
    before, proof = shown.split("How to prove it")
    for paragraph in (*CAUTIONS.access["open"], *CAUTIONS.access["live"]):
        assert paragraph in before
    assert CAUTIONS.hazards["high-voltage"] in before
    assert CAUTIONS.hazards["stored-charge"] in before
    assert "the rules above come first" in proof
