"""Postings in Whoosh's files, written in bulk: one record for each term of a segment.

A record is an array of 64-bit numbers, one for each document that has the term, in the order of
their numbers: the document's number above, the weight in half units in the low 32 bits. Whoosh's
own codec packs postings in small pickled blocks, one posting at a time; its segments, its lock and
its commit are used as they are. The file of postings holds what is kept of each document, then all
records in the order of their terms; a few tables, which Whoosh finds by their names, say what
lies where.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Any

import msgspec
import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from kb.text.documents import Kept, Weighed, unpack_kept
from kb.text.quiet import quiet_import

with quiet_import():
    from whoosh.codec.whoosh3 import W3Codec, W3FieldWriter, W3TermInfo
    from whoosh.system import pack_ushort
    from whoosh.writing import SegmentWriter

TABLES = "tables"
Numbers = NDArray[np.int64]
_LOW = 0xFFFF_FFFF
_EACH = 8
_NOTHING: Numbers = np.empty(0, dtype=np.int64)

_decode_names = msgspec.msgpack.Decoder(list[str]).decode
_decode_counts = msgspec.msgpack.Decoder(dict[str, int]).decode


class Leaf(Struct, frozen=True):
    """What never changes in a segment.

    `cases` are its documents, "" for the one that only carries the `stamp`; `halves` their
    lengths in half units; `extents` where what is kept of each begins, and where the last ends.
    Of its terms in order `names` are the bytes one after the other, `starts` where each begins
    there, `counts` how many postings are in front of those of each; both have one number more.
    """

    cases: list[str]
    halves: Numbers
    extents: Numbers
    stamp: str
    names: bytes
    starts: memoryview
    counts: memoryview

    def place(self, term: bytes) -> int | None:
        """The place of a term among those of the segment."""
        names, starts = self.names, self.starts
        places = range(len(starts) - 1)
        at = bisect_left(places, term, key=lambda i: names[starts[i] : starts[i + 1]])
        found = at < len(places) and names[starts[at] : starts[at + 1]] == term
        return at if found else None

    def terms(self) -> list[bytes]:
        """Every term, in order."""
        starts = self.starts.tolist()
        return [self.names[start:end] for start, end in pairwise(starts)]


class PackedFieldWriter(W3FieldWriter):  # type: ignore[misc]  # Whoosh has no types
    """Writes bytes as they are, and tables of them; the names of the tables must come in order."""

    def add_table(self, name: bytes, data: bytes) -> None:
        """Write one table."""
        info = W3TermInfo(df=len(data))
        info.set_extent(self.add(data), len(data))
        self._tindex.add(pack_ushort(self._fieldid) + name, info.to_bytes())

    def add(self, data: bytes | memoryview) -> int:
        """Write bytes and say where they begin."""
        start = self.tell()
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

    def postings_reader(self, dbfile: Any, terminfo: Any, _format: Any, **_: Any) -> bytes:
        """The table of one name, as it was written."""
        offset, _ = terminfo.extent()  # Whoosh reads the length back as something else
        data: bytes = dbfile.get(offset, terminfo.doc_frequency())
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
        self._moved: list[tuple[Numbers, Numbers]] = []
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
        packed = records(reader, leaf, 0, len(leaf.counts) - 1)
        ids = [self._terms[term.decode()] for term in leaf.terms()]
        of_each = np.repeat(np.array(ids, dtype=np.int64), np.diff(leaf.counts))
        numbers = moved[packed >> 32]
        left = numbers >= 0
        self._moved.append((of_each[left], ((numbers << 32) | (packed & _LOW))[left]))
        self._stamp = self._stamp or leaf.stamp

    def _keep(self, case: str, halves: int, kept: bytes) -> None:
        self._cases.append(case)
        self._halves.append(halves)
        self._extents.append(self.fieldwriter.add(kept))
        self.docnum += 1
        self._added = True

    def _flush_segment(self) -> None:
        self.perdocwriter.close()
        writer = self.fieldwriter
        self._extents.append(writer.tell())
        terms, counts, records = self._gathered()
        writer.add(records.data)
        writer.start_field(TABLES, self.schema[TABLES])
        tables = {
            b"cases": msgspec.msgpack.encode(self._cases),
            b"counts": _sums(counts),
            b"extents": self._extents.tobytes(),
            b"halves": self._halves.tobytes(),
            b"names": b"".join(terms),
            b"stamp": self._stamp.encode("ascii"),
            b"starts": _sums([len(term) for term in terms]),
            b"words": msgspec.msgpack.encode(+self._words),
        }
        for name, data in tables.items():
            writer.add_table(name, data)
        writer.finish_field()
        writer.close()

    def _gathered(self) -> tuple[list[bytes], Numbers, Numbers]:
        """The terms as bytes in order, the number of postings of each, and all of their records."""
        sizes = np.frombuffer(self._sizes, dtype=np.uint32)
        packed = np.repeat(np.arange(len(sizes), dtype=np.int64), sizes)
        packed <<= 32
        packed |= np.frombuffer(self._weights, dtype=np.uint32)
        ids = np.frombuffer(self._ids, dtype=np.uint32)
        if self._moved:
            # What was taken over was numbered after what came in, segment by segment.
            ids = np.concatenate((ids, *(moved for moved, _ in self._moved)))
            packed = np.concatenate((packed, *(moved for _, moved in self._moved)))
            self._moved.clear()
        having = np.bincount(ids, minlength=len(self._terms))
        named = sorted((term.encode(), number) for term, number in self._terms.items())
        named = [(term, number) for term, number in named if having[number]]
        numbers = np.array([number for _, number in named], dtype=np.int64)
        places = np.empty(len(having), dtype=np.int32)
        places[numbers] = np.arange(len(numbers), dtype=np.int32)
        return (
            [term for term, _ in named],
            having[numbers],
            packed[np.argsort(places[ids], kind="stable")],
        )


def _sums(sizes: Any) -> bytes:
    """Where each of some things of these sizes begins, and where the last ends."""
    return np.cumsum([0, *sizes], dtype=np.int64).tobytes()


def leaf_of(reader: Any) -> Leaf:
    """The tables of a segment that every question needs."""
    return Leaf(
        cases=_decode_names(_table(reader, b"cases")),
        halves=np.frombuffer(_table(reader, b"halves"), dtype=np.int64),
        extents=np.frombuffer(_table(reader, b"extents"), dtype=np.int64),
        stamp=_table(reader, b"stamp").decode("ascii"),
        names=_table(reader, b"names"),
        starts=memoryview(_table(reader, b"starts")).cast("q"),
        counts=memoryview(_table(reader, b"counts")).cast("q"),
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


def kept_words(reader: Any, leaf: Leaf, number: int) -> Iterable[str]:
    """The different words of a document."""
    if not leaf.cases[number]:
        return ()
    return {word for _, words in kept(reader, leaf, number).runs for word in words.split(" ")}


def record(reader: Any, leaf: Leaf, term: bytes) -> Numbers:
    """The record of one term of a segment, documents deleted since among it; empty without any."""
    place = leaf.place(term)
    return _NOTHING if place is None else records(reader, leaf, place, place + 1)


def count(leaf: Leaf, term: bytes) -> int:
    """How many documents of a segment have a term, those deleted since among them."""
    place = leaf.place(term)
    return 0 if place is None else leaf.counts[place + 1] - leaf.counts[place]


def records(reader: Any, leaf: Leaf, first: int, end: int) -> Numbers:
    """The records of the terms of a segment from one place to another, one after the other."""
    start = int(leaf.extents[-1]) + _EACH * leaf.counts[first]
    size = _EACH * (leaf.counts[end] - leaf.counts[first])
    return np.frombuffer(reader._terms._postfile.get(start, size), dtype=np.int64)


def _table(reader: Any, name: bytes) -> bytes:
    data: bytes = reader._terms.matcher(TABLES, name, None)
    return data
