"""Photos and sound clips of the book: which are shown, and where they lie in the site."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

from msgspec import Struct

from kb.notes.links import PHOTOS, SOUNDS, LinkError, media_fault, media_path


class Medium(Struct, frozen=True):
    """A file of the media folder; `address` is its place in the site, as a URL path."""

    address: str
    is_sound: bool


class Media:
    """Finds what notes link to, and tells what the site has to carry for it."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder
        self._found: dict[str, Medium | None] = {}
        self._shown: dict[str, Path] = {}

    def find(self, target: str, note: str) -> Medium | None:
        """The medium that a link means, in the note at `note`; None if it may not be shown."""
        try:
            path = media_path(note, target)
        except (LinkError, ValueError):
            return None
        if path is None:
            return None
        if path not in self._found:
            self._found[path] = self._look_up(path)
        if self._folder is not None and self._found[path] is not None:
            self._shown[path] = self._folder.parent / path
        return self._found[path]

    def possible(self) -> list[str]:
        """Every file that a note might show, as paths in the book."""
        if self._folder is None:
            return []
        inner = (place.relative_to(self._folder).as_posix() for place in self._folder.rglob("*"))
        return sorted(f"media/{path}" for path in inner if _is_medium(path))

    def taken(self) -> dict[str, Path]:
        """What was found since the last call: path in the book -> file."""
        shown, self._shown = self._shown, {}
        return shown

    def place(self, path: str) -> Path | None:
        """The file that a page showed when it was written; None if it may not be shown."""
        return self._folder.parent / path if self._folder and self._look_up(path) else None

    def stamp(self) -> tuple[tuple[str, int, int], ...]:
        """What may be shown, with size and date of change: other media, other pages."""
        if self._folder is None:
            return ()
        states = ((path, (self._folder.parent / path).lstat()) for path in self.possible())
        return tuple((path, state.st_size, state.st_mtime_ns) for path, state in states)

    def _look_up(self, path: str) -> Medium | None:
        if self._folder is None or not _is_medium(path):
            return None
        if media_fault(self._folder.parent, path):
            return None
        return Medium(quote(path), path.lower().endswith(SOUNDS))


def _is_medium(path: str) -> bool:
    return path.isprintable() and path.lower().endswith((*PHOTOS, *SOUNDS))
