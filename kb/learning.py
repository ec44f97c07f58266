"""What a book has learned: strengths fitted to its faults, kept with the index, and used again."""

from __future__ import annotations

import hashlib
from collections.abc import Collection

import msgspec

from kb.faults.experience import Experience, experience_of
from kb.faults.prior import Lineage, Place
from kb.faults.stages import stage
from kb.faults.strengths import FIXED, Strengths
from kb.notes.vocabulary import Vocabulary
from kb.store import database, reading
from kb.store.database import Connection
from kb.store.tallies import read_tallies
from kb.values import Tallies

_STRENGTHS, _LEARNT = "strengths", "learnt"


def learn(connection: Connection, words: Vocabulary) -> None:
    """Fit the strengths to the book's first faults, if these are not those they were fitted to.

    How many are the first follows from how many there are (`kb.faults.stages`), so the strengths
    depend on what the book holds and on nothing else. A new vocabulary comes with a new database.
    """
    size = stage(reading.known_faults(connection))
    learnt, notes = reading.first_finished(connection, size)
    digest = hashlib.blake2b(learnt, digest_size=16).hexdigest()
    if database.get_meta(connection, _LEARNT) == digest:
        return
    strengths = FIXED
    if size:
        from kb.faults.fitting import fit  # NumPy and SciPy, for the few times they are needed

        records = reading.records_of_notes(connection, notes)
        strengths = fit(records, lineage(words), symptom_parents(words))
    database.set_meta(connection, _STRENGTHS, msgspec.json.encode(strengths).decode())
    database.set_meta(connection, _LEARNT, digest)


def learnt_from(connection: Connection) -> str:
    """Stands for the faults that the strengths were fitted to."""
    return database.get_meta(connection, _LEARNT) or ""


def strengths_in(connection: Connection) -> Strengths:
    """The strengths that were fitted when the book was indexed."""
    kept = database.get_meta(connection, _STRENGTHS)
    return msgspec.json.decode(kept, type=Strengths) if kept else FIXED


def experience_in(
    connection: Connection, words: Vocabulary, stems: Collection[str] | None = None
) -> tuple[Experience, Tallies]:
    """What the book has seen, ready for questions with these word stems, or with any."""
    tallies = read_tallies(connection, stems)
    strengths = strengths_in(connection)
    return (
        experience_of(tallies.counts, lineage(words), symptom_parents(words), strengths),
        tallies,
    )


def lineage(words: Vocabulary) -> Lineage:
    """Where each family stands: its lines and its kind."""
    return {
        key: Place(lines=tuple(f.key for f in words.family_chain(key)[1:]), kind=words.kind_of(key))
        for key in words.families
    }


def symptom_parents(words: Vocabulary) -> dict[str, str]:
    """symptom -> what it is a kind of."""
    return {s.key: s.parent for s in words.symptoms.values() if s.parent}
