"""A small vocabulary that the note tests share."""

from __future__ import annotations

import pytest

from kb.notes.read_case import NoteRead, read_case
from kb.notes.read_vocabulary import read_vocabulary
from kb.notes.vocabulary import Vocabulary

FILES = {
    "families": b"""
drover:
  label: Drover line
  maker: Ottermoor
  kind: valve-guitar-amplifier
  has: [carbon-resistor]
  hazards: [high-voltage]
drover-22:
  label: Drover 22
  also: [D22]
  parent: drover
  made: [1988, 2004]
  has: [fuse]
  nominal: [{at: first-filter, value: 425 V, tolerance: 8 %, state: idle}]
  access: {tap-valves: open}
  covers: {carbon-resistor: chassis out}
""",
    "symptoms": b"""
crackle: {label: Crackles}
crackle-when-warm: {label: Crackles when warm, also: [crackles after a while], parent: crackle}
hum: {label: Hum}
""",
    "causes": b"""
carbon-resistor/noisy: {label: Carbon resistor noisy, confirm: Substitute it.}
fuse/blown: {label: Fuse blown}
socket/loose-contacts: {label: Socket loose}
""",
    "checks": b"""
tap-valves:
  label: Tap the valves
  minutes: 3
  outcomes: [crackle, no-change]
freeze-spray:
  label: Freeze spray
  access: live
  minutes: 10
  outcomes: [fault-changes, no-change]
""",
}

NOTE = """---
case: 2024-0117
family: drover-22
received: 2024-03-04
complaint: Crackles on and off once it has been on for a while
symptom: crackle-when-warm
{more}---
{body}"""


@pytest.fixture(scope="session")
def words() -> Vocabulary:
    read = read_vocabulary(FILES)
    assert not read.problems
    return read.vocabulary


@pytest.fixture
def read(words: Vocabulary):
    """Read a note with some keys more, or a whole text."""

    def _read(more: str = "", body: str = "", whole: str | bytes | None = None) -> NoteRead:
        text = NOTE.format(more=more, body=body) if whole is None else whole
        data = text.encode() if isinstance(text, str) else text
        return read_case("cases/2024/2024-0117.md", data, words)

    return _read
