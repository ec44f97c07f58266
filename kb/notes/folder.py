"""Finding the files of a book. Nothing outside its folder is ever followed."""

from __future__ import annotations

import os
import re
import stat
from operator import attrgetter
from pathlib import Path

from msgspec import Struct

from kb.notes.limits import DEEPEST_FOLDER, LARGEST_NOTE
from kb.notes.problems import FORBIDDEN, Problem, shorten

VOCABULARY_KINDS = ("families", "symptoms", "causes", "checks")
LONGEST_SHOWN = 300

_PLAIN_NAME = re.compile(r"[\w .()+-]+", re.ASCII)


class FoundFile(Struct, frozen=True, gc=False):
    """A note file as the folder shows it: enough to see that it changed."""

    path: str
    size: int
    mtime_ns: int
    ctime_ns: int
    inode: int


class Scan(Struct, frozen=True):
    """The note files of a book in the order of their paths, and what was passed over."""

    files: tuple[FoundFile, ...]
    problems: tuple[Problem, ...]


def scan_notes(book_folder: Path) -> Scan:
    """Find `cases/**/*.md`. Symbolic links, pipes and the like are reported, never opened."""
    files: list[FoundFile] = []
    problems: list[Problem] = []
    top = book_folder / "cases"
    if top.is_symlink():
        return Scan((), (_passed("cases", "is a symbolic link and is not followed"),))
    _walk(os.fspath(top), "cases", files, problems)
    files.sort(key=attrgetter("path"))
    problems.sort(key=attrgetter("file"))
    return Scan(tuple(files), tuple(problems))


def _walk(
    folder: str, path: str, files: list[FoundFile], problems: list[Problem], depth: int = 0
) -> None:
    try:
        entries = list(os.scandir(folder))
    except FileNotFoundError:
        return
    except OSError as fault:
        problems.append(_passed(path, f"cannot be read: {fault.strerror}"))
        return
    for entry in entries:
        name = entry.name
        inner = f"{path}/{name}"
        if name[0] == ".":
            continue
        plain = _PLAIN_NAME.fullmatch(name)
        if plain and name.endswith(".md") and entry.is_file(follow_symlinks=False):
            _look_at(entry, inner, files, problems)  # nearly all
            continue
        strange = None if plain else _name_fault(name)
        if strange:
            shown = inner.encode("utf-8", "backslashreplace").decode()
            problems.append(_passed(shorten(shown, LONGEST_SHOWN), strange))
        elif entry.is_dir(follow_symlinks=False):
            if depth >= DEEPEST_FOLDER:
                problems.append(_passed(inner, "lies too deep"))
            else:
                _walk(entry.path, inner, files, problems, depth + 1)
        elif name.lower().endswith(".md") or (entry.is_symlink() and entry.is_dir()):
            _look_at(entry, inner, files, problems)


def _look_at(
    entry: os.DirEntry[str], path: str, files: list[FoundFile], problems: list[Problem]
) -> None:
    try:
        state = entry.stat(follow_symlinks=False)
    except OSError as fault:
        problems.append(_passed(path, f"cannot be looked at: {fault.strerror}"))
        return
    if stat.S_ISREG(state.st_mode):
        inode = state.st_ino & 0x7FFF_FFFF_FFFF_FFFF  # what a database integer holds
        files.append(FoundFile(path, state.st_size, state.st_mtime_ns, state.st_ctime_ns, inode))
    elif stat.S_ISLNK(state.st_mode):
        problems.append(_passed(path, "is a symbolic link and is not followed"))
    else:
        problems.append(_passed(path, "is no ordinary file"))


def _name_fault(name: str) -> str | None:
    """What is wrong with a name, which is printed on terminals, or None."""
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        return "has a name that is not UTF-8"
    return "has a control character in its name" if FORBIDDEN.search(name) else None


def _passed(path: str, message: str) -> Problem:
    return Problem(path, 1, 1, "error", f"{message}: left out")


def read_bytes(book_folder: Path, path: str, most: int = LARGEST_NOTE + 1) -> bytes:
    """The bytes of a file of the book, at most `most` of them.

    Raises OSError where it cannot be read, is a link or a pipe, or lies behind a link.
    """
    whole = os.fspath(book_folder / path)
    folder = len(whole) - len(path)
    while (folder := whole.find("/", folder + 1)) > 0:
        if os.path.islink(whole[:folder]):  # noqa: PTH114 - ten thousand times faster is felt
            raise OSError(0, "lies behind a symbolic link, which is not followed", path)
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    flags |= getattr(os, "O_BINARY", 0)
    handle = os.open(whole, flags)
    with os.fdopen(handle, "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(0, "is no ordinary file", path)
        return file.read(most)


def vocabulary_files(book_folder: Path) -> tuple[dict[str, bytes], tuple[Problem, ...]]:
    """The bytes of each vocabulary file that is there."""
    found: dict[str, bytes] = {}
    problems: list[Problem] = []
    for kind in VOCABULARY_KINDS:
        path = f"vocabulary/{kind}.yaml"
        if not os.path.lexists(book_folder / path):
            message = "there is no such file: the book has no words of this kind yet"
            problems.append(Problem(path, 1, 1, "warning", message))
            continue
        try:
            found[kind] = read_bytes(book_folder, path)
        except OSError as fault:
            problems.append(_passed(path, f"cannot be read: {fault.strerror}"))
    return found, tuple(problems)
