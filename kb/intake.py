"""From a note's file to what the database and the text index keep of it; knows neither.

What depends on one note alone is done here, so that it can be done in several processes.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from kb.facts import digest_of, records_of
from kb.notes.case import Case
from kb.notes.folder import FoundFile, read_bytes
from kb.notes.read_case import read_case
from kb.notes.vocabulary import Vocabulary
from kb.store.note_files import NewNote
from kb.store.packed import pack_case, pack_headline, pack_records, pack_visit
from kb.text import Document, Recogniser, Weighed, weigh
from kb.text.recognise import Name


class Suspect(Struct, frozen=True, array_like=True):
    """A file to read, with the digest of its content when it was last read, if it was."""

    found: FoundFile
    digest: str = ""


class NoteIn(Struct, frozen=True, array_like=True):
    """A note that was read. `weighed` is None where it was refused, or is what it was before."""

    note: NewNote
    weighed: Weighed | None = None
    same: bool = False


class Reader:
    """Reads notes against one vocabulary."""

    def __init__(self, folder: Path, vocabulary: Vocabulary, names: Sequence[Name]) -> None:
        self._folder = folder
        self._vocabulary = vocabulary
        self._recognise = Recogniser.of(names)

    def __call__(self, suspect: Suspect) -> NoteIn:
        """Read one note; a fault in it is `check`'s to tell."""
        return self.all([suspect])[0]

    def all(self, suspects: Iterable[Suspect]) -> list[NoteIn]:
        """Read several. Each step is done for all: its words stay near the processor meanwhile,
        and all of it takes a fifth less time.
        """
        read = [self._read(suspect) for suspect in suspects]
        understood = [
            note if case is None else self._understood(note.note, case) for note, case in read
        ]
        return [
            note
            if case is None
            else replace(note, weighed=weigh(document_of(case, self._vocabulary)))
            for note, (_, case) in zip(understood, read, strict=True)
        ]

    def _read(self, suspect: Suspect) -> tuple[NoteIn, Case | None]:
        """What is known of a file from its bytes, and its case if it was read and is good."""
        found = suspect.found
        read_at = time.time_ns()
        try:
            data = read_bytes(self._folder, found.path)
        except OSError:
            # Vanished or unreadable since the scan: `check` says so, the index holds it refused.
            return NoteIn(NewNote(found, 0, "")), None
        digest = hashlib.blake2b(data, digest_size=16).hexdigest()
        note = NewNote(found, read_at, digest)
        if digest == suspect.digest:
            return NoteIn(note, same=True), None
        return NoteIn(note), read_case(found.path, data, self._vocabulary, self._folder).case

    def _understood(self, note: NewNote, case: Case) -> NoteIn:
        records = records_of(case, self._vocabulary, self._recognise(case.complaint))
        return NoteIn(
            replace(
                note,
                number=case.case,
                document=pack_case(case),
                visit=pack_visit(case),
                records=pack_records(records),
                known=sum(bool(record.cause) for record in records),
                learnt=digest_of(records),
            )
        )


def document_of(case: Case, words: Vocabulary) -> Document:
    """What the text index holds of a case: the vocabulary's words beside the technician's."""
    symptoms = [words.symptoms[s] for s in case.symptoms if s in words.symptoms]
    keys = dict.fromkeys(
        (*case.root_causes, *case.found_too, *(c for f in case.faults for c in f.took_with_it))
    )
    causes = [words.causes[c] for c in keys if c in words.causes]
    families = words.family_chain(case.family)
    return Document(
        case=case.case,
        title=case.title,
        complaint=case.complaint,
        symptoms=tuple(text for s in symptoms for text in (s.label, s.key)),
        causes=tuple(text for c in causes for text in (c.label, c.key)),
        family=tuple(text for f in families for text in (f.label, f.key, f.maker, f.kind) if text),
        also=(
            *(word for term in (*symptoms, *causes, *families) for word in term.also),
            *(key for s in symptoms for key in words.symptom_ancestors(s.key)[1:]),
        ),
        body="\n".join(_body_texts(case, words)),
        shown=(
            case.complaint,
            case.body,
            *(made.note for fault in case.faults for made in fault.checks if made.note),
        ),
        about=pack_headline(case),
    )


def _body_texts(case: Case, words: Vocabulary) -> Iterator[str]:
    yield case.body
    if case.unit:
        yield case.unit
    yield from case.modified
    for fault in case.faults:
        yield from (text for text in (fault.at, *fault.fix) if text)
        yield from (f"{p.part} {p.batch or ''}" for p in fault.parts)
        for made in fault.checks:
            label = words.checks[made.check].label if made.check in words.checks else ""
            yield " ".join(x for x in (label, made.outcome, made.at, made.note) if x)
    yield from (f"{r.at} {r.value} {r.state or ''}" for r in case.readings)
    yield from (offer.do for offer in case.offered)
