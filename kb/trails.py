"""How the causes of a book's faults were found, each told with what the rest would have said.

A large book is asked through the faults that its strengths were fitted to, not through all of
them: those stay the same until the book has grown by a quarter (`kb.faults.stages`), so that a
note that was just closed changes what is told of no other.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from kb.faults.counting import counts_of
from kb.faults.experience import Experience, experience_of
from kb.faults.left_out import Shared
from kb.faults.stages import LARGE, stage
from kb.faults.trail import follow
from kb.learning import experience_in, learnt_from, lineage, strengths_in, symptom_parents
from kb.notes.case import Case, Fault
from kb.notes.vocabulary import Vocabulary
from kb.store import reading
from kb.store.database import Connection
from kb.text.recognise import Recogniser
from kb.values import Evidence, FaultRecord, Step, Trail


class Trails:
    """What makes the trails of a book. It is done with the connection when it is made."""

    def __init__(self, connection: Connection, words: Vocabulary, recogniser: Recogniser) -> None:
        self._words = words
        self._recogniser = recogniser
        self._records = reading.fault_records(connection)
        known = reading.known_faults(connection)
        self.asked: int | None = None
        """through how many faults the book is asked; None for all"""
        self.basis: object
        """while it stays the same, so does what is told of a fault that stays the same"""
        if known < LARGE:
            self._experience: Experience = experience_in(connection, words)[0]
            self._counted = frozenset(self._records)
            self.basis = self._records
        else:
            notes = reading.first_finished(connection, stage(known))[1]
            first = reading.records_of_notes(connection, notes)
            self._experience = experience_of(
                counts_of(first),
                lineage(words),
                symptom_parents(words),
                strengths_in(connection),
            )
            self._counted = frozenset(record.case for record in first)
            self.basis = learnt_from(connection)
            self.asked = len(first)

    def of(self, case: Case) -> Sequence[Trail]:
        """How each fault of a case was found, the case itself left out of the counts."""
        records = self._records[case.case]
        counted = case.case in self._counted
        return [
            self._trail(case, fault, record, counted)
            for fault, record in zip(case.faults, records, strict=True)
        ]

    def _trail(self, case: Case, fault: Fault, record: FaultRecord, counted: bool) -> Trail:
        words = self._words
        intake = Evidence(
            family=case.family,
            symptoms=fault.symptom or self._recogniser(case.complaint).keys,
            absent=(),
            words=tuple(record.words),
        )
        steps = []
        for made in fault.checks:
            term = words.checks[made.check]
            access = words.access_needed(made.check, case.family)
            inside = words.hazards_of(case.family) if access != "outside" else ()
            steps.append(
                Step(
                    check=made.check,
                    label=term.label,
                    outcome=made.outcome,
                    minutes=made.minutes,
                    at=made.at,
                    note=made.note,
                    access=access,
                    hazards=tuple(dict.fromkeys((*term.hazards, *inside))),
                    ruled_out=(),
                    leading=(),
                )
            )
        left_out = record if record.cause and counted else None
        return follow(self._experience, left_out, intake, steps, self._shared)

    @cached_property
    def _shared(self) -> Shared:
        return Shared(self._experience)
