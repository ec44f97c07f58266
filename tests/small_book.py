"""A small book made on the spot, for tests that need one of their own."""

from __future__ import annotations

from pathlib import Path

from kb.book import Book

VOCABULARY = {
    "families": """
drover: {label: Drover line, maker: Ottermoor, kind: valve-guitar-amplifier, hazards: [high-voltage]}
drover-22: {label: Drover 22, parent: drover, has: [carbon-resistor, fuse]}
drover-50: {label: Drover 50, parent: drover, has: [carbon-resistor, fuse]}
lantern: {label: Lantern echo, kind: tape-echo, has: [fuse, tape-head]}
""",
    "symptoms": """
crackle: {label: Crackles}
crackle-when-warm: {label: Crackles when warm, also: [crackles after a while], parent: crackle}
hum: {label: Hum, also: [buzzes]}
smoke: {label: Smoke, first: [look-inside]}
""",
    "causes": """
carbon-resistor/noisy: {label: Carbon resistor noisy, confirm: Substitute it.}
electrolytic-capacitor/high-esr: {label: Electrolytic capacitor tired, also: [dried out]}
fuse/blown: {label: Fuse blown}
tape-head/worn: {label: Tape head worn}
""",
    "checks": """
tap-valves: {label: Tap the valves, minutes: 3, outcomes: [crackle, no-change], owner_ok: true}
look-inside: {label: Look inside, access: open, minutes: 5, outcomes: [burnt, nothing-seen]}
freeze-spray:
  {label: Freeze spray, access: live, minutes: 10, outcomes: [fault-changes, no-change],
   hazards: [high-voltage], needs: [warm]}
measure-esr: {label: Measure the ESR, access: open, minutes: 8, outcomes: [high, good]}
""",
}


def note(case: str, **keys: str) -> str:
    """A note; keys with an underscore in front are left out, `body` comes after the front matter."""
    body = keys.pop("body", "")
    base = {
        "case": case,
        "family": "drover-22",
        "received": "2024-03-04",
        "complaint": "It crackles",
    }
    lines = "".join(f"{key}: {value}\n" for key, value in {**base, **keys}.items())
    return f"---\n{lines}---\n{body}\n"


def closed(case: str, cause: str, **keys: str) -> str:
    """A note of a finished case."""
    done = {"finished": "2024-03-09", "root_cause": cause, "fix": "replace"}
    return note(case, **{**done, **keys})


class SmallBook:
    """A book in a folder of its own, with a cache beside it."""

    def __init__(self, folder: Path, cache: Path) -> None:
        self.folder = folder
        self.cache = cache
        (folder / "vocabulary").mkdir(parents=True)
        (folder / "cases" / "2024").mkdir(parents=True)
        (folder / "book.yaml").write_text("title: Small book\n", encoding="utf-8")
        for kind, text in VOCABULARY.items():
            (folder / "vocabulary" / f"{kind}.yaml").write_text(text, encoding="utf-8")

    def path(self, case: str) -> Path:
        """Where the note of a case lies."""
        return self.folder / "cases" / "2024" / f"{case}.md"

    def write(self, case: str, text: str | None = None, **keys: str) -> None:
        """Write a note, from keys or whole."""
        self.path(case).write_text(note(case, **keys) if text is None else text, encoding="utf-8")

    def open(self) -> Book:
        """Open it afresh, as a command would."""
        return Book.open(self.folder, self.cache)
