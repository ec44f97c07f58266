"""Writing: only what changed, nothing of anybody else's, and whole files only."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from invented_source import CASES, InventedSource, make_media
from msgspec.structs import replace

from kb.site import SiteRefused, SiteReport, write_site
from kb.site.folder import MARKER, SiteFolder

Write = Callable[..., SiteReport]


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "out"


@pytest.fixture
def write(out: Path, templates: Path) -> Write:
    def write(source: InventedSource | None = None) -> SiteReport:
        return write_site(source or InventedSource(), out, templates)

    return write


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_the_same_book_gives_the_same_bytes_whatever_the_order_of_its_cases(
    tmp_path: Path, templates: Path
) -> None:
    write_site(InventedSource(), tmp_path / "a", templates)
    write_site(InventedSource(cases=CASES[::-1]), tmp_path / "b", templates)
    one, other = contents(tmp_path / "a"), contents(tmp_path / "b")
    # The search tables number the documents as the source does.
    pages = [name for name in one if not name.startswith("data/")]
    assert one.keys() == other.keys()
    assert [name for name in pages if one[name] != other[name]] == []


def test_an_unchanged_book_rewrites_nothing(write: Write, out: Path) -> None:
    first = write()
    times = {path: path.stat().st_mtime_ns for path in out.rglob("*")}
    second = write()
    assert (first.unchanged, first.removed) == (0, 0)
    assert (second.written, second.removed) == (0, 0)
    assert second.unchanged == first.written
    assert {path: path.stat().st_mtime_ns for path in out.rglob("*")} == times


def test_a_changed_case_rewrites_its_page_and_leaves_other_cases_alone(
    write: Write, out: Path
) -> None:
    write()
    before = contents(out)
    changed = replace(CASES[3], complaint="Cuts out in the second half")
    write(InventedSource(cases=[*CASES[:3], changed, *CASES[4:]]))
    rewritten = {name for name, data in contents(out).items() if data != before.get(name)}
    assert "cases/2024-0231.html" in rewritten
    assert {name for name in rewritten if name.startswith("cases/")} == {"cases/2024-0231.html"}


def test_a_removed_case_takes_its_page_its_sheet_and_its_media_along(
    tmp_path: Path, write: Write, out: Path
) -> None:
    media = make_media(tmp_path)
    write(InventedSource(media_folder=media))
    assert (out / "media/hum.wav").read_bytes() == (media / "hum.wav").read_bytes()
    report = write(InventedSource(cases=CASES[1:], media_folder=media))
    assert report.removed == 3
    assert not (out / "cases/2023-0871.html").exists()
    assert not (out / "sheets/2023-0871.html").exists()
    assert not (out / "media/hum.wav").exists()
    assert (out / "media/vent.png").exists(), "the family's write-up still shows it"


def test_a_folder_that_is_not_a_site_is_refused_and_left_as_it_was(write: Write, out: Path) -> None:
    out.mkdir()
    (out / "holiday.txt").write_text("mine")
    with pytest.raises(SiteRefused) as refusal:
        write()
    assert (refusal.value.folder, refusal.value.reason) == (out, "not empty")
    assert refusal.value.found == "holiday.txt"
    assert contents(out) == {"holiday.txt": b"mine"}


def test_a_file_in_place_of_the_folder_is_refused(write: Write, out: Path) -> None:
    out.write_text("mine")
    with pytest.raises(SiteRefused, match="not a folder"):
        write()


def test_files_that_somebody_added_to_the_site_stay(write: Write, out: Path) -> None:
    write()
    (out / "cases/own.html").write_text("mine")
    write(InventedSource(cases=CASES[1:]))
    assert (out / "cases/own.html").read_text() == "mine"


def test_a_run_that_was_broken_off_is_repaired_by_the_next(
    write: Write, out: Path, templates: Path
) -> None:
    class BrokenOff(Exception):
        pass

    def stop(done: int, total: int) -> None:
        if done == total // 2:
            raise BrokenOff

    with pytest.raises(BrokenOff):
        write_site(InventedSource(), out, templates, stop)
    assert not (out / "index.html").exists()
    (out / ".part").mkdir(exist_ok=True)
    (out / ".part/file").write_text("half a pa")
    write(InventedSource(cases=CASES[1:]))
    whole = contents(out)
    write_site(InventedSource(cases=CASES[1:]), out.parent / "fresh", templates)
    assert whole == contents(out.parent / "fresh")


def test_home_is_the_last_page_to_be_replaced(
    out: Path, templates: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    put = SiteFolder.put

    def noted(self: SiteFolder, file: str, content: bytes) -> None:
        order.append(file)
        put(self, file, content)

    monkeypatch.setattr(SiteFolder, "put", noted)
    write_site(InventedSource(), out, templates)
    assert order[-1] == "index.html"


def test_a_list_from_a_stranger_removes_nothing_outside_the_site(
    write: Write, out: Path, tmp_path: Path
) -> None:
    outside = tmp_path / "precious.txt"
    outside.write_text("mine")
    write()
    (out / "away").symlink_to(tmp_path)
    with (out / MARKER).open("a") as marker:
        marker.write(f"../precious.txt\n{outside}\naway/precious.txt\n")
    write()
    assert outside.read_text() == "mine"


def test_a_link_that_leads_out_of_the_site_is_not_written_through(
    write: Write, out: Path, tmp_path: Path
) -> None:
    write()
    elsewhere = tmp_path / "elsewhere"
    (out / "symptoms").rename(elsewhere)
    (out / "symptoms").symlink_to(elsewhere)
    with pytest.raises(SiteRefused) as refusal:
        write()
    assert refusal.value.reason == "leads out"


def test_progress_counts_every_page_once(out: Path, templates: Path) -> None:
    told: list[tuple[int, int]] = []
    write_site(InventedSource(), out, templates, lambda done, total: told.append((done, total)))
    total = len(list(out.rglob("*.html")))
    assert told == [(done, total) for done in range(1, total + 1)]
