"""Writing the whole site."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from itertools import chain
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from kb.site import bench_data, study_data
from kb.site import kept as kept_files
from kb.site.assets import FOLDER as _ASSETS
from kb.site.assets import assets as assets_of
from kb.site.folder import NO_STATE, SiteFolder
from kb.site.hands import done_beside, done_by_many
from kb.site.kept import Kept, KeptFile, digest, folder_stamp
from kb.site.material import Material
from kb.site.pages import (
    bench,
    case,
    cause,
    chart,
    check,
    drawer,
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

# Home is the way in, so it comes last: what it leads to is there before it.
_MAKERS = (
    owner_sheet.pages,
    case.pages,
    chart.pages,
    symptom.pages,
    cause.pages,
    check.pages,
    overviews.pages,
    study.pages,
)
# These ask the database, which has one reader: this process, and none of its copies.
_ASKING = (family.pages, weak_points.pages, drawer.pages, how_good.pages, bench.pages)
_LAST = (front.pages,)

_LISTED = 4
"""The pages that show all cases take as long as one page for every fourth case would."""

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


class _Made(Struct, frozen=True, array_like=True):
    """A page that was made: as it is remembered, and what of it was written."""

    kept: KeptFile
    written: dict[str, bool]


class _Data(Struct, frozen=True, array_like=True):
    """Files of data: path in the site, and content."""

    files: Sequence[tuple[str, str]]


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
        self._last: list[Page] = []
        self._done = self._total = 0

    def all(self) -> Kept:
        """Write every file; returns what the next run needs to know, without its stamp."""
        size = len(self._material.ledger.cases)
        found = done_beside(self._search_data, _Data, size, self._write_most)
        self._put_data(found.files)
        for page in self._last:
            self._take(page.path, self._make((page, b"")))
        self._site.finish()
        looks_private = (
            *private_looking(self._material),
            *(found for path in self._files for found in self._files[path].looks_private),
        )
        return Kept(b"", self._files, looks_private)

    def _write_most(self) -> None:
        """Everything but the data of the search, and what leads to it."""
        pages, asking, self._last = (
            [page for maker in makers for page in maker(self._material)]
            for makers in (_MAKERS, _ASKING, _LAST)
        )
        every = [*pages, *asking, *self._last]
        self._total = len(every)
        assets = assets_of(self._templates)
        self._site.claim(
            chain(
                (page.path for page in every),
                (f"{_ASSETS}/{name}" for name in assets),
                self._material.media.possible(),
            )
        )
        for name, content in assets.items():
            self._put(f"{_ASSETS}/{name}", content)
        common = digest((_program(self._templates), self._source.basis, self._material.common()))
        keyed = [(page, self._key(page, common) if page.basis else b"") for page in pages]
        # A page without a key shows many cases and takes its time, so these come first.
        left = [item for item in keyed if not item[1]]
        size = len(self._material.ledger.cases) // _LISTED
        left += [item for item in keyed if item[1] and not self._stands(*item)]
        helped, meanwhile = self._site.for_helper, partial(self._write_asking, asking)
        for place, made in done_by_many(
            left, self._make, _Made, helped, meanwhile, len(left) + size
        ):
            self._take(left[place][0].path, made)

    def _search_data(self) -> _Data:
        """By far the largest of the data; it is worked out without the database."""
        words = self._source.search_words(self._material.ledger.cases)
        return _Data(list(scripts(self._material, words)))

    def _write_asking(self, pages: Iterable[Page]) -> None:
        material = self._material
        tables = self._source.bench_tables(material.ledger.cases)
        self._put_data(
            [*bench_data.scripts(material, tables), *study_data.scripts(material, tables)]
        )
        for page in pages:
            self._take(page.path, self._make((page, b"")))

    def _put_data(self, data: Sequence[tuple[str, str]]) -> None:
        self._site.claim(file for file, _ in data)
        for file, script in data:
            self._put(file, script.encode("ascii"))

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
