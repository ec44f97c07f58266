"""`benchbook check`: every fault in the notes and the vocabulary, read afresh without the index."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from kb.notes.folder import read_bytes, scan_notes
from kb.notes.problems import Problem
from kb.notes.read_case import NoteRead, read_case
from kb.notes.vocabulary import Vocabulary, nearest


def check_notes(
    folder: Path, vocabulary: Vocabulary, progress: Callable[[str, int, int], None] | None = None
) -> tuple[Problem, ...]:
    """Read every note; also what only shows across notes: numbers used twice, lost comebacks."""
    scan = scan_notes(folder)
    problems = list(scan.problems)
    notes: list[NoteRead] = []
    for done, found in enumerate(scan.files):
        if progress:
            progress("Checking notes", done, len(scan.files))
        try:
            data = read_bytes(folder, found.path)
        except OSError as fault:
            message = f"cannot be read: {fault.strerror or fault}"
            problems.append(Problem(found.path, 1, 1, "error", message))
            continue
        notes.append(read_case(found.path, data, vocabulary, folder))
    for note in notes:
        problems += note.problems
    problems += _across(notes)
    return tuple(sorted(problems, key=lambda p: (p.file, p.line, p.column)))


def _across(notes: list[NoteRead]) -> Iterator[Problem]:
    first: dict[str, NoteRead] = {}
    for note in notes:
        if note.case is None:
            continue
        holder = first.setdefault(note.case.case.casefold(), note)
        if holder is not note:
            yield Problem(
                note.file,
                *note.number_at,
                "error",
                f"the case number '{note.case.case}' is already used in {holder.file}",
            )
    numbers = [n.case.case for n in first.values() if n.case]
    for note in notes:
        earlier = note.case.comeback_of if note.case else None
        if earlier and earlier.casefold() not in first:
            yield Problem(
                note.file,
                *note.comeback_at,
                "warning",
                f"comeback_of names '{earlier}', which is no case in this book",
                nearest(earlier, numbers),
            )
        elif note.case and earlier and earlier.casefold() == note.case.case.casefold():
            yield Problem(
                note.file, *note.comeback_at, "warning", "comeback_of names this very case"
            )
