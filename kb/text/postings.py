"""Postings in Whoosh's files, written in bulk: one record for each term of a segment.

A record is an array of 64-bit numbers, one for each document that has the term, in the order of
their numbers: the document's number above, the weight in half units in the low 32 bits. Whoosh's
own codec packs postings in small pickled blocks, one posting at a time; its tables of terms, its
segments, its lock and its commit are used as they are. What is kept of each document lies in the
file of postings too, and a few tables under names of their own say where.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import msgspec
import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from kb.text.documents import Kept, Weighed, unpack_kept, unpack_main
from kb.text.quiet import quiet_import

with quiet_import():
    from whoosh.codec.whoosh3 import W3Codec, W3FieldWriter, W3TermInfo
    from whoosh.system import pack_ushort
    from whoosh.writing import SegmentWriter

FIELD, TABLES = "terms", "tables"
Numbers = NDArray[np.int64]
_LOW = 0xFFFF_FFFF
_EACH = 8

_decode_names = msgspec.msgpack.Decoder(list[str]).decode
_decode_counts = msgspec.msgpack.Decoder(dict[str, int]).decode


class Leaf(Struct, frozen=True):
    """What never changes in a segment.

    `cases` are its documents, "" for the one that only carries the `stamp`; `halves` their
    lengths in half units; `extents` where what is kept of each begins, and where the last ends.
    """

    cases: list[str]
    halves: Numbers
    extents: Numbers
    stamp: str


class PackedFieldWriter(W3FieldWriter):  # type: ignore[misc]  # Whoosh has no types
    """Writes whole records; the names in a field must come in order."""

    def add_record(self, name: bytes, data: bytes, count: int) -> None:
        """Write one record. `count` is the number of its postings, or of the bytes of a table."""
        info = W3TermInfo(df=count)
        info.set_extent(self._postfile.tell(), len(data))
        self._postfile.write(data)
        self._tindex.add(pack_ushort(self._fieldid) + name, info.to_bytes())

    def add_kept(self, data: bytes) -> int:
        """Write what is kept of a document and say where it begins."""
        start: int = self._postfile.tell()
        self._postfile.write(data)
        return start

    def tell(self) -> int:
        """Where the next bytes will stand."""
        end: int = self._postfile.tell()
        return end


class PackedCodec(W3Codec):  # type: ignore[misc]  # Whoosh has no types
    """Whoosh's codec with packed postings."""

    length_stats = False

    def field_writer(self, storage: Any, segment: Any) -> PackedFieldWriter:
        """Open the files of terms and postings of a new segment."""
        return PackedFieldWriter(self, storage, segment)

    def postings_reader(
        self, dbfile: Any, terminfo: Any, _format: Any, term: Any = None, **_: Any
    ) -> bytes:
        """The record of one name, as it was written."""
        offset, _ = terminfo.extent()  # Whoosh reads the length back as something else
        size = terminfo.doc_frequency() * (_EACH if term[0] == FIELD else 1)
        data: bytes = dbfile.get(offset, size)
        return data


class _Numbering(dict[str, int]):
    """term -> its number, given out as they come."""

    def __missing__(self, term: str) -> int:
        number = self[term] = len(self)
        return number


class BulkWriter(SegmentWriter):  # type: ignore[misc]  # Whoosh has no types
    """Whoosh's writer of one segment, with the postings gathered in memory."""

    def __init__(self, index: Any) -> None:
        """Take the lock and start a segment. Raises LockError."""
        super().__init__(index, codec=PackedCodec(), compound=False)
        self._terms = _Numbering()
        self._ids, self._weights, self._sizes = array("I"), array("I"), array("I")
        self._moved: dict[str, list[Numbers]] = {}
        self._cases: list[str] = []
        self._halves, self._extents = array("q"), array("q")
        self._words: Counter[str] = Counter()
        self._numbers: dict[str, int] = {}
        self._stamp = ""

    def add(self, document: Weighed) -> None:
        """Add a document; one of the same case that was added before goes."""
        earlier = self._numbers.get(document.case)
        if earlier is not None:
            self.newsegment.delete_document(earlier)
        self._numbers[document.case] = self.docnum
        halves = document.halves
        self._keep(document.case, sum(halves.values()), document.kept)
        self._words.update(document.words)
        self._ids.extend(map(self._terms.__getitem__, halves))
        self._weights.extend(halves.values())
        self._sizes.append(len(halves))

    def add_stamp(self, stamp: str) -> None:
        """Add the document that stands for the state of the index."""
        self._stamp = stamp
        self._keep("", 0, b"")
        self._sizes.append(0)

    def add_reader(self, reader: Any) -> None:
        """Take over a segment, without what was deleted of it."""
        leaf = leaf_of(reader)
        moved = np.full(len(leaf.cases), -1, dtype=np.int64)
        self._words.update(leaf_words(reader))
        for number, case in enumerate(leaf.cases):
            if reader.is_deleted(number):
                self._words.subtract(kept_words(reader, leaf, number))
            else:
                moved[number] = self.docnum
                self._keep(case, int(leaf.halves[number]), kept_bytes(reader, leaf, number))
                self._sizes.append(0)
        for term, packed in _records(reader):
            numbers = moved[packed >> 32]
            found = ((numbers << 32) | (packed & _LOW))[numbers >= 0]
            if len(found):
                self._moved.setdefault(term, []).append(found)
        self._stamp = self._stamp or leaf.stamp

    def _keep(self, case: str, halves: int, kept: bytes) -> None:
        self._cases.append(case)
        self._halves.append(halves)
        self._extents.append(self.fieldwriter.add_kept(kept))
        self.docnum += 1
        self._added = True

    def _flush_segment(self) -> None:
        self.perdocwriter.close()
        writer = self.fieldwriter
        self._extents.append(writer.tell())
        writer.start_field(FIELD, self.schema[FIELD])
        for term, record in self._gathered():
            writer.add_record(term, record.tobytes(), len(record))
        writer.finish_field()
        writer.start_field(TABLES, self.schema[TABLES])
        tables = {
            b"cases": msgspec.msgpack.encode(self._cases),
            b"extents": self._extents.tobytes(),
            b"halves": self._halves.tobytes(),
            b"stamp": self._stamp.encode("ascii"),
            b"words": msgspec.msgpack.encode(+self._words),
        }
        for name, data in tables.items():
            writer.add_record(name, data, len(data))
        writer.finish_field()
        writer.close()

    def _gathered(self) -> Iterator[tuple[bytes, Numbers]]:
        """Every term with its record, in the order of the terms as bytes."""
        sizes = np.frombuffer(self._sizes, dtype=np.uint32)
        packed = np.repeat(np.arange(len(sizes), dtype=np.int64), sizes) << 32
        packed |= np.frombuffer(self._weights, dtype=np.uint32)
        ids = np.frombuffer(self._ids, dtype=np.uint32)
        packed = packed[np.argsort(ids, kind="stable")]
        ends = np.cumsum(np.bincount(ids, minlength=len(self._terms))).tolist()
        del ids
        starts = [0, *ends]
        nothing = np.empty(0, dtype=np.int64)
        for key, term in sorted((term.encode(), term) for term in {**self._terms, **self._moved}):
            number = self._terms.get(term)
            own = nothing if number is None else packed[starts[number] : ends[number]]
            # What was taken over was numbered after what came in, segment by segment.
            more = self._moved.pop(term, ())
            yield key, np.concatenate((own, *more)) if more else own


def leaf_of(reader: Any) -> Leaf:
    """The tables of a segment that every question needs."""
    return Leaf(
        cases=_decode_names(_table(reader, b"cases")),
        halves=np.frombuffer(_table(reader, b"halves"), dtype=np.int64),
        extents=np.frombuffer(_table(reader, b"extents"), dtype=np.int64),
        stamp=_table(reader, b"stamp").decode("ascii"),
    )


def leaf_words(reader: Any) -> Mapping[str, int]:
    """The words of a segment, with how many of its documents, deleted ones too, have each."""
    return _decode_counts(_table(reader, b"words"))


def kept_bytes(reader: Any, leaf: Leaf, number: int) -> bytes:
    """What is kept of a document, as it was written."""
    start, end = leaf.extents[number : number + 2].tolist()
    data: bytes = reader._terms._postfile.get(start, end - start)
    return data


def kept(reader: Any, leaf: Leaf, number: int) -> Kept:
    """What is kept of a document."""
    return unpack_kept(kept_bytes(reader, leaf, number))


def kept_main(reader: Any, leaf: Leaf, number: int) -> dict[str, int]:
    """The terms that weigh most in a document."""
    return unpack_main(kept_bytes(reader, leaf, number))


def kept_words(reader: Any, leaf: Leaf, number: int) -> Iterable[str]:
    """The different words of a document."""
    if not leaf.cases[number]:
        return ()
    return {word for _, words in kept(reader, leaf, number).runs for word in words.split(" ")}


def record(reader: Any, term: bytes) -> Numbers:
    """The record of one term of a segment, documents deleted since among it; empty without any."""
    terms = reader._terms  # `postings` would wrap it, to leave out deleted documents one by one
    if (FIELD, term) not in terms:
        return np.empty(0, dtype=np.int64)
    return np.frombuffer(terms.matcher(FIELD, term, None), dtype=np.int64)


def terms_in(reader: Any) -> Iterator[bytes]:
    """Every term of a segment, in order."""
    for field, term in reader._terms.terms():
        if field == FIELD:
            yield term


def _records(reader: Any) -> Iterator[tuple[str, Numbers]]:
    terms = reader._terms
    for (field, term), info in terms.items():
        if field == FIELD:
            packed = terms._codec.postings_reader(terms._postfile, info, None, (field, term))
            yield term.decode(), np.frombuffer(packed, dtype=np.int64)


def _table(reader: Any, name: bytes) -> bytes:
    data: bytes = reader._terms.matcher(TABLES, name, None)
    return data
