"""How the index lies in Whoosh's files: postings, lengths and runs of words per document.

Of Whoosh this uses the writer, the segment reader and the codec; its analysis, query language and
ranking are not used. One document without a case number carries the stamp, so that the stamp is
committed together with what it stands for.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Set
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from kb.text.documents import Kept, Runs, Weighed
from kb.text.errors import IndexBusy, IndexDamaged
from kb.text.postings import (
    TABLES,
    BulkWriter,
    Leaf,
    Numbers,
    count,
    kept,
    kept_words,
    leaf_of,
    leaf_words,
    record,
    records,
)
from kb.text.quiet import quiet_import

with quiet_import():
    from whoosh.fields import FieldType, Schema
    from whoosh.filedb.filestore import FileStorage
    from whoosh.formats import Existence
    from whoosh.index import FileIndex, LockError
    from whoosh.reading import SegmentReader
    from whoosh.writing import CLEAR


class Records(FieldType):  # type: ignore[misc]  # Whoosh has no types
    """A field of records; they are written without Whoosh's analysis."""

    format = Existence()
    scorable = stored = unique = False

    def __init__(self) -> None:
        """No settings."""


class TidyStorage(FileStorage):  # type: ignore[misc]  # Whoosh has no types
    """Whoosh's folder of files, which can close what Whoosh left open when it stumbled."""

    def __init__(self, path: str) -> None:
        """Nothing is open yet."""
        super().__init__(path)
        self._opened: list[Any] = []

    def open_file(self, name: str, *args: Any, **settings: Any) -> Any:
        """Open a file as Whoosh asks, and remember it."""
        self._opened = [file for file in self._opened if not file.is_closed]
        file = super().open_file(name, *args, **settings)
        self._opened.append(file)
        return file

    def close_all(self) -> None:
        """Close every file that is still open."""
        for file in self._opened:
            if not file.is_closed:
                with suppress(OSError, ValueError, BufferError):
                    file.close()
        self._opened = []


_NO_NUMBERS: Numbers = np.empty(0, dtype=np.int64)
_TRIES, _PAUSE = 4, 0.02
_MOST_REMEMBERED = 64
_MOST_SEGMENTS = 8
_LARGE = 4
"""A segment with more than one in so many of the documents is left as it is by a common merge."""


class Contents(Struct, frozen=True):
    """What is in the index. Documents are numbered; a number without a document has case None.

    `halves` are the documents' lengths in half units, 0 where there is none. Without any `gone`
    all postings are those of documents.
    """

    cases: list[str | None]
    halves: Numbers
    stamp: str | None
    gone: bool


class Files:
    """The files of one index, open for reading. Every method raises `IndexDamaged`."""

    def __init__(self, folder: Path) -> None:
        """Open the index, or make an empty one if there is none in the folder."""
        self._folder = folder
        self._reader: Any = None
        self._known: dict[str, Leaf] = {}
        self._lately: dict[int, Kept] = {}
        self._storage = TidyStorage(str(folder))
        with self._reading():
            if self._storage.index_exists():
                self._index = FileIndex(self._storage)
            else:
                self._index = FileIndex.create(self._storage, _schema())

    def close(self) -> None:
        """Let go of the files."""
        reader, self._reader = self._reader, None
        if reader is not None:
            reader.close()

    def look(self) -> Contents:
        """Turn to what is on disk now, and say what that is."""
        for _ in range(_TRIES - 1):
            with suppress(IndexDamaged):
                return self._look()
            time.sleep(_PAUSE)  # a writer may be putting new files in the place of old ones
        return self._look()

    def _look(self) -> Contents:
        cases: list[str | None] = []
        halves: list[Numbers] = []
        stamp: str | None = None
        known: dict[str, Leaf] = {}
        gone = False
        self._lately.clear()
        self.close()
        with self._reading():
            self._reader = self._index.reader()
            for reader, start in self._leaves():
                name = reader.segment().segment_id()
                leaf = known[name] = self._known.get(name) or leaf_of(reader)
                there: list[str | None] = list(leaf.cases)
                long = leaf.halves.copy()
                for number in reader.segment().deleted_docs():
                    there[number], long[number] = None, 0
                    gone = gone or leaf.cases[number] != ""
                if "" in there:
                    there[there.index("")] = None
                    stamp = leaf.stamp
                cases[start:] = there
                halves.append(long)
        self._known = known
        every = np.concatenate(halves) if halves else np.empty(0, dtype=np.int64)
        return Contents(cases, every, stamp, gone)

    def postings(self, term: str) -> tuple[Numbers, NDArray[np.float64]]:
        """The documents that have a term, in order, and the weight of it in each.

        Documents that were deleted since are among them.
        """
        key = term.encode("utf-8")
        found = []
        with self._reading():
            for reader, start in self._leaves():
                packed = record(reader, self._leaf(reader), key)
                if len(packed):
                    found.append(packed + (start << 32) if start else packed)
        every = np.concatenate(found or [np.empty(0, dtype=np.int64)])
        return every >> 32, (every & 0xFFFF_FFFF) / 2

    def all_postings(self) -> tuple[list[str], Numbers, Numbers, Numbers]:
        """All terms in the order of their bytes; and for each posting the place of its term among
        them, its document and its weight in half units, by term and document.

        Documents that were deleted since are among them.
        """
        with self._reading():
            leaves = [(r, self._leaf(r), start) for r, start in self._leaves()]
            names = sorted({term for _, leaf, _ in leaves for term in leaf.terms()})
            places = {name: place for place, name in enumerate(names)}
            of, packed = [_NO_NUMBERS], [_NO_NUMBERS]
            for reader, leaf, start in leaves:
                own = np.array([places[term] for term in leaf.terms()], dtype=np.int64)
                of.append(np.repeat(own, np.diff(leaf.counts)))
                packed.append(records(reader, leaf, 0, len(leaf.counts) - 1) + (start << 32))
        each, found = np.concatenate(of), np.concatenate(packed)
        if len(leaves) > 1:
            order = np.lexsort((found, each))
            each, found = each[order], found[order]
        return [name.decode() for name in names], each, found >> 32, found & 0xFFFF_FFFF

    def spread(self, term: str) -> int:
        """How many documents have a term, those that were deleted since among them."""
        key = term.encode("utf-8")
        with self._reading():
            return sum(count(self._leaf(reader), key) for reader, _ in self._leaves())

    def terms(self) -> set[str]:
        """Every term that stands in a document, joined words among them."""
        with self._reading():
            return {
                term.decode() for reader, _ in self._leaves() for term in self._leaf(reader).terms()
            }

    def words(self) -> dict[str, int]:
        """Every plain word, with the number of documents that have it."""
        found: Counter[str] = Counter()
        with self._reading():
            for reader, _ in self._leaves():
                leaf = self._leaf(reader)
                found.update(leaf_words(reader))
                for number in reader.segment().deleted_docs():
                    found.subtract(kept_words(reader, leaf, number))
        return dict(+found)

    def runs(self, document: int) -> Runs:
        """The words of a document in order."""
        with self._reading():
            return self._kept(document).runs

    def texts(self, document: int) -> tuple[str, ...]:
        """The readable texts of a document."""
        with self._reading():
            return tuple(self._kept(document).texts)

    def kept(self, document: int) -> Kept:
        """What is kept of a document; unlike the parts of it, not remembered."""
        with self._reading():
            reader, leaf, number = self._place(document)
            return kept(reader, leaf, number)

    def about(self, document: int) -> bytes:
        """What the caller gave with a document."""
        with self._reading():
            return self._kept(document).about

    def main_terms(self, document: int) -> dict[str, int]:
        """The terms that weigh most in a document, in half units."""
        with self._reading():
            return self._kept(document).main

    def _kept(self, document: int) -> Kept:
        """What is kept of a document; remembered, because hits are looked at more than once."""
        found = self._lately.get(document)
        if found is None:
            if len(self._lately) >= _MOST_REMEMBERED:
                self._lately.clear()
            found = self._lately[document] = kept(*self._place(document))
        return found

    def _place(self, document: int) -> tuple[Any, Leaf, int]:
        for reader, start in self._leaves():
            if start <= document < start + reader.doc_count_all():
                return reader, self._leaf(reader), document - start
        raise LookupError(document)

    def _leaf(self, reader: Any) -> Leaf:
        return self._known[reader.segment().segment_id()]

    def write(
        self,
        documents: Iterable[Weighed],
        removed: Set[str],
        stamp: str,
        progress: Callable[[int], None] | None,
        anew: bool,
    ) -> None:
        """Put in documents, the last of each case, and take out `removed`, or all if `anew`.

        All or nothing. Raises `IndexBusy`, and `OSError` for a full disk or a missing permission.
        """
        try:
            with self._writing():
                writer = BulkWriter(self._index)
        except LockError as error:
            raise IndexBusy(self._folder, "another process is writing") from error
        try:
            put = set(removed)
            for done, document in enumerate(documents, start=1):
                put.add(document.case)
                with self._writing():
                    writer.add(document)
                if progress:
                    progress(done)
            with self._writing():
                for number in self._outdated(put):
                    writer.delete_document(number)
                writer.add_stamp(stamp)
                writer.commit(mergetype=CLEAR if anew else _merge)
        except BaseException:
            if not writer.is_closed:
                writer.cancel()
            raise

    def _outdated(self, cases: Set[str]) -> list[int]:
        """The numbers of these cases and of the stamp, as they are now that the lock is held."""
        self.look()
        return [
            start + number
            for reader, start in self._leaves()
            for number, case in enumerate(self._leaf(reader).cases)
            if (not case or case in cases) and not reader.is_deleted(number)
        ]

    def _leaves(self) -> list[tuple[Any, int]]:
        leaves = self._reader.leaf_readers()
        return [(leaf, offset) for leaf, offset in leaves if leaf.doc_count_all()]

    @contextmanager
    def _reading(self) -> Iterator[None]:
        """Whatever Whoosh stumbles over while reading: the index is damaged."""
        try:
            yield
        except Exception as error:
            self._reader = None
            self._storage.close_all()
            raise IndexDamaged(self._folder, f"{type(error).__name__}: {error}") from error

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """As `_reading`, but a full disk or a missing permission is that, and no damage."""
        try:
            yield
        except (OSError, LockError, IndexDamaged):
            raise
        except Exception as error:
            raise IndexDamaged(self._folder, f"{type(error).__name__}: {error}") from error


def _schema() -> Schema:
    return Schema(**{TABLES: Records()})


def _merge(writer: Any, segments: list[Any]) -> list[Any]:
    """Join segments when there are many; all once every other document in them is a deleted one.

    How the documents are spread over segments changes no answer, only how long it takes.
    """
    total = sum(segment.doc_count_all() for segment in segments)
    deleted = sum(segment.deleted_count() for segment in segments)
    if 2 * deleted > total:
        kept = []
    elif len(segments) > _MOST_SEGMENTS:
        kept = [segment for segment in segments if _LARGE * segment.doc_count_all() > total]
    else:
        return segments
    for segment in segments:
        if segment not in kept:
            with closing(SegmentReader(writer.storage, writer.schema, segment)) as reader:
                writer.add_reader(reader)
    return kept
