"""Bringing the database and the text index up to date with the notes, by their content.

The database commits last and carries the stamp of the text index that belongs to it: killed in
between, the stamps differ, and both are made again from the notes.
"""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from kb import seal
from kb.errors import CacheError
from kb.learning import learn
from kb.lexicon import BookSource
from kb.notes.folder import FoundFile, scan_notes
from kb.store import database, reading, tallies, writing
from kb.store.database import Connection, Store, StoreDamagedError
from kb.store.note_files import KnownNote, NewNote
from kb.text import IndexDamaged, IndexRefused
from kb.text.folder import remove as remove_text
from kb.values import IndexReport
from kb.version import __version__

if TYPE_CHECKING:
    from kb.intake import NoteIn, Suspect
    from kb.text import TextIndex, Weighed

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how many are done, and how many there are."""

LOCK_SECONDS = 120.0
_YOUNG_NS = 2_000_000_000
"""A file whose date is younger than this may change again within the same tick of its clock."""
_AT_ONCE = 500


class Index:
    """The two derived parts of a book, opened. The text is opened when it is first asked for."""

    def __init__(self, store: Store, folder: Path) -> None:
        self.store = store
        self._folder = folder
        self._text: TextIndex | None = None

    @property
    def text(self) -> TextIndex:
        """The text index. Raises CacheError for a foreign one, IndexDamaged."""
        if self._text is None:
            from kb.text import TextIndex  # Whoosh and NumPy: not every question is one of words

            try:
                self._text = TextIndex.open(self._folder)
            except IndexRefused as fault:
                raise CacheError(
                    f"the text index in '{self._folder}' will not be used: {fault.reason}",
                    "delete that folder, or name another cache with --cache DIR",
                ) from fault
        return self._text

    def text_agrees(self, stamp: str) -> bool:
        """Whether the text is what the database says; not opened, the seal stands for it."""
        if self._text is None:
            return True
        if self._text.stamp != stamp:
            self._text.refresh()
        return self._text.stamp == stamp

    def close(self) -> None:
        """Let go of the files."""
        if self._text is not None:
            self._text.close()
        self.store.close()


class _Known(Struct, frozen=True):
    """What the database says of itself: which vocabulary, text and files it was made from."""

    vocabulary: str = ""
    text_stamp: str = ""
    files: str = ""
    refused: int = 0


def open_index(cache: Path) -> Index:
    """Open the index in a cache folder; what is damaged or of another version is made afresh.

    Hold no lock: this takes it where the files are not as they were sealed.
    """
    if seal.looks_intact(cache):
        try:
            return _open(cache)
        except (StoreDamagedError, IndexDamaged):
            pass  # another version's, or somebody is throwing it away
    with locked(cache / "lock", "indexing this book"):
        if seal.is_intact(cache):
            try:
                return _open(cache)
            except (StoreDamagedError, IndexDamaged):
                pass
        return _fresh(cache)


def look_again(cache: Path) -> None:
    """Something was found damaged: compare every byte, and throw all away where one differs."""
    with locked(cache / "lock", "indexing this book"):
        if not seal.is_intact(cache):
            _discard(cache)


def throw_away(cache: Path) -> None:
    """Delete the derived files in a cache folder."""
    with locked(cache / "lock", "indexing this book"):
        _discard(cache)


def _fresh(cache: Path) -> Index:
    _discard(cache)
    index = _open(cache)
    seal.seal(cache)
    return index


def _open(cache: Path) -> Index:
    return Index(Store.open(cache / "book.db", __version__), cache / "text")


def _discard(cache: Path) -> None:
    seal.unseal(cache)
    for name in ("book.db", "book.db-journal", "book.db.new", "book.db.new-journal"):
        (cache / name).unlink(missing_ok=True)
    remove_text(cache / "text")


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
    known = _known(index)
    if not rebuild and _is_settled(known, source, index, files):
        return IndexReport(len(files), 0, 0, 0, known.refused, time.monotonic() - started)
    with locked(cache / "lock", "indexing this book"):
        now = _known(index)
        if now != known:  # somebody else was quicker, and may have seen more
            files = scan_notes(source.folder).files
            if not rebuild and _is_settled(now, source, index, files):
                return IndexReport(len(files), 0, 0, 0, now.refused, time.monotonic() - started)
        update = _Update(source, index, files, progress or _silent)
        whole = rebuild or now.vocabulary != source.digest or now.text_stamp != index.text.stamp
        report = update.anew() if whole else update.changes()
        seal.seal(cache)
        return replace(report, seconds=time.monotonic() - started)


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


def _known(index: Index) -> _Known:
    with index.store.reading() as connection:
        found = database.metas(connection)
    return _Known(
        vocabulary=found.get("vocabulary", ""),
        text_stamp=found.get("text_stamp", ""),
        files=found.get("files", ""),
        refused=int(found.get("refused", 0)),
    )


def _is_settled(
    known: _Known, source: BookSource, index: Index, files: Sequence[FoundFile]
) -> bool:
    """Whether the index was made from these very files. Turns to the text index as it is now."""
    agrees = index.text_agrees(known.text_stamp)
    return agrees and known.vocabulary == source.digest and known.files == _print_of(files)


def _print_of(files: Sequence[FoundFile]) -> str:
    """What tells these files in this state from any others."""
    return hashlib.blake2b(msgspec.msgpack.encode(files), digest_size=16).hexdigest()


class _Update:
    """One run of bringing the index up to date; the lock is held."""

    def __init__(
        self, source: BookSource, index: Index, files: Sequence[FoundFile], progress: Progress
    ) -> None:
        self._source = source
        self._index = index
        self._files = files
        self._progress = progress
        self._young = False

    def anew(self) -> IndexReport:
        """Read every note, and make both parts from nothing."""
        store = self._index.store
        with store.reading() as connection:
            known = writing.known_notes(connection)
        with store.anew() as connection:
            writing.write_vocabulary(connection, self._source.vocabulary)
            read: dict[str, KnownNote] = {}
            stamp = secrets.token_hex(16)
            self._index.text.rebuild(self._all_notes(connection, read), stamp)
            writing.remember_notes(connection, read.values())
            for _ in writing.write_cases(connection, writing.settle_cases(connection)):
                pass
            tallies.write_tallies(connection)
            learn(connection, self._source.vocabulary)
            refused = self._sign(connection, stamp)
        return IndexReport(
            notes=len(self._files),
            added=sum(path not in known for path in read),
            changed=sum(p in known and known[p].digest != note.digest for p, note in read.items()),
            removed=sum(path not in read for path in known),
            refused=refused,
            seconds=0.0,
        )

    def _all_notes(self, connection: Connection, known: dict[str, KnownNote]) -> Iterator[Weighed]:
        """Write every note, and yield those that hold their number: the first by path does."""
        from kb.intake import Suspect

        taken: set[str] = set()
        kept: list[NewNote] = []
        for read in self._read([Suspect(found) for found in self._files]):
            note = read.note
            known[note.found.path] = note.known_as
            kept.append(note)
            if len(kept) == _AT_ONCE:
                writing.write_notes(connection, kept)
                kept.clear()
            if read.weighed is not None and note.key is not None and note.key not in taken:
                taken.add(note.key)
                yield read.weighed
        writing.write_notes(connection, kept)

    def changes(self) -> IndexReport:
        """Read what is new or looks different, and take out what has gone."""
        from kb.intake import document_of

        with self._index.store.writing() as connection:
            known = writing.known_notes(connection)
            present = {found.path for found in self._files}
            gone = [note for path, note in known.items() if path not in present]
            read = list(self._read(_suspects(self._files, known)))
            changed = [one.note for one in read if not one.same]
            before = [known[n.found.path] for n in changed if n.found.path in known] + gone
            keys = {n.case_key for n in before if n.case_key} | {n.key for n in changed if n.key}
            numbers = writing.numbers_of(connection, keys)
            faults = tallies.records_of_cases(connection, keys)
            writing.remove_notes(connection, [n.found.path for n in before])
            writing.write_notes(connection, changed)
            if read or gone:
                writing.remember_notes(connection, _now_known(known, read, gone))
            new = writing.settle_cases(connection, keys)
            cases = list(writing.write_cases(connection, new))
            left = writing.numbers_of(connection, keys)
            come = tallies.records_of_cases(connection, keys)
            if come != faults:  # most changes of a note are of its words only
                tallies.change_tallies(connection, faults, come)
                learn(connection, self._source.vocabulary)
            stamp = self._index.text.stamp or secrets.token_hex(16)
            removed = set(numbers.values()) - set(left.values())
            if cases or removed:
                stamp = secrets.token_hex(16)
                weighed = {one.note.found.path: one.weighed for one in read}
                words = self._source.vocabulary  # for a case whose number another note gave up
                documents = [weighed.get(c.path) or document_of(c, words) for c in cases]
                self._index.text.update(documents, removed, stamp)
            refused = self._sign(connection, stamp)
        return IndexReport(
            notes=len(self._files),
            added=sum(n.found.path not in known for n in changed),
            changed=sum(n.found.path in known for n in changed),
            removed=len(gone),
            refused=refused,
            seconds=0.0,
        )

    def _read(self, suspects: Sequence[Suspect]) -> Iterator[NoteIn]:
        from kb.intake import Reader  # nothing of this is needed where nothing has changed
        from kb.intake_workers import read_notes

        if len(suspects) < 2:  # nothing to share out, and nothing to tell
            source = self._source
            reader = Reader(source.folder, source.vocabulary, source.names)
            found: Iterable[NoteIn] = map(reader, suspects)
        else:
            found = read_notes(self._source, suspects)
        for done, read in enumerate(found):
            self._progress("Reading notes", done, len(suspects))
            self._young |= read.note.read_at_ns - read.note.found.mtime_ns < _YOUNG_NS
            yield read

    def _sign(self, connection: Connection, stamp: str) -> int:
        """Write down what the index was made from; returns the number of refused notes.

        As long as a note is young the files are not signed: they are looked at again next time.
        """
        refused = reading.refused_count(connection)
        database.set_meta(connection, "vocabulary", self._source.digest)
        database.set_meta(connection, "text_stamp", stamp)
        database.set_meta(connection, "files", "" if self._young else _print_of(self._files))
        database.set_meta(connection, "refused", str(refused))
        return refused


def _now_known(
    known: dict[str, KnownNote], read: Iterable[NoteIn], gone: Iterable[KnownNote]
) -> Iterable[KnownNote]:
    """What is known of the files after these were read, and those have gone."""
    now = known.copy()
    for note in gone:
        del now[note.found.path]
    for one in read:
        path = one.note.found.path
        fresh = one.note.known_as
        # Where the content is what it was, its number was not looked for again.
        now[path] = replace(fresh, case_key=known[path].case_key) if one.same else fresh
    return now.values()


def _suspects(files: Iterable[FoundFile], known: dict[str, KnownNote]) -> list[Suspect]:
    """The files that are new, look different, or were read while they were still young."""
    from kb.intake import Suspect

    found = []
    for file in files:
        before = known.get(file.path)
        if before is None:
            found.append(Suspect(file))
        elif before.found != file or before.read_at_ns - file.mtime_ns < _YOUNG_NS:
            found.append(Suspect(file, before.digest))
    return found
