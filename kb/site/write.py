"""Writing the whole site."""

from __future__ import annotations

from collections.abc import Callable
from itertools import chain
from pathlib import Path

from kb.site import bench_data
from kb.site.folder import SiteFolder
from kb.site.material import Material
from kb.site.pages import (
    bench,
    case,
    cause,
    check,
    family,
    front,
    how_good,
    overviews,
    owner_sheet,
    symptom,
    weak_points,
)
from kb.site.redaction import published_words
from kb.site.render import Renderer
from kb.site.search_data import scripts
from kb.site.source import SiteReport, Source

_ASSETS = "assets"
# Home is the way in, so it comes last: what it leads to is there before it.
_MAKERS = (
    owner_sheet.pages,
    case.pages,
    family.pages,
    symptom.pages,
    cause.pages,
    check.pages,
    weak_points.pages,
    overviews.pages,
    how_good.pages,
    bench.pages,
    front.pages,
)

Progress = Callable[[int, int], None]


def write_site(
    source: Source, folder: Path, templates: Path, progress: Progress | None = None
) -> SiteReport:
    """Write the pages of a book into a folder and say what changed there.

    `templates` is the folder with the page templates and their `assets`. `progress` is called
    with the pages done and the pages there are. The same book gives the same bytes, and a file
    that says already what it should is not written again.

    Raises `SiteRefused` for a folder that is neither empty nor a site of this program,
    `HideError` for a hidden key that no case can do without, `OSError` where the folder cannot
    be written.
    """
    site = SiteFolder(folder)
    material = Material(source)
    renderer = Renderer(templates, material)
    pages = [page for maker in _MAKERS for page in maker(material)]
    words = source.search_words()
    if material.hide:
        words = published_words(words, source.cases(), material.ledger.cases, material.vocabulary)
    tables = source.bench_tables(material.ledger.cases)
    data = [*scripts(material, words), bench_data.script(material, tables)]
    assets = sorted(path for path in (templates / _ASSETS).iterdir() if path.is_file())
    site.claim(
        chain(
            (page.path for page in pages),
            (file for file, _ in data),
            (f"{_ASSETS}/{path.name}" for path in assets),
            material.media.possible(),
        )
    )
    for path in assets:
        site.put(f"{_ASSETS}/{path.name}", path.read_bytes())
    for file, script in data:
        site.put(file, script.encode("ascii"))
    for done, page in enumerate(pages, start=1):
        content = renderer.html(page).encode("utf-8")
        # What a page shows is in its place before the page is.
        for file, place in material.media.taken().items():
            site.put(file, place.read_bytes())
        site.put(page.path, content)
        if progress:
            progress(done, len(pages))
    site.finish()
    return SiteReport(site.written, site.unchanged, site.removed)
