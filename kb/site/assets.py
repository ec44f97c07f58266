"""What the pages load besides themselves and their data: stylesheets, scripts, the mark.

Comments and idle space stay behind: a page under 100 kB counts every byte that it loads, and from
a folder nothing is compressed on the way.
"""

from __future__ import annotations

from pathlib import Path

import rjsmin

from kb.site import stylesheet

FOLDER = "assets"
"""of what is loaded, among the templates and in a site"""


def assets(templates: Path) -> dict[str, bytes]:
    """Name -> content; `templates` is the folder of the templates."""
    found = {
        path.name: _lean(path.read_text("utf-8")) if path.suffix == ".js" else path.read_bytes()
        for path in sorted((templates / FOLDER).iterdir())
        if path.is_file()
    }
    return found | {name: text.encode() for name, text in stylesheet.sheets(templates).items()}


def _lean(script: str) -> bytes:
    return str(rjsmin.jsmin(script)).encode() + b"\n"
