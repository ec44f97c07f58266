"""Writing the whole site."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from itertools import chain
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from kb.site import bench_data, study_data, stylesheet
from kb.site import kept as kept_files
from kb.site.folder import NO_STATE, SiteFolder
from kb.site.hands import done_by_many
from kb.site.kept import Kept, KeptFile, digest, folder_stamp
from kb.site.material import Material
from kb.site.pages import (
    bench,
    case,
    cause,
    chart,
    check,
    family,
    front,
    how_good,
    overviews,
    owner_sheet,
    study,
    symptom,
    weak_points,
)
from kb.site.published_texts import private_looking
from kb.site.render import Page, Renderer
from kb.site.search_data import scripts
from kb.site.source import SiteReport, Source
from kb.version import __version__

_ASSETS = "assets"
# Home is the way in, so it comes last: what it leads to is there before it.
_MAKERS = (
    owner_sheet.pages,
    case.pages,
    family.pages,
    chart.pages,
    symptom.pages,
    cause.pages,
    check.pages,
    weak_points.pages,
    overviews.pages,
    how_good.pages,
    bench.pages,
    study.pages,
)
_LAST = (front.pages,)

Progress = Callable[[int, int], None]


def write_site(
    source: Source,
    folder: Path,
    templates: Path,
    progress: Progress | None = None,
    memory: Path | None = None,
) -> SiteReport:
    """Write the pages of a book into a folder and say what changed there.

    `templates` is the folder with the page templates and their `assets`. `progress` is called
    with the pages done and the pages there are. The same book gives the same bytes, and a file
    that says already what it should is not written again. `memory` is a file, not in the site, in
    which the next run finds what this one's pages were made from, so that it need not make again
    what rests on nothing new.

    Raises `SiteRefused` for a folder that is neither empty nor a site of this program,
    `HideError` for a hidden key that no case can do without, `OSError` where the folder cannot
    be written.
    """
    site = SiteFolder(folder)
    kept = kept_files.take(memory)
    stamp = b""
    if memory:
        stamp = digest((_program(templates), source.stamp, str(folder.resolve())))
        if kept.stamp == stamp and site.is_exactly(kept.files):
            if all(site.keep(path, file.state) for path, file in kept.files.items()):
                return SiteReport(0, site.unchanged, 0, kept.looks_private)
            site = SiteFolder(folder)
    made = _Writing(source, site, templates, kept, progress).all()
    kept_files.keep(memory, replace(made, stamp=stamp))
    return SiteReport(site.written, site.unchanged, site.removed, made.looks_private)


def _assets(folder: Path) -> dict[str, bytes]:
    """What every page may load: name -> content."""
    found = {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file()}
    return found | {stylesheet.LIGHT: stylesheet.light(found[stylesheet.WHOLE].decode()).encode()}


class _Made(Struct, frozen=True, array_like=True):
    """A page that was made: as it is remembered, and what of it was written."""

    kept: KeptFile
    written: dict[str, bool]


class _Writing:
    """One run over all the files of a site."""

    def __init__(
        self,
        source: Source,
        site: SiteFolder,
        templates: Path,
        kept: Kept,
        progress: Progress | None,
    ) -> None:
        self._source = source
        self._site = site
        self._templates = templates
        self._before = kept.files
        self._files: dict[str, KeptFile] = {}
        self._progress = progress
        self._material = Material(source)
        self._renderer = Renderer(templates, self._material)
        self._done = self._total = 0

    def all(self) -> Kept:
        """Write every file; returns what the next run needs to know, without its stamp."""
        pages = [page for maker in _MAKERS for page in maker(self._material)]
        last = [page for maker in _LAST for page in maker(self._material)]
        self._total = len(pages) + len(last)
        assets = _assets(self._templates / _ASSETS)
        self._site.claim(
            chain(
                (page.path for page in (*pages, *last)),
                (f"{_ASSETS}/{name}" for name in assets),
                self._material.media.possible(),
            )
        )
        for name, content in assets.items():
            self._put(f"{_ASSETS}/{name}", content)
        common = digest((_program(self._templates), self._source.basis, self._material.common()))
        # Only what rests on a case alone is given to helpers: the database has one reader.
        many = [(page, self._key(page, common)) for page in pages if page.basis]
        left = [(page, key) for page, key in many if not self._stands(page, key)]
        few = [page for page in pages if not page.basis]
        for place, made in done_by_many(
            left, self._make, _Made, self._site.for_helper, partial(self._write_rest, few)
        ):
            self._take(left[place][0].path, made)
        for page in last:
            self._take(page.path, self._make((page, b"")))
        self._site.finish()
        looks_private = (
            *private_looking(self._material),
            *(found for path in self._files for found in self._files[path].looks_private),
        )
        return Kept(b"", self._files, looks_private)

    def _write_rest(self, pages: Iterable[Page]) -> None:
        material = self._material
        words = self._source.search_words(material.ledger.cases)
        tables = self._source.bench_tables(material.ledger.cases)
        data = [*scripts(material, words), bench_data.script(material, tables)]
        data += study_data.scripts(material, tables)
        self._site.claim(file for file, _ in data)
        for file, script in data:
            self._put(file, script.encode("ascii"))
        for page in pages:
            self._take(page.path, self._make((page, b"")))

    def _key(self, page: Page, common: bytes) -> bytes:
        return digest((common, page.title, page.basis() if page.basis else None))

    def _stands(self, page: Page, key: bytes) -> bool:
        """Whether a page that was made from the same is still there; it is kept then."""
        file = self._before.get(page.path)
        if file is None or file.key != key or not self._site.keep(page.path, file.state):
            return False
        self._take(page.path, _Made(file, self._put_media(file.media)))
        return True

    def _make(self, item: tuple[Page, bytes]) -> _Made:
        page, key = item
        content = self._renderer.html(page).encode("utf-8")
        media = tuple(self._material.media.taken())
        # What a page shows is in its place before the page is.
        written = self._put_media(media)
        written[page.path] = self._site.put(page.path, content)
        state = self._site.state(page.path) or NO_STATE
        return _Made(KeptFile(state, key, media, page.looks_private()), written)

    def _put_media(self, media: Iterable[str]) -> dict[str, bool]:
        places = ((path, self._material.media.place(path)) for path in media)
        return {
            path: self._put(path, place.read_bytes())
            for path, place in places
            if place is not None and path not in self._files
        }

    def _put(self, file: str, content: bytes) -> bool:
        written = self._site.put(file, content)
        self._files[file] = KeptFile(self._site.state(file) or NO_STATE)
        return written

    def _take(self, path: str, made: _Made) -> None:
        """Note a page that stands; a helper may have put it."""
        for file, written in made.written.items():
            self._site.count(file, written)
            if file not in self._files:
                self._files[file] = KeptFile(self._site.state(file) or NO_STATE)
        self._files[path] = made.kept
        self._done += 1
        if self._progress:
            self._progress(self._done, self._total)


def _program(templates: Path) -> object:
    """What the program itself puts into every page."""
    package = Path(__file__).resolve().parents[1]
    return __version__, folder_stamp(package, ["*.py"]), folder_stamp(templates, ["*"])
