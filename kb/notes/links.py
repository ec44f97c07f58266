"""Links in the body of a note: which files they name, and whether those may be shown.

Media are photos and sound under `media/`; a link is written relative to the note, or from the
book's top as `media/…`. Nothing may lead out of the book, by `../` or through a symbolic link.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote

from msgspec import Struct

from kb.notes.frontmatter import place
from kb.notes.problems import Log, shorten

PHOTOS = (".jpg", ".jpeg", ".png", ".webp", ".gif")
SOUNDS = (".mp3", ".ogg", ".oga", ".opus", ".wav", ".flac", ".m4a")

# Each of these reads a text in time that grows with its length alone, whatever is in it.
_INLINE = re.compile(r"\]\(\s*+<?(?P<target>[^)\s>]+)")
_REFERENCE = re.compile(r"^ {0,3}\[[^\]\n]++\]:\s*+<?(?P<target>[^\s>]+)", re.M)
_FENCE = re.compile(r" {0,3}(```|~~~)")
_TICKS = re.compile(r"`+|\n[ \t]*+\n")
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:")


class Link(Struct, frozen=True):
    """A link in a body: its target and its character index."""

    target: str
    index: int


class LinkError(Exception):
    """A link that must not be followed. `reason` is a sentence."""

    def __init__(self, target: str, reason: str) -> None:
        super().__init__(reason)
        self.target = target
        self.reason = reason


def links(body: str) -> list[Link]:
    """Every inline link, image and reference definition of a body, code left out."""
    if "](" not in body and "]:" not in body:
        return []
    plain = _without_spans(_without_fences(body)) if "`" in body or "~~~" in body else body
    matches = (*_INLINE.finditer(plain), *_REFERENCE.finditer(plain))
    found = (Link(m["target"], m.start("target")) for m in matches)
    return sorted(found, key=lambda link: link.index)


def _without_fences(body: str) -> str:
    """The body with its fenced code blanked out."""
    lines = body.split("\n")
    fence = ""
    for i, line in enumerate(lines):
        found = _FENCE.match(line)
        if fence or found:
            lines[i] = " " * len(line)
        if found and fence in ("", found[1]):
            fence = "" if fence else found[1]
    return "\n".join(lines)


def _without_spans(body: str) -> str:
    """The body with its code spans blanked out: from a run of ticks to the next one as long."""
    pieces: list[str] = []
    at = 0
    for start, end in _spans(body):
        pieces += [body[at:start], " " * (end - start)]
        at = end
    return "".join(pieces) + body[at:]


def _spans(body: str) -> Iterator[tuple[int, int]]:
    """Start and end of each code span; none goes on beyond an empty line."""
    runs: list[tuple[int, int]] = []
    for found in (*_TICKS.finditer(body), None):
        if found and found[0][0] == "`":
            runs.append(found.span())
            continue
        waiting: dict[int, list[int]] = {}
        for i in range(len(runs) - 1, -1, -1):
            waiting.setdefault(runs[i][1] - runs[i][0], []).append(i)
        i = 0
        while i < len(runs):
            alike = waiting[runs[i][1] - runs[i][0]]
            while alike and alike[-1] <= i:
                alike.pop()
            if alike:
                yield runs[i][0], runs[alike[-1]][1]
                i = alike[-1]
            i += 1
        runs = []


def media_path(note: str, target: str) -> str | None:
    """The path inside the book, such as `media/2024/board.jpg`, of a link in the note at `note`.

    None for a link that is no relative path (another scheme, or a place on the same page). Raises
    LinkError for one that leads out of the book or to a file that is neither photo nor sound.
    """
    path = unquote(target.partition("#")[0].partition("?")[0]).replace("\\", "/")
    if _SCHEME.match(target) or target.startswith(("//", "#")) or not path:
        return None
    if path.startswith("/") or "\0" in path:
        raise LinkError(target, "the link must be a relative path inside the book")
    whole = path if path.startswith("media/") else posixpath.join(posixpath.dirname(note), path)
    clean = posixpath.normpath(whole)
    if clean == ".." or clean.startswith("../"):
        raise LinkError(target, "the link leads out of the book")
    if clean.endswith(".md"):
        return None
    if not clean.startswith("media/"):
        raise LinkError(target, "photos and sound must lie under media/")
    if not clean.lower().endswith((*PHOTOS, *SOUNDS)):
        raise LinkError(target, "only photos and sound can be shown (no SVG, no HTML)")
    return clean


def media_fault(root: Path, path: str) -> str | None:
    """Why a media path inside the book at `root` cannot be shown, or None if it can."""
    file = root
    try:
        for part in path.split("/"):
            file = file / part
            if file.is_symlink():
                return f"'{path}' goes through a symbolic link, which is not followed"
        if file.is_file():
            return None
        return f"'{path}' is no file" if file.exists() else f"there is no file '{path}'"
    except (OSError, ValueError):  # a name that no file can have, such as one far too long
        return f"there is no file '{path}'"


def check_links(file: str, body: str, body_line: int, log: Log, folder: Path | None) -> None:
    """Report the links of a body that cannot be followed; `body_line` is where it starts.

    Without `folder`, the book's, media are not looked up on disk.
    """
    looked_at: dict[str, tuple[str, str] | None] = {}
    for link in links(body):
        if link.target not in looked_at:
            looked_at[link.target] = _fault(file, link.target, folder)
        fault = looked_at[link.target]
        if fault and not log.full:
            line, column = place(body, link.index)
            log.at(line + body_line - 1, column, fault[1], severity=fault[0])


def _fault(file: str, target: str, folder: Path | None) -> tuple[str, str] | None:
    """Severity and message for a link that cannot be followed, None for one that can."""
    try:
        path = media_path(file, target)
    except LinkError as fault:
        return "error", f"{fault.reason}: '{shorten(target)}'"
    message = media_fault(folder, path) if folder and path else None
    if message is None:
        return None
    return "error" if "symbolic link" in message else "warning", shorten(message, 200)
