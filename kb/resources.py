"""Where the templates and the sample book lie: inside a wheel, or beside the package."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def _folder(name: str) -> Path:
    packaged = _PACKAGE / "_data" / name
    return packaged if packaged.is_dir() else _PACKAGE.parent / name


def site_templates() -> Path:
    """The folder of page templates, stylesheet and scripts."""
    return _folder("site_templates")


def sample_book() -> Path:
    """The folder of the sample book."""
    return _folder("entries_demo")
