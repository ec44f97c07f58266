"""How the index lies in Whoosh's files: postings, lengths and runs of words per document.

Of Whoosh this uses the writer, the segment reader and the codec; its analysis, query language and
ranking are not used. One document without a case number carries the stamp, so that the stamp is
committed together with what it stands for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Set
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from msgspec import Struct

from kb.text.documents import Document, Runs, Weighed, weigh
from kb.text.errors import IndexBusy, IndexDamaged
from kb.text.quiet import quiet_import

with quiet_import():
    from whoosh.codec.whoosh3 import W3Codec
    from whoosh.columns import NumericColumn, VarBytesColumn
    from whoosh.fields import COLUMN, STORED, FieldType, Schema
    from whoosh.filedb.filestore import FileStorage
    from whoosh.formats import Existence
    from whoosh.index import FileIndex, LockError
    from whoosh.writing import CLEAR, MERGE_SMALL, OPTIMIZE


class WeightedTerms(FieldType):  # type: ignore[misc]  # Whoosh has no types
    """A field whose value is already a mapping from term to weight."""

    format = Existence()
    scorable = stored = unique = False

    def __init__(self) -> None:
        """No settings; the weights say everything."""

    def index(self, value: Mapping[str, float], **_: object) -> Iterator[tuple[Any, ...]]:
        """Yield (term, frequency, weight, payload) as Whoosh's writer wants them."""
        for term, weight in value.items():
            yield term.encode("utf-8"), 1, weight, b""


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


class Contents(Struct, frozen=True):
    """What is in the index. Documents are numbered; a number without a document has case None.

    `halves` are the documents' lengths in half units.
    """

    cases: tuple[str | None, ...]
    halves: tuple[int, ...]
    stamp: str | None


class Files:
    """The files of one index, open for reading. Every method raises `IndexDamaged`."""

    def __init__(self, folder: Path) -> None:
        """Open the index, or make an empty one if there is none in the folder."""
        self._folder = folder
        self._reader: Any = None
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
        cases: list[str | None] = []
        halves: list[int] = []
        stamp: str | None = None
        self.close()
        with self._reading():
            self._reader = self._index.reader()
            for leaf, _ in self._leaves():
                case_of = leaf.column_reader("case", translate=False)
                halves_of = leaf.column_reader("halves", translate=False)
                for number in range(leaf.doc_count_all()):
                    case = None if leaf.is_deleted(number) else case_of[number].decode("utf-8")
                    if case == "":
                        stamp = leaf.stored_fields(number)["stamp"]
                    cases.append(case or None)
                    halves.append(halves_of[number] if case else 0)
        return Contents(tuple(cases), tuple(halves), stamp)

    def postings(self, term: str) -> dict[int, float]:
        """The documents that have a term, each with the weight of it there."""
        found: dict[int, float] = {}
        key = term.encode("utf-8")
        with self._reading():
            for leaf, offset in self._leaves():
                if ("terms", key) in leaf:
                    matcher = leaf.postings("terms", key)  # without deleted documents
                    while matcher.is_active():
                        found[offset + matcher.id()] = matcher.weight()
                        matcher.next()
        return found

    def terms(self) -> set[str]:
        """Every term that stands in a document, joined words among them."""
        with self._reading():
            return {
                term.decode("utf-8")
                for leaf, _ in self._leaves()
                for field, term in leaf.all_terms()
                if field == "terms"
            }

    def runs(self, document: int) -> Runs:
        """The words of a document in order."""
        with self._reading():
            runs: Runs = self._reader.stored_fields(document)["runs"]
        return runs

    def write(
        self,
        documents: Mapping[str, Document],
        removed: Set[str],
        stamp: str,
        progress: Callable[[int], None] | None,
        anew: bool,
    ) -> None:
        """Put in documents by case number, take out `removed`, or everything if `anew`.

        All or nothing. Raises `IndexBusy`, and `OSError` for a full disk or a missing permission.
        """
        try:
            with self._writing():
                writer = self._index.writer(codec=_codec())
        except LockError as error:
            raise IndexBusy(self._folder, "another process is writing") from error
        try:
            with self._writing():
                for number in self._outdated(documents.keys() | removed):
                    writer.delete_document(number)
            for done, document in enumerate(documents.values(), start=1):
                weighed = weigh(document)
                with self._writing():
                    _add(writer, document.case, weighed)
                if progress:
                    progress(done)
            with self._writing():
                writer.add_document(case=b"", stamp=stamp)
                writer.commit(mergetype=CLEAR if anew else _merge)
        except BaseException:
            if not writer.is_closed:
                writer.cancel()
            raise

    def _outdated(self, cases: Set[str]) -> list[int]:
        """The numbers of these cases and of the stamp, as they are now that the lock is held."""
        found = []
        for number, case in enumerate(self.look().cases):
            stamp = case is None and not self._reader.is_deleted(number)
            if stamp or case in cases:
                found.append(number)
        return found

    def _leaves(self) -> list[tuple[Any, int]]:
        leaves = self._reader.leaf_readers()
        return [(leaf, offset) for leaf, offset in leaves if leaf.doc_count_all()]

    @contextmanager
    def _reading(self) -> Iterator[None]:
        """Whatever Whoosh stumbles over while reading: the index is damaged."""
        try:
            yield
        except Exception as error:
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
    return Schema(
        case=COLUMN(VarBytesColumn()),
        terms=WeightedTerms(),
        halves=COLUMN(NumericColumn("I")),
        runs=STORED(),
        stamp=STORED(),
    )


def _codec() -> W3Codec:
    codec = W3Codec()
    codec.length_stats = False  # lengths stand in `halves`, to the half; these would be rounded
    return codec


def _add(writer: Any, case: str, weighed: Weighed) -> None:
    writer.add_document(
        case=case.encode("utf-8"),
        terms=weighed.terms,
        halves=int(2 * weighed.length),
        runs=weighed.runs,
    )


def _merge(writer: Any, segments: list[Any]) -> list[Any]:
    """Join small segments; all of them once every other document in them is a deleted one.

    How the documents are spread over segments changes no answer, only how long it takes.
    """
    total = sum(segment.doc_count_all() for segment in segments)
    deleted = sum(segment.deleted_count() for segment in segments)
    policy = OPTIMIZE if 2 * deleted > total else MERGE_SMALL
    kept: list[Any] = policy(writer, segments)
    return kept
