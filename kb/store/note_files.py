"""Note files as they are read and remembered; whoever only reads notes needs no database."""

from __future__ import annotations

from msgspec import Struct

from kb.notes.folder import FoundFile


class KnownNote(Struct, frozen=True, array_like=True, gc=False):
    """What the index remembers of a note file."""

    found: FoundFile
    read_at_ns: int
    digest: str
    case_key: str | None


class NewNote(Struct, frozen=True, array_like=True):
    """A note file that was read: without `number` and `document` where it was refused.

    `document` is the packed case, `visit` what the history of units needs of it, `records` are its
    faults as the statistics keep them, both packed too;
    `known` of them have a known cause, and `learnt` stands for what the ranking is fitted to.
    """

    found: FoundFile
    read_at_ns: int
    digest: str
    number: str | None = None
    document: bytes | None = None
    visit: bytes = b""
    records: bytes = b""
    known: int = 0
    learnt: bytes = b""

    @property
    def known_as(self) -> KnownNote:
        """What is remembered of it."""
        return KnownNote(self.found, self.read_at_ns, self.digest, self.key)

    @property
    def key(self) -> str | None:
        """The case number, letter case aside."""
        return self.number.casefold() if self.number else None
