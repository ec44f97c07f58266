"""What is remembered of the texts that published cases keep to themselves.

To find out what a hidden key took out of a case's text, the text is laid out twice and compared.
That rests on the note, the vocabulary and what is hidden alone, so it is kept between two runs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

import msgspec
from msgspec import Struct

from kb import stash


class Gone(Struct, frozen=True, array_like=True):
    """What a published case lacks: lines with weight and how many times, and the texts it shows.

    `lines` is None where more is different than lines that are gone, `texts` where it shows all.
    """

    lines: Sequence[tuple[float, str, int]] | None = None
    texts: Sequence[str] | None = None


class _Entry(Struct, frozen=True, array_like=True):
    note: str
    gone: Gone


class _Kept(Struct, frozen=True, array_like=True):
    stamp: bytes
    entries: dict[str, _Entry]


class TakenOut:
    """What was taken out of each case, by its number; without a file nothing is kept."""

    def __init__(
        self, file: Path | None = None, stamp: bytes = b"", notes: Mapping[str, str] | None = None
    ) -> None:
        """Read what a file holds. `stamp` stands for all that matters besides the notes.

        `notes` is case number -> digest of its note; what was kept of another note is forgotten.
        """
        self._file = file
        self._stamp = stamp
        self._notes = notes or {}
        kept = _read(file) if file else None
        entries = kept.entries if kept and kept.stamp == stamp else {}
        self._known = {
            number: entry for number, entry in entries.items() if self._note(number) == entry.note
        }
        self._is_news = len(self._known) != len(entries)

    def of(self, number: str) -> Gone | None:
        """What is remembered of a case."""
        entry = self._known.get(number)
        return entry.gone if entry else None

    def learn(self, number: str, gone: Gone) -> None:
        """Remember what was taken out of a case."""
        self._known[number] = _Entry(self._note(number) or "", gone)
        self._is_news = True

    def keep(self) -> None:
        """Write it down for the next run. That there is no room for it costs only time."""
        if self._file and self._is_news:
            with suppress(OSError):
                stash.keep(self._file, msgspec.msgpack.encode(_Kept(self._stamp, self._known)))

    def _note(self, number: str) -> str | None:
        return self._notes.get(number)


def _read(file: Path) -> _Kept | None:
    data = stash.take(file)
    try:
        return None if data is None else msgspec.msgpack.decode(data, type=_Kept)
    except msgspec.MsgspecError:
        return None
