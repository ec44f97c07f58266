"""Links in the body of a note: which files they name, and whether those may be shown.

Media are photos and sound under `media/`; a link is written relative to the note, or from the
book's top as `media/…`. Nothing may lead out of the book, by `../` or through a symbolic link.
"""

from __future__ import annotations

import posixpath
import re
from pathlib import Path
from urllib.parse import unquote

from msgspec import Struct

PHOTOS = (".jpg", ".jpeg", ".png", ".webp", ".gif")
SOUNDS = (".mp3", ".ogg", ".oga", ".opus", ".wav", ".flac", ".m4a")

_INLINE = re.compile(r"(?P<bang>!?)\[[^\]\n]*\]\(\s*<?(?P<target>[^)\s>]+)")
_REFERENCE = re.compile(r"^ {0,3}\[[^\]\n]+\]:\s*<?(?P<target>[^\s>]+)", re.M)
_CODE = re.compile(r"(`+)(?:(?!\1).)*?\1|^(```|~~~).*?^\2", re.S | re.M)
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:")


class Link(Struct, frozen=True):
    """A link in a body: its target and its character index."""

    target: str
    index: int
    is_image: bool


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
    plain = _CODE.sub(lambda m: " " * len(m.group()), body)
    found = [
        Link(m["target"], m.start("target"), m["bang"] == "!") for m in _INLINE.finditer(plain)
    ]
    found += [Link(m["target"], m.start("target"), False) for m in _REFERENCE.finditer(plain)]
    return sorted(found, key=lambda link: link.index)


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
    for part in path.split("/"):
        file = file / part
        if file.is_symlink():
            return f"'{path}' goes through a symbolic link, which is not followed"
    if not file.exists():
        return f"there is no file '{path}'"
    return None if file.is_file() else f"'{path}' is no file"
