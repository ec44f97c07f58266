"""Recognising symptoms in owners' sentences."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.text import Recogniser

NAMES = {
    "hum": ["Hum", "hums", "mains hum"],
    "hum-when-warm": ["Hum that grows as it warms", "hums once it is hot"],
    "hum-constant": ["Hum, same with the volume down", "hum does not change with volume"],
    "crackle": ["Crackle", "spitting", "frying sound"],
    "crackle-when-warm": ["Crackles when warm", "crackles after a while"],
    "crackle-when-moved": ["Crackles when knocked or moved"],
    "scratchy-control": ["Control crackles as it is turned", "scratchy pot"],
    "no-sound": ["No sound", "silent"],
    "no-power": ["Dead, nothing lights", "won't turn on", "no lights"],
    "cuts-out": ["Sound comes and goes", "cuts out"],
    "quiet": ["Low output", "not as loud as it was"],
    "note-rings-on": ["Note rings on", "sustains without the pedal"],
    "blows-fuse": ["Blows its fuse"],
    "fuse-blew-twice": ["Replacement fuse blew as well", "keeps blowing fuses"],
    "shock": ["Shock or tingle from metal parts"],
}
READ = Recogniser(NAMES)


@pytest.mark.parametrize(
    ("sentence", "keys"),
    [
        ("crackles once it is warm", ["crackle-when-warm"]),
        ("Crackles on and off once it has been on for a while", ["crackle-when-warm"]),
        ("when it's warm there is a lot of crackling", ["crackle-when-warm"]),
        ("Crackles after about twenty minutes", ["crackle-when-warm"]),
        ("starts crackling after half an hour or so", ["crackle-when-warm"]),
        ("crackles after 2 weeks of rain", ["crackle"]),
        ("it crackles", ["crackle"]),
        ("It hums, and it crackles when I move it.", ["hum", "crackle-when-moved"]),
        ("Crackles. Gets warm as always.", ["crackle"]),
        ("no sound at all", ["no-sound"]),
        ("there isn't any sound", ["no-sound"]),
        ("The sound is fine", []),
        ("sound quality matters to me", []),
        ("It won’t turn on", ["no-power"]),
        ("wont turn on, no lights", ["no-power"]),
        ("Turned it on and it hummed", ["hum"]),
        ("the hum doesn't change at all with the volume", ["hum-constant"]),
        ("not as loud as it used to be", ["quiet"]),
        ("a note sustains without the pedal", ["note-rings-on"]),
        ("a note sustains with the pedal", []),
        ("keeps blowing fuses", ["fuse-blew-twice"]),
        ("blew a fuse", ["blows-fuse"]),
        ("I felt a tingle from the metal parts", ["shock"]),
        ("gave me a shock from its metal parts", ["shock"]),
        ("The sound cuts out, comes back and then it hums", ["cuts-out", "hum"]),
        ("Spitting and frying sound from the left", ["crackle"]),
    ],
)
def test_what_an_owner_says_is_recognised(sentence: str, keys: list[str]) -> None:
    assert list(READ(sentence).keys) == keys


@pytest.mark.parametrize(
    ("sentence", "keys", "denied"),
    [
        ("no hum", [], ["hum"]),
        ("It doesn't hum", [], ["hum"]),
        ("crackles without any hum", ["crackle"], ["hum"]),
        ("no hum or crackle", [], ["hum", "crackle"]),
        ("neither hum nor crackle", [], ["hum", "crackle"]),
        ("no hum, spitting or crackle", [], ["hum", "crackle"]),
        ("no hum, and it crackles or spits", ["crackle"], ["hum"]),
        ("No hum, crackles", ["crackle"], ["hum"]),
        ("There is no hum, just a crackle", ["crackle"], ["hum"]),
        ("No hum but it crackles when warm", ["crackle-when-warm"], ["hum"]),
        ("no crackle when warm", [], ["crackle-when-warm"]),
        ("hums, but not when hot", ["hum"], []),
        ("hums, not once it is hot", ["hum"], []),
        ("no longer hums", [], ["hum"]),
        ("It never cuts out.", [], ["cuts-out"]),
        ("No hum at first. Now it hums.", ["hum"], []),
    ],
)
def test_what_is_said_not_to_be_there_is_denied(
    sentence: str, keys: list[str], denied: list[str]
) -> None:
    found = READ(sentence)
    assert (list(found.keys), list(found.denied)) == (keys, denied)


@pytest.mark.parametrize(
    "sentence",
    [
        "it won't stop humming",
        "never stops humming",
        "not only hums",
        "no idea why it hums",
        "I don't know why it hums",
        "it doesn't always hum",
        "not sure if it hums",
        "without touching it it hums",
    ],
)
def test_what_only_looks_like_a_denial_is_none(sentence: str) -> None:
    found = READ(sentence)
    assert (found.keys, found.denied) == (("hum",), ())


def test_the_other_words_are_left_as_stems_without_stop_words() -> None:
    found = READ("It crackles once it is warm, mostly the left channel of the two")
    assert found.rest == ("most", "left", "channel", "two")


def test_a_word_serves_one_name_only() -> None:
    assert READ("hums and crackles when warm").keys == ("hum", "crackle-when-warm")


def test_words_far_apart_are_no_name() -> None:
    assert READ("Crackle in the left loudspeaker, new cable, room lights, warm day").keys == (
        "crackle",
    )


def test_of_names_with_the_same_words_the_first_is_taken() -> None:
    assert Recogniser({"one": ["buzz"], "two": ["buzzes"]})("buzzing").keys == ("one",)


def test_names_without_meaning_are_never_recognised() -> None:
    assert Recogniser({"odd": ["it is", "", "?!"]})("it is what it is").keys == ()


@pytest.mark.parametrize("key", NAMES)
def test_every_name_is_recognised_as_its_own_symptom(key: str) -> None:
    for name in NAMES[key]:
        assert READ(name).keys == (key,)


sentences = st.lists(
    st.sampled_from(
        "hum hums crackles warm no not doesn't sound and or but , . when it after a while stop "
        "only fuse blows turned on".split()
    ),
    max_size=14,
).map(" ".join)


@given(sentences | st.text())
def test_nothing_is_both_there_and_denied_and_all_keys_are_known(sentence: str) -> None:
    found = READ(sentence)
    assert not set(found.keys) & set(found.denied)
    assert {*found.keys, *found.denied} <= NAMES.keys()
    assert len(set(found.rest)) == len(found.rest)


@given(sentences)
def test_a_sentence_of_its_own_changes_nothing_in_the_others(sentence: str) -> None:
    alone, before = READ(sentence), READ(f"Blows its fuse. {sentence}")
    assert {*alone.keys, "blows-fuse"} == {*before.keys, "blows-fuse"}


@pytest.mark.parametrize("text", ["after " + "1" * 2000, "after a " * 400, "after " + "a-" * 900])
def test_text_that_makes_patterns_backtrack_is_read_to_its_end(text: str) -> None:
    assert READ(text).keys == ()
