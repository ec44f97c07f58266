"""Where each page lies in the site, as a path relative to the site's folder."""

from __future__ import annotations

import re

KINDS = ("family", "symptom", "cause", "check")
FOLDERS = {
    "family": "families",
    "symptom": "symptoms",
    "cause": "causes",
    "check": "checks",
}
# Windows opens a device instead of a file of one of these names, whatever its ending.
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(?=\.|$)")
_UNSAFE = re.compile(r"[^a-z0-9._-]")


def case_page(number: str) -> str:
    """The page of a case. Numbers are unique letter case aside, so lower case cannot collide."""
    return f"cases/{_file_name(number.lower())}.html"


def sheet_page(number: str) -> str:
    """The owner's sheet of a case."""
    return f"sheets/{_file_name(number.lower())}.html"


def term_page(kind: str, key: str) -> str:
    """The page of a vocabulary entry.

    A cause `item/mechanism` keeps its slash as a folder: joined by any letter that a key may
    have, two causes could meet in one file.
    """
    return f"{FOLDERS[kind]}/{'/'.join(map(_file_name, key.split('/')))}.html"


def chart_page(family: str, symptom: str) -> str:
    """The fault-finding chart of a family and a symptom."""
    return f"charts/{_file_name(family)}/{_file_name(symptom)}.html"


def root_of(page: str) -> str:
    """The way from a page back to the site's folder: empty, or `../` once per folder."""
    return "../" * page.count("/")


def _file_name(key: str) -> str:
    # Readers refuse keys outside [a-z0-9-]; this holds whatever a source may hand over.
    name = _UNSAFE.sub(lambda found: f"_{ord(found[0]):x}_", key)
    name = _DEVICES.sub(r"\1_", name)
    return f"_{name}" if name.startswith(".") or not name else name
