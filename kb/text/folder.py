"""The folder an index lives in: made by this program, kept to its owner, refused if foreign.

Whoosh keeps parts of an index as pickles, and reading a pickle can run any code that its writer
put in. So an index is only ever opened in a folder that nobody else could have filled.
"""

from __future__ import annotations

import os
import shutil
import stat
from contextlib import suppress
from pathlib import Path

from kb.text.errors import IndexDamaged, IndexRefused

FORMAT = "4"
"""Raise this when what is written into the index changes; older ones are then made anew."""

_MARK = "text-index-format"


def claim(folder: Path) -> None:
    """Make the folder, or make sure that it is one this program made.

    Raises `IndexRefused`, `IndexDamaged` if another version of the program wrote the index, and
    `OSError` if the folder can't be made or read.
    """
    _own(folder)
    mark = folder / _MARK
    if not _entries(folder):
        mark.write_text(FORMAT, encoding="ascii")
    elif mark.read_bytes() != FORMAT.encode("ascii"):
        raise IndexDamaged(folder, "made by another version")


def clear(folder: Path) -> None:
    """Empty a folder that this program made, so that it can be claimed anew.

    Raises `IndexRefused` if it is not ours, and `OSError`.
    """
    _own(folder)
    for entry in sorted(_entries(folder), key=lambda path: path.name == _MARK):  # the mark last
        if entry.is_dir() and not entry.is_symlink():
            shutil.rmtree(entry)
        else:
            entry.unlink()


def remove(folder: Path) -> None:
    """Delete the folder with all that is in it; a link or a pipe in its place is not opened."""
    if folder.is_dir() and not folder.is_symlink():
        shutil.rmtree(folder, ignore_errors=True)
    else:
        with suppress(OSError):
            folder.unlink()


def _entries(folder: Path) -> list[Path]:
    """What is in the folder: nothing, or this program's mark and more."""
    entries = list(folder.iterdir())
    if entries and folder / _MARK not in entries:
        raise IndexRefused(folder, "not-ours")
    return entries


def _own(folder: Path) -> None:
    """Make the folder if need be, and check that it is a real one that is only ours to write."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    if not os.path.lexists(folder):
        folder.mkdir(mode=0o700, exist_ok=True)
    found = folder.lstat()
    if stat.S_ISLNK(found.st_mode):
        raise IndexRefused(folder, "symlink")
    if not stat.S_ISDIR(found.st_mode):
        raise IndexRefused(folder, "not-a-folder")
    if os.name == "nt":  # owners and modes mean something else there
        return
    if found.st_uid != os.geteuid():
        raise IndexRefused(folder, "other-owner")
    if found.st_mode & (stat.S_IWGRP | stat.S_IWOTH):
        raise IndexRefused(folder, "writable-by-others")
