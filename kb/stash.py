"""Bytes that are kept in the cache with a checksum, put in place as a whole or not at all."""

from __future__ import annotations

import zlib
from pathlib import Path

_SUM = 4


def keep(file: Path, data: bytes) -> None:
    """Write bytes. Raises OSError."""
    new = file.with_name(f"{file.name}.new")
    new.write_bytes(zlib.crc32(data).to_bytes(_SUM, "big") + data)
    new.replace(file)


def take(file: Path) -> bytes | None:
    """The bytes as they were kept; None where there are none, or they were changed."""
    try:
        found = file.read_bytes()
    except OSError:
        return None
    data = found[_SUM:]
    return data if zlib.crc32(data).to_bytes(_SUM, "big") == found[:_SUM] else None
