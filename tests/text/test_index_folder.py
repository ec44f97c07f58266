"""The folder of an index: whose it is, and what happens when it is broken or in use."""

from __future__ import annotations

import gc
import os
import pickle
import subprocess
import sys
from pathlib import Path

import pytest

from kb.text import Document, IndexBusy, IndexDamaged, IndexRefused, TextIndex, parse

HUM = Document("a", title="hum")
BUZZ = Document("b", title="buzz")

posix_only = pytest.mark.skipif(os.name == "nt", reason="owners and modes are POSIX matters")


def make(folder: Path) -> Path:
    index = TextIndex.open(folder)
    index.rebuild([HUM], "first")
    index.close()
    return folder


@posix_only
def test_the_folder_is_made_for_its_owner_alone(tmp_path: Path) -> None:
    assert make(tmp_path / "deep" / "down" / "index").stat().st_mode & 0o777 == 0o700


@posix_only
def test_a_folder_that_is_a_symbolic_link_is_refused(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(make(tmp_path / "index"))
    with pytest.raises(IndexRefused) as caught:
        TextIndex.open(tmp_path / "link")
    assert caught.value.reason == "symlink"
    assert caught.value.folder == tmp_path / "link"


@posix_only
def test_a_symbolic_link_that_leads_nowhere_is_refused(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    with pytest.raises(IndexRefused):
        TextIndex.open(tmp_path / "link")
    assert not (tmp_path / "nowhere").exists()


@posix_only
def test_a_folder_that_others_may_write_to_is_refused(tmp_path: Path) -> None:
    folder = make(tmp_path / "index")
    folder.chmod(0o770)
    with pytest.raises(IndexRefused) as caught:
        TextIndex.open(folder)
    assert caught.value.reason == "writable-by-others"


@posix_only
def test_a_folder_of_another_user_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make(tmp_path / "index")
    other = folder.stat().st_uid + 1
    monkeypatch.setattr(os, "geteuid", lambda: other)
    with pytest.raises(IndexRefused) as caught:
        TextIndex.open(folder)
    assert caught.value.reason == "other-owner"


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "index").write_text("not a folder")
    with pytest.raises(IndexRefused) as caught:
        TextIndex.open(tmp_path / "index")
    assert caught.value.reason == "not-a-folder"


class Trap:
    """Unpickling one of these raises, which would show that a foreign pickle was read."""

    def __reduce__(self) -> tuple[object, ...]:
        return (pytest.fail, ("a foreign pickle was read",))


@pytest.mark.parametrize("act", [TextIndex.open, TextIndex.fresh])
def test_a_folder_with_other_files_is_neither_read_nor_emptied(tmp_path: Path, act: object) -> None:
    assert callable(act)
    folder = tmp_path / "index"
    folder.mkdir()
    (folder / "_MAIN_1.toc").write_bytes(pickle.dumps(Trap()))
    with pytest.raises(IndexRefused) as caught:
        act(folder)
    assert caught.value.reason == "not-ours"
    assert [path.name for path in folder.iterdir()] == ["_MAIN_1.toc"]


def test_an_index_of_another_version_is_damaged_and_can_be_made_afresh(tmp_path: Path) -> None:
    folder = make(tmp_path / "index")
    (folder / "text-index-format").write_text("0")
    with pytest.raises(IndexDamaged):
        TextIndex.open(folder)
    index = TextIndex.fresh(folder)
    assert (index.stamp, index.document_count) == (None, 0)
    index.close()


# Whoosh leaves a file that it can't make sense of to the garbage collector.
@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.parametrize("suffix", [".toc", ".trm", ".pst"])
@pytest.mark.parametrize("content", [b"", b"\x80\x04rubbish" * 20, None])
def test_whatever_breaks_a_file_the_index_is_damaged_and_can_be_made_afresh(
    tmp_path: Path, suffix: str, content: bytes | None
) -> None:
    folder = make(tmp_path / "index")
    (file,) = folder.glob(f"*{suffix}")
    file.write_bytes(file.read_bytes()[:-40] if content is None else content)
    with pytest.raises(IndexDamaged) as caught:  # noqa: PT012 (where it is seen does not matter)
        index = TextIndex.open(folder)
        index.search(parse("hum"))
        index.words()
    assert caught.value.folder == folder
    del caught
    gc.collect()
    index = TextIndex.fresh(folder)
    index.rebuild([HUM], "again")
    assert [hit.case for hit in index.search(parse("hum"))] == ["a"]
    index.close()


def test_a_missing_segment_is_damage(tmp_path: Path) -> None:
    folder = make(tmp_path / "index")
    (file,) = folder.glob("*.trm")
    file.unlink()
    with pytest.raises(IndexDamaged):
        TextIndex.open(folder)


def test_an_error_while_documents_come_in_leaves_the_index_as_it_was(tmp_path: Path) -> None:
    index = TextIndex.open(make(tmp_path / "index"))

    def stop(_: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        index.update([BUZZ], ["a"], "second", stop)
    assert index.stamp == "first"
    assert [hit.case for hit in index.search(parse("hum buzz"))] == ["a"]
    index.update([BUZZ], ["a"], "second")
    assert [hit.case for hit in index.search(parse("hum buzz"))] == ["b"]
    index.close()


@pytest.mark.parametrize("moment", ["adding", "before-the-commit", "after-the-commit"])
def test_a_process_killed_at_any_moment_leaves_a_whole_index(tmp_path: Path, moment: str) -> None:
    folder = make(tmp_path / "index")
    script = """
import os, sys
from pathlib import Path
import kb.text.files as files
from kb.text import Document, TextIndex
from whoosh.index import TOC
moment, folder = sys.argv[1], Path(sys.argv[2])
index = TextIndex.open(folder)
write = TOC.write
def killed(*arguments):
    if moment == "after-the-commit":
        write(*arguments)
    os._exit(9)
if moment != "adding":
    TOC.write = killed
index.update([Document("b", title="buzz")], ["a"], "second",
             (lambda _: os._exit(9)) if moment == "adding" else None)
"""
    died = subprocess.run([sys.executable, "-c", script, moment, str(folder)], check=False)
    assert died.returncode == 9
    index = TextIndex.open(folder)
    found = [hit.case for hit in index.search(parse("hum buzz"))]
    assert (index.stamp, found) == (
        ("second", ["b"]) if moment == "after-the-commit" else ("first", ["a"])
    )
    index.update([HUM, BUZZ], [], "third")
    assert (index.stamp, index.document_count) == ("third", 2)
    index.close()


def test_two_cannot_write_at_once(tmp_path: Path) -> None:
    folder = make(tmp_path / "index")
    one, other = TextIndex.open(folder), TextIndex.open(folder)
    refused: list[IndexBusy] = []

    def meanwhile(_: int) -> None:
        try:
            other.update([BUZZ], [], "other")
        except IndexBusy as busy:
            refused.append(busy)

    one.update([BUZZ], [], "one", meanwhile)
    assert len(refused) == 1
    assert one.stamp == "one"
    one.close()
    other.close()


def test_many_small_updates_leave_few_files_behind(tmp_path: Path) -> None:
    folder = make(tmp_path / "index")
    index = TextIndex.open(folder)
    for number in range(40):
        index.update([Document("a", title=f"hum {number}")], [], str(number))
    assert len(list(folder.iterdir())) < 15
    assert index.document_count == 1
    index.close()
