"""The owner's sheet as one HTML file, given to whoever may read nothing else of the book."""

from __future__ import annotations

import os
from pathlib import Path
from tempfile import NamedTemporaryFile

from kb.errors import BenchbookError
from kb.resources import site_templates
from kb.site.alone import is_sheet, sheet_alone
from kb.values_owner import OwnerSheet


def owner_page(sheet: OwnerSheet) -> str:
    """The sheet as an HTML document."""
    return sheet_alone(sheet, site_templates())


def write_owner_page(page: str, file: Path) -> None:
    """Write a sheet in one piece; an earlier sheet there is replaced, nothing else ever is.

    Raises BenchbookError where something else is in the way, OSError where none can be written.
    """
    if os.path.lexists(file) and not (file.is_file() and is_sheet(file.read_bytes())):
        raise BenchbookError(
            f"'{file}' is there already and is no owner's sheet: it is left as it is",
            "name another file",
        )
    with NamedTemporaryFile(
        "wb", dir=file.parent, prefix=f".{file.name}.", suffix=".part", delete=False
    ) as aside:
        written = Path(aside.name)
        try:
            aside.write(page.encode("utf-8"))
            aside.close()
            # A file made aside is for its maker's eyes alone; this one is to be handed on.
            written.chmod(0o644)
            written.replace(file)
        except BaseException:
            aside.close()
            written.unlink(missing_ok=True)
            raise
