"""The site's folder: every file replaced whole, what is gone taken away, nothing else touched."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable
from pathlib import Path, PurePosixPath
from typing import Literal

from msgspec import Struct

MARKER = "site-files.txt"
_HEADING = "benchbook site 1"
_PART = ".part"

Reason = Literal["not a folder", "not empty", "leads out"]


class SiteRefused(Exception):
    """The folder is not one that a site may be written into.

    `found` names what stands in the way, relative to the folder.
    """

    def __init__(self, folder: Path, reason: Reason, found: str | None = None) -> None:
        super().__init__(folder, reason, found)
        self.folder = folder
        self.reason = reason
        self.found = found

    def __str__(self) -> str:
        if self.reason == "not a folder":
            return f"{self.folder} is not a folder; name a new or an empty one for the site"
        if self.reason == "leads out":
            return f"{self.folder}: {self.found} leads out of the site's folder; take the link away"
        return (
            f"{self.folder} is neither empty nor a site written by this program "
            f"(it has {self.found}); name a new or an empty folder"
        )


class FileState(Struct, frozen=True, array_like=True):
    """What the file system says of a file: size, date of change in nanoseconds, own number."""

    size: int
    changed_ns: int
    number: int


NO_STATE = FileState(-1, 0, 0)
"""of a file that somebody took away at once"""


class SiteFolder:
    """Writes a site's files one by one and knows which of them are its own.

    A visitor never meets half a file: each is written aside and then moved into its place. A run
    that was broken off leaves a folder that the next run repairs, because a file is entered in
    the list of the site's own files before it is written.
    """

    def __init__(self, folder: Path) -> None:
        """Open or make the folder; raises `SiteRefused` if it is somebody else's."""
        self.folder = folder
        self.written = 0
        self.unchanged = 0
        self.removed = 0
        self._aside = "file"
        self._checked: set[Path] = set()
        self._made: set[Path] = set()
        self._put: set[str] = set()
        if folder.exists() and not folder.is_dir():
            raise SiteRefused(folder, "not a folder")
        folder.mkdir(parents=True, exist_ok=True)
        self._listed = self._read_list()

    def claim(self, files: Iterable[str]) -> None:
        """Enter in the list all that this run may write, before the first of it is written."""
        self._listed.update(files)
        self._write_list(self._listed)

    def put(self, file: str, content: bytes) -> bool:
        """Make a file of the site say `content`; one that already does is left alone.

        Returns whether it was written.
        """
        place = self.folder / file
        self._make_way(place.parent)
        written = not _says(place, content)
        if written:
            self._replace(place, content)
        self.count(file, written)
        return written

    def keep(self, file: str, state: FileState) -> bool:
        """Leave a file of the site as it is, if it is still as it was put; returns whether."""
        if self.state(file) != state:
            return False
        self.count(file, False)
        return True

    def count(self, file: str, written: bool) -> None:
        """Note that a file belongs to this run, and whether it had to be written."""
        if file in self._put:
            return
        self._put.add(file)
        self.written += written
        self.unchanged += not written

    def state(self, file: str) -> FileState | None:
        """The state of a file that is no link and lies inside the site."""
        place = self.folder / file
        try:
            found = os.lstat(place)
        except OSError:
            return None
        if not stat.S_ISREG(found.st_mode) or not self._leads_inside(place.parent):
            return None
        return FileState(found.st_size, found.st_mtime_ns, found.st_ino)

    def is_exactly(self, files: Iterable[str]) -> bool:
        """Whether these are the files that the last run left."""
        return self._listed == set(files)

    def for_helper(self, number: int) -> None:
        """Make this copy the one of a helper, whose files lie aside under names of their own."""
        self._aside = f"file-{number}"

    def finish(self) -> None:
        """Remove the files of earlier runs that this one did not put."""
        for file in sorted(self._listed - self._put):
            place = self.folder / file
            if self._is_inside(place.parent) and (place.is_file() or place.is_symlink()):
                place.unlink()
                self.removed += 1
                self._remove_empty(place.parent)
        self._write_list(self._put)
        aside = self.folder / _PART
        if aside.is_dir() and not aside.is_symlink():
            for left in aside.iterdir():
                left.unlink()
            aside.rmdir()

    def _read_list(self) -> set[str]:
        marker = self.folder / MARKER
        lines: list[str] = []
        if marker.is_file() and not marker.is_symlink():
            lines = marker.read_text("utf-8", errors="replace").splitlines()
        if lines[:1] == [_HEADING]:
            return {line for line in lines[1:] if _is_site_path(line)}
        if others := sorted(p.name for p in self.folder.iterdir() if p.name != _PART):
            raise SiteRefused(self.folder, "not empty", others[0])
        return set()

    def _write_list(self, files: set[str]) -> None:
        content = "".join(f"{line}\n" for line in (_HEADING, *sorted(files))).encode()
        if not _says(self.folder / MARKER, content):
            self._replace(self.folder / MARKER, content)

    def _replace(self, place: Path, content: bytes) -> None:
        aside = self.folder / _PART
        if aside.is_symlink():
            raise SiteRefused(self.folder, "leads out", _PART)
        aside.mkdir(exist_ok=True)
        written = aside / self._aside
        written.unlink(missing_ok=True)
        written.write_bytes(content)
        written.replace(place)

    def _make_way(self, parent: Path) -> None:
        if not self._leads_inside(parent):
            raise SiteRefused(self.folder, "leads out", str(parent.relative_to(self.folder)))
        if parent not in self._made:
            parent.mkdir(parents=True, exist_ok=True)
            self._made.add(parent)

    def _leads_inside(self, parent: Path) -> bool:
        if parent not in self._checked:
            if not self._is_inside(parent):
                return False
            self._checked.add(parent)
        return True

    def _is_inside(self, parent: Path) -> bool:
        """Whether no link on the way leads out: the list may have come from a stranger."""
        home = self.folder.resolve()
        return parent.resolve() == home / parent.relative_to(self.folder)

    def _remove_empty(self, parent: Path) -> None:
        while parent != self.folder and not any(parent.iterdir()):
            parent.rmdir()
            parent = parent.parent


def _says(place: Path, content: bytes) -> bool:
    try:
        return not place.is_symlink() and place.read_bytes() == content
    except OSError:
        return False


def _is_site_path(line: str) -> bool:
    path = PurePosixPath(line)
    safe = line and not path.is_absolute() and ".." not in path.parts
    return bool(safe) and "\\" not in line and ":" not in line and "\0" not in line
