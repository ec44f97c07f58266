"""The cache folder of a book: made by this program, private, outside the book, disposable.

What is kept there is loaded without a second look (the text index keeps pickles), so a folder
that this program did not make, or that belongs to somebody else, is refused.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import stat
from pathlib import Path

from kb.errors import CacheError, CacheReadOnlyError

MARKER = "benchbook-cache"
_READ_ONLY = (errno.EACCES, errno.EPERM, errno.EROFS)
_HINT = "name a folder of your own with --cache DIR or BENCHBOOK_CACHE"


def default_root() -> Path:
    """The user's cache folder for this program, or `BENCHBOOK_CACHE`."""
    chosen = os.environ.get("BENCHBOOK_CACHE")
    if chosen:
        return Path(chosen)
    from platformdirs import user_cache_path

    return user_cache_path("benchbook", appauthor=False)


def cache_folder(book_folder: Path, root: Path | None = None) -> Path:
    """Make, check and return the folder for this book's index.

    Named after the real path of the book. Raises CacheError where it lies inside the book or is
    not this program's, CacheReadOnlyError where it cannot be written.
    """
    real_root, folder = _place(book_folder, root)
    try:
        real_root.mkdir(parents=True, exist_ok=True)
        if not os.path.lexists(folder):
            folder.mkdir(mode=0o700)
        _check_owner(folder)
        if _is_bare(folder):
            (folder / MARKER).write_text("made by benchbook; may be deleted\n", encoding="utf-8")
    except OSError as fault:
        reason = fault.strerror or str(fault)
        kind = CacheReadOnlyError if fault.errno in _READ_ONLY else CacheError
        raise kind(f"cannot write to the cache folder '{folder}': {reason}", _HINT) from fault
    _check(folder)
    return folder


def existing_folder(book_folder: Path, root: Path | None = None) -> Path | None:
    """The folder that `cache_folder` would give, if it is there and can be used; makes nothing."""
    try:
        _, folder = _place(book_folder, root)
        _check(folder)
    except (CacheError, OSError):
        return None
    return folder


def _place(book_folder: Path, root: Path | None) -> tuple[Path, Path]:
    """The root of all caches, and in it the folder for this book."""
    real_book = book_folder.resolve()
    real_root = (root or default_root()).expanduser().resolve()
    if real_root == real_book or real_book in real_root.parents:
        raise CacheError(f"the cache folder '{real_root}' lies inside the book", _HINT)
    name = re.sub(r"[^A-Za-z0-9]+", "-", real_book.name).strip("-")[:40] or "book"
    digest = hashlib.sha256(os.fsencode(real_book)).hexdigest()[:16]
    return real_root, real_root / f"{name}-{digest}"


def _is_bare(folder: Path) -> bool:
    """Whether it is a real folder without a file in it: just made, or emptied by its owner."""
    if folder.is_symlink() or not folder.is_dir():
        return False
    return not any(
        files or any((Path(place) / name).is_symlink() for name in folders)
        for place, folders, files in os.walk(folder)
    )


def _check_owner(folder: Path) -> None:
    """Nobody else may have put anything there."""
    state = folder.lstat()
    if not stat.S_ISDIR(state.st_mode):
        raise CacheError(f"'{folder}' is not a folder", _HINT)
    if hasattr(os, "getuid") and state.st_uid != os.getuid():
        raise CacheError(f"the cache folder '{folder}' belongs to somebody else", _HINT)
    if os.name == "posix" and stat.S_IMODE(state.st_mode) & 0o022:
        raise CacheError(
            f"others may write to the cache folder '{folder}': it will not be used",
            f"delete it, or {_HINT}",
        )


def _check(folder: Path) -> None:
    _check_owner(folder)
    if not (folder / MARKER).is_file():
        raise CacheError(
            f"'{folder}' was not made by benchbook: it will not be used",
            f"move it away, or {_HINT}",
        )
    if not os.access(folder, os.W_OK):
        raise CacheReadOnlyError(f"cannot write to the cache folder '{folder}'", _HINT)
    if os.name == "posix" and stat.S_IMODE(folder.lstat().st_mode) & 0o077:
        folder.chmod(0o700)
