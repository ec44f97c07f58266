"""Bringing the database and the text index up to date with the notes, by their content.

The database commits last and carries the stamp of the text index that belongs to it: killed in
between, the stamps differ and the text index is made again from the database.
"""

from __future__ import annotations

import hashlib
import shutil
import time
import uuid
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from msgspec import Struct

from kb.errors import CacheError
from kb.notes.case import Case
from kb.notes.folder import FoundFile, read_bytes, scan_notes
from kb.notes.read_case import read_case
from kb.notes.vocabulary import Vocabulary
from kb.store import database, reading, writing
from kb.store.database import Connection, Store, StoreDamagedError
from kb.text import Document, IndexDamaged, IndexRefused, Recogniser, TextIndex
from kb.values import IndexReport
from kb.version import __version__

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how many are done, and how many there are."""

LOCK_SECONDS = 120.0
_YOUNG_NS = 2_000_000_000
"""A file whose date is younger than this may change again within the same tick of its clock."""


class Index(Struct, frozen=True):
    """The two derived parts of a book, opened."""

    store: Store
    text: TextIndex

    def close(self) -> None:
        """Let go of the files."""
        self.text.close()
        self.store.close()


class BookSource(Struct, frozen=True):
    """What the notes are read against. `digest` stands for the vocabulary's content."""

    folder: Path
    vocabulary: Vocabulary
    digest: str


def open_index(cache: Path) -> Index:
    """Open the index in a cache folder; a damaged or foreign part is thrown away, being derived."""
    try:
        store = Store.open(cache / "book.db", __version__)
    except StoreDamagedError:
        discard(cache)
        store = Store.open(cache / "book.db", __version__)
    folder = cache / "text"
    try:
        return Index(store, TextIndex.open(folder))
    except IndexDamaged:
        return Index(store, TextIndex.fresh(folder))
    except IndexRefused as fault:
        raise CacheError(
            f"the text index in '{folder}' will not be used: {fault.reason}",
            "delete that folder, or name another cache with --cache DIR",
        ) from fault


def discard(cache: Path) -> None:
    """Delete the derived files in a cache folder."""
    for name in ("book.db", "book.db-wal", "book.db-shm", "book.db-journal"):
        (cache / name).unlink(missing_ok=True)
    shutil.rmtree(cache / "text", ignore_errors=True)


def bring_up_to_date(
    source: BookSource,
    index: Index,
    cache: Path,
    rebuild: bool = False,
    progress: Progress | None = None,
) -> IndexReport:
    """Make the index say what the notes say; only what changed is read again.

    Raises CacheError where another process holds the lock for too long.
    """
    started = time.monotonic()
    files = scan_notes(source.folder).files
    with index.store.reading() as connection:
        known = writing.known_notes(connection)
        settled = _is_settled(connection, source, index) and not rebuild
        refused = reading.refused_count(connection)
    if settled and not _suspects(files, known) and len(files) == len(known):
        return IndexReport(len(files), 0, 0, 0, refused, time.monotonic() - started)
    with locked(cache / "lock", "indexing this book"):
        return _update(source, index, rebuild, progress or _silent, started)


@contextmanager
def locked(file: Path, doing: str) -> Iterator[None]:
    """Hold the lock `file`, which a process that dies lets go.

    Raises CacheError where another process has been `doing` it for too long.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(file, timeout=LOCK_SECONDS)
    try:
        lock.acquire()
    except Timeout as fault:
        raise CacheError(
            f"another benchbook has been {doing} for two minutes",
            "wait for it to end, then ask again",
        ) from fault
    try:
        yield
    finally:
        lock.release()


def _silent(_what: str, _done: int, _total: int) -> None:
    pass


def _is_settled(connection: Connection, source: BookSource, index: Index) -> bool:
    return (
        database.get_meta(connection, "vocabulary") == source.digest
        and database.get_meta(connection, "text_stamp") == index.text.stamp
    )


def _suspects(files: Iterable[FoundFile], known: dict[str, writing.KnownNote]) -> list[FoundFile]:
    """The files that are new, look different, or were read while they were still young."""
    return [
        f
        for f in files
        if f.path not in known
        or known[f.path].found != f
        or known[f.path].read_at_ns - f.mtime_ns < _YOUNG_NS
    ]


def _update(
    source: BookSource, index: Index, rebuild: bool, progress: Progress, started: float
) -> IndexReport:
    with index.store.writing() as connection:
        files = scan_notes(source.folder).files
        known = writing.known_notes(connection)
        before = writing.numbers(connection)
        other_words = database.get_meta(connection, "vocabulary") != source.digest
        text_lost = database.get_meta(connection, "text_stamp") != index.text.stamp
        if rebuild or other_words:
            writing.clear(connection)
            writing.write_vocabulary(connection, source.vocabulary)
            database.set_meta(connection, "vocabulary", source.digest)
        everything = rebuild or other_words
        suspects = list(files) if everything else _suspects(files, known)
        read, touched = _read(source, suspects, {} if everything else known, progress)
        present = {f.path for f in files}
        gone = [path for path in known if path not in present]
        writing.remove_notes(connection, gone)
        writing.touch_notes(connection, touched)
        writing.write_notes(connection, read)
        change = writing.settle_cases(connection, before)
        writing.write_words(connection, _words(change.added, source.vocabulary))
        stamp = _write_text(
            source.vocabulary, index.text, connection, change, everything or text_lost, progress
        )
        database.set_meta(connection, "text_stamp", stamp)
        refused = reading.refused_count(connection)
    changed = [n for n in read if n.found.path in known]
    return IndexReport(
        notes=len(files),
        added=sum(n.found.path not in known for n in read),
        changed=sum(n.digest != known[n.found.path].digest for n in changed),
        removed=len(gone),
        refused=refused,
        seconds=time.monotonic() - started,
    )


def _read(
    source: BookSource,
    suspects: list[FoundFile],
    known: dict[str, writing.KnownNote],
    progress: Progress,
) -> tuple[list[writing.NewNote], list[tuple[FoundFile, int]]]:
    """Read the suspects: notes with new content, and files that only look different."""
    read: list[writing.NewNote] = []
    touched: list[tuple[FoundFile, int]] = []
    for done, found in enumerate(suspects):
        progress("Reading notes", done, len(suspects))
        read_at = time.time_ns()
        try:
            data = read_bytes(source.folder, found.path)
        except OSError:
            # Vanished or unreadable since the scan: `check` says so, the index holds it refused.
            read.append(writing.NewNote(found, 0, "", None))
            continue
        digest = hashlib.blake2b(data, digest_size=16).hexdigest()
        if found.path in known and known[found.path].digest == digest:
            touched.append((found, read_at))
            continue
        note = read_case(found.path, data, source.vocabulary, source.folder)
        read.append(writing.NewNote(found, read_at, digest, note.case))
    return read, touched


def _words(cases: Iterable[Case], vocabulary: Vocabulary) -> dict[str, tuple[str, ...]]:
    recogniser = Recogniser(symptom_names(vocabulary))
    return {case.case: recogniser(case.complaint).rest for case in cases}


def symptom_names(vocabulary: Vocabulary) -> dict[str, tuple[str, ...]]:
    """The words by which free text can name each symptom."""
    return {s.key: (s.label, *s.also) for s in vocabulary.symptoms.values()}


def _write_text(
    vocabulary: Vocabulary,
    text: TextIndex,
    connection: Connection,
    change: writing.CaseChange,
    everything: bool,
    progress: Progress,
) -> str:
    """Bring the text index in line and return its stamp; nothing changed keeps the old one."""
    if not everything and not change.added and not change.removed and text.stamp:
        return text.stamp
    stamp = uuid.uuid4().hex
    cases = reading.all_cases(connection) if everything else list(change.added)

    def told(done: int) -> None:
        progress("Indexing the text", done, len(cases))

    documents: Iterator[Document] = (document_of(case, vocabulary) for case in cases)
    if everything:
        text.rebuild(documents, stamp, told)
    else:
        text.update(documents, change.removed, stamp, told)
    return stamp


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
