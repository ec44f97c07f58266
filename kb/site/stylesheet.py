"""The stylesheets, each put together from those parts that its pages can need.

The parts are the files of `site_templates/styles`, each about one thing; colours, type and
distances are named in `tokens.css` alone. What stands between the rules for whoever reads the parts
is left out of what a page loads.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

import rcssmin

FOLDER = "styles"
"""of the parts, among the templates"""
ORDER = (
    "tokens", "ground", "faceplate", "job-card", "fields", "test-sheet", "access", "signal-path",
    "cautions", "tables", "lists", "marks", "weak-points", "shown", "ask", "prose", "notes",
    "owner-sheet", "controls", "tick-sheet", "paper", "study", "chart", "hits", "seams",
)  # fmt: skip
"""Every part; of two rules that are equally special the later one counts."""
_EVERY_PAGE = {"tokens", "ground", "faceplate", "paper", "seams"}
_TOLD = _EVERY_PAGE | {
    "job-card", "fields", "test-sheet", "access", "signal-path", "cautions", "tables", "lists",
    "prose",
}  # fmt: skip
SHEETS: Mapping[str, Collection[str]] = {
    "page": _TOLD | {"marks", "weak-points", "shown", "notes", "owner-sheet"},
    "chart": _TOLD | {"chart"},
    "study": _TOLD | {"ask", "controls", "study"},
    "bench": _EVERY_PAGE
    | {"job-card", "access", "cautions", "marks", "ask", "prose", "controls", "tick-sheet"},
    "home": _EVERY_PAGE
    | {"job-card", "cautions", "lists", "marks", "weak-points", "shown", "ask", "controls", "hits"},
    "search": _EVERY_PAGE | {"lists", "ask", "controls", "hits"},
}
"""Name of a stylesheet -> its parts. A template names its own in the block `look`."""


def sheets(templates: Path) -> dict[str, str]:
    """Every stylesheet by the name of its file; `templates` is the folder of the templates."""
    texts = {name: _read(templates, name) for name in ORDER}
    return {f"{sheet}.css": _joined(texts, parts) for sheet, parts in SHEETS.items()}


def composed(templates: Path, parts: Collection[str]) -> str:
    """These parts as one stylesheet. Raises OSError for one that is not there."""
    return _joined({name: _read(templates, name) for name in parts}, parts)


def _read(templates: Path, name: str) -> str:
    return (templates / FOLDER / f"{name}.css").read_text("utf-8")


def _joined(texts: Mapping[str, str], parts: Collection[str]) -> str:
    return str(rcssmin.cssmin("".join(texts[name] for name in ORDER if name in parts)))
