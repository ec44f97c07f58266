"""A case and its faults as the database keeps them: typed, and compressed where they are long."""

from __future__ import annotations

import datetime as dt
import zlib
from collections.abc import Sequence

import msgspec
from msgspec import Struct

from kb.notes.case import Case
from kb.values import FaultRecord
from kb.values_history import Visit

_decode = msgspec.json.Decoder(Case).decode
_decode_records = msgspec.msgpack.Decoder(tuple[FaultRecord, ...]).decode
_decode_visit = msgspec.msgpack.Decoder(Visit).decode
_encoder = msgspec.msgpack.Encoder(order="deterministic")


class Headline(Struct, frozen=True, array_like=True):
    """What a list of hits shows of a case."""

    family: str
    title: str
    received: dt.date
    root_causes: tuple[str, ...]


_decode_headline = msgspec.msgpack.Decoder(Headline).decode


def pack_headline(case: Case) -> bytes:
    """What a list of hits shows of a case, as bytes."""
    return _encoder.encode(Headline(case.family, case.title, case.received, case.root_causes))


def unpack_headline(packed: bytes) -> Headline:
    """The headline again. Raises msgspec.DecodeError where the bytes were changed."""
    return _decode_headline(packed)


def pack_case(case: Case) -> bytes:
    """A case as bytes, which carry a checksum of their own."""
    return zlib.compress(msgspec.json.encode(case), 1)


def unpack_case(packed: bytes) -> Case:
    """The case again. Raises zlib.error where the bytes were changed."""
    return _decode(zlib.decompress(packed))


def pack_visit(case: Case) -> bytes:
    """What the history of units needs of a case, ten times as quick to read as all of it."""
    return _encoder.encode(msgspec.convert(case, Visit, from_attributes=True))


def unpack_visit(packed: bytes) -> Visit:
    """The visit again. Raises msgspec.DecodeError where the bytes were changed."""
    return _decode_visit(packed)


def pack_records(records: Sequence[FaultRecord]) -> bytes:
    """The faults of a visit as bytes; the same faults always give the same."""
    return _encoder.encode(records)


def unpack_records(packed: bytes) -> tuple[FaultRecord, ...]:
    """The faults again. Raises msgspec.DecodeError where the bytes were changed."""
    return _decode_records(packed)
