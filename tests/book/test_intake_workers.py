"""Notes read in several processes: the same notes in the same order, whatever becomes of them."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence

import pytest
from small_book import SmallBook, closed

from kb import intake_workers
from kb.intake import NoteIn, Suspect
from kb.lexicon import BookSource, read_lexicon
from kb.notes.folder import scan_notes


def prepared(small: SmallBook) -> tuple[BookSource, list[Suspect]]:
    for i in range(230):
        small.write(f"B{i:03}", closed(f"B{i:03}", "fuse/blown", complaint=f"It hums {i}"))
    small.write("B007", "---\nnot a note\n")
    lexicon, _ = read_lexicon(small.folder, None)
    source = BookSource(small.folder, lexicon.vocabulary, lexicon.names, lexicon.vocabulary_digest)
    return source, [Suspect(found) for found in scan_notes(small.folder).files]


def told(notes: Sequence[NoteIn]) -> list[object]:
    return [
        (n.note.found, n.note.digest, n.note.document, n.note.records, n.note.learnt, n.weighed)
        for n in notes
    ]


def test_several_processes_read_what_one_reads(
    small: SmallBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    source, suspects = prepared(small)
    alone = told(list(intake_workers.read_notes(source, suspects)))
    started: list[object] = []
    real = subprocess.Popen
    monkeypatch.setattr(intake_workers, "FEW", 10)
    monkeypatch.setattr(intake_workers.os, "cpu_count", lambda: 2)
    monkeypatch.setattr(
        intake_workers.subprocess, "Popen", lambda *a, **k: started.append(a) or real(*a, **k)
    )
    assert told(list(intake_workers.read_notes(source, suspects))) == alone
    assert len(started) == 2


@pytest.mark.parametrize("program", ["import sys; sys.exit(3)", "print('x' * 99)"])
def test_where_a_process_dies_or_babbles_the_notes_are_read_all_the_same(
    small: SmallBook, monkeypatch: pytest.MonkeyPatch, program: str
) -> None:
    source, suspects = prepared(small)
    alone = told(list(intake_workers.read_notes(source, suspects)))
    monkeypatch.setattr(intake_workers, "FEW", 10)
    monkeypatch.setattr(intake_workers.os, "cpu_count", lambda: 2)
    monkeypatch.setattr(intake_workers, "_PROGRAM", program)
    assert told(list(intake_workers.read_notes(source, suspects))) == alone


def test_no_process_looks_for_modules_in_the_folder_it_is_called_from(
    small: SmallBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    source, suspects = prepared(small)
    (small.folder / "yaml.py").write_text("raise SystemExit('ran')\n", encoding="utf-8")
    monkeypatch.chdir(small.folder)
    monkeypatch.setattr(sys, "path", ["", *sys.path])
    monkeypatch.setattr(intake_workers, "FEW", 10)
    monkeypatch.setattr(intake_workers.os, "cpu_count", lambda: 2)
    read = list(intake_workers._in_processes(source, suspects, 2))
    assert len(read) == len(suspects)
