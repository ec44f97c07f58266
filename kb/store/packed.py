"""A case as the database keeps it: typed JSON, compressed, which carries a checksum of its own."""

from __future__ import annotations

import zlib

import msgspec

from kb.notes.case import Case

_decode = msgspec.json.Decoder(Case).decode


def pack_case(case: Case) -> bytes:
    """A case as bytes."""
    return zlib.compress(msgspec.json.encode(case), 1)


def unpack_case(packed: bytes) -> Case:
    """The case again. Raises zlib.error where the bytes were changed."""
    return _decode(zlib.decompress(packed))
