"""A page that stands by itself: one file without scripts, links or anything to fetch.

The pages of the site forbid inline styles. This one has no stylesheet beside it, so it carries the
parts of the site's stylesheet that it needs in one `style` element, and its content security policy
allows exactly that element by its hash (Content Security Policy Level 3, hash sources) and forbids
everything else: a style or script that got into it by any other way does nothing.
"""

from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path

from markupsafe import Markup

from kb.site.render import made_of
from kb.site.stylesheet import composed
from kb.values_owner import OwnerSheet

MARK = "benchbook owner-sheet 1"
"""stands in every sheet that was written to a file, so that it is known again"""
_PARTS = ("tokens", "ground", "faceplate", "job-card", "fields", "owner-sheet", "paper")
_MARKED = re.compile(rb'<!doctype html>\n<html lang="en">\n<head>\n(?:<meta [^>]*>\n)*?')
_START = 2000
"""the mark stands within the first so many bytes of a sheet"""


def sheet_alone(sheet: OwnerSheet, templates: Path) -> str:
    """The owner's sheet as an HTML document of its own."""
    style = composed(templates, _PARTS)
    digest = hashlib.sha256(style.encode("utf-8")).digest()
    return made_of(
        templates,
        "owner-sheet.html",
        layout="alone.html",
        sheet=sheet,
        case_page="",
        root="",
        mark=MARK,
        style=Markup(style),
        style_hash=f"sha256-{base64.b64encode(digest).decode()}",
    )


def is_sheet(content: bytes) -> bool:
    """Whether a file is an owner's sheet of this program, by its first bytes."""
    start = content[:_START]
    found = _MARKED.match(start)
    return bool(found) and f'<meta name="generator" content="{MARK}">'.encode() in start
