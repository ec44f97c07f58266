"""What can go wrong with a question or an index. The errors carry data; others word them."""

from __future__ import annotations

from pathlib import Path


class QuestionError(Exception):
    """A question that can't be asked.

    `reason` is `empty` (no word in it), `only-common-words` or `too-long`; in the last case
    `limit` says how many of `unit` (`characters` or `words`) are allowed and `found` how many
    there were.
    """

    def __init__(
        self, reason: str, text: str, unit: str = "", found: int = 0, limit: int = 0
    ) -> None:
        super().__init__(reason, text, unit, found, limit)
        self.reason = reason
        self.text = text
        self.unit = unit
        self.found = found
        self.limit = limit


class TextIndexError(Exception):
    """Something is wrong with the index in `folder`; `detail` is for people who look into it."""

    def __init__(self, folder: Path, detail: str) -> None:
        super().__init__(str(folder), detail)
        self.folder = folder
        self.detail = detail


class IndexDamaged(TextIndexError):
    """The index can't be read: make a new one with `TextIndex.fresh`."""


class IndexBusy(TextIndexError):
    """Another process is writing to the index."""


class IndexRefused(TextIndexError):
    """The folder is not one that this program made, and reading it might run foreign code.

    `reason` is `symlink`, `not-a-folder`, `other-owner`, `writable-by-others` or `not-ours`.
    """

    def __init__(self, folder: Path, reason: str) -> None:
        super().__init__(folder, reason)
        self.reason = reason
