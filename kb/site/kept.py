"""What is remembered of a site between two runs, so that what rests on nothing new is left alone.

It lies with the caches, not in the site. It is a help and never needed: where it is missing,
damaged or of another program, every page is made and compared again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

import msgspec
from markupsafe import Markup
from msgspec import Struct

from kb import stash
from kb.site.folder import FileState
from kb.site.looks_private import PrivateLooking


class KeptFile(Struct, frozen=True, array_like=True):
    """A file of the site as it was put; `key` stands for what it was made from, if it has one.

    `media` are the files of the book that it shows, `looks_private` what somebody should look at.
    """

    state: FileState
    key: bytes = b""
    media: tuple[str, ...] = ()
    looks_private: tuple[PrivateLooking, ...] = ()


class Kept(Struct, frozen=True):
    """The files of a site by their paths, and a stamp of all that they were made from."""

    stamp: bytes = b""
    files: dict[str, KeptFile] = {}
    looks_private: tuple[PrivateLooking, ...] = ()


def take(file: Path | None) -> Kept:
    """What was remembered; nothing, where it cannot be read."""
    data = stash.take(file) if file else None
    if data is None:
        return Kept()
    try:
        return msgspec.msgpack.decode(data, type=Kept)
    except msgspec.MsgspecError:
        return Kept()


def keep(file: Path | None, kept: Kept) -> None:
    """Remember for the next run. That there is no room for it costs only time."""
    if file is None:
        return
    try:
        stash.keep(file, msgspec.msgpack.encode(kept))
    except OSError:
        file.unlink(missing_ok=True)


def digest(value: object) -> bytes:
    """Stands for a value: any tree of plain values, dates and structures."""
    made = msgspec.msgpack.encode(value, enc_hook=_plain, order="deterministic")
    return hashlib.blake2b(made, digest_size=16).digest()


def folder_stamp(folder: Path, names: Iterable[str]) -> list[tuple[str, int, int]]:
    """Size and date of change of files, for telling whether the program itself has changed."""
    found = sorted(path for name in names for path in folder.rglob(name))
    states = ((path.relative_to(folder).as_posix(), path.stat()) for path in found)
    return [(path, state.st_size, state.st_mtime_ns) for path, state in states]


def _plain(value: object) -> object:
    if isinstance(value, Markup):
        return str(value)
    raise TypeError(f"a {type(value).__name__} has no digest")
