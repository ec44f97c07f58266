"""The index follows the notes: incremental by content, right after anything that happens to it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_book import SmallBook, closed, note

from kb.book import Book
from kb.errors import BenchbookError, CacheError, NoBookError


def age(book: SmallBook) -> None:
    """Make the notes old enough that their dates can be trusted."""
    for path in book.folder.rglob("*.md"):
        os.utime(path, (1_700_000_000, 1_700_000_000))


def numbers(book: Book) -> list[str]:
    return [case.case for case in book.cases()]


def test_the_first_run_adds_every_note(small):
    with small.open() as book:
        report = book.index()
    assert (report.notes, report.added, report.changed, report.removed, report.refused) == (
        5,
        5,
        0,
        0,
        0,
    )


def test_a_second_run_finds_nothing_to_do(small):
    age(small)
    with small.open() as book:
        book.index()
    with small.open() as book:
        report = book.index()
    assert (report.added, report.changed, report.removed) == (0, 0, 0)


def test_only_the_changed_note_is_read_again(small, monkeypatch):
    age(small)
    with small.open() as book:
        book.index()
    small.write("A2", complaint="Something else altogether")
    read = []
    import kb.intake

    original = kb.intake.read_case
    monkeypatch.setattr(
        kb.intake, "read_case", lambda path, *rest: read.append(path) or original(path, *rest)
    )
    with small.open() as book:
        report = book.index()
        assert (report.added, report.changed, report.removed) == (0, 1, 0)
        assert read == ["cases/2024/A2.md"]
        assert [h.case for h in book.search("altogether").hits] == ["A2"]


def test_a_change_that_keeps_size_and_date_is_seen_while_the_note_is_young(small):
    with small.open() as book:
        book.index()
        state = small.path("A2").stat()
        small.path("A2").write_text(
            small.path("A2").read_text(encoding="utf-8").replace("It crackles", "It whistles"),
            encoding="utf-8",
        )
        os.utime(small.path("A2"), ns=(state.st_atime_ns, state.st_mtime_ns))
        assert book.search("whistles").total == 1


def test_a_removed_note_leaves_the_answers(small):
    with small.open() as book:
        assert book.search("spat").total == 1
        small.path("A1").unlink()
        assert book.search("spat").total == 0
        assert "A1" not in numbers(book)


def test_a_renamed_note_keeps_its_case(small):
    with small.open() as book:
        book.index()
        small.path("A1").rename(small.path("other-name"))
        report = book.index()
        assert (report.added, report.removed) == (1, 1)
        assert book.case("A1").path == "cases/2024/other-name.md"
        assert book.search("spat").total == 1


def test_of_two_notes_with_one_number_the_first_by_path_has_it(small):
    small.write("B9", note("a1", complaint="The impostor hums"))
    with small.open() as book:
        assert book.index().refused == 1
        assert book.case("a1").complaint == "Crackles after a while"
        problems = [p for p in book.check() if p.file.endswith("B9.md")]
        assert [(p.line, p.column) for p in problems] == [(2, 7)]
        assert "already used in cases/2024/A1.md" in problems[0].message
        small.path("A1").unlink()
        assert book.case("A1").complaint == "The impostor hums"
        assert book.search("impostor").total == 1


def test_a_faulty_note_is_left_out_and_the_others_answer(small):
    small.write("A1", "---\ncase: A1\n---\n")
    with small.open() as book:
        assert book.refused() == 1
        assert numbers(book) == ["A2", "A3", "A4", "A5"]


def test_a_mended_vocabulary_brings_its_notes_in(small):
    causes = small.folder / "vocabulary" / "causes.yaml"
    whole = causes.read_text(encoding="utf-8")
    causes.write_text(whole.replace("tape-head/worn", "tape-head/tired"), encoding="utf-8")
    with small.open() as book:
        assert book.refused() == 1
    causes.write_text(whole, encoding="utf-8")
    with small.open() as book:
        assert book.refused() == 0
        assert book.case("A4").root_causes == ("tape-head/worn",)


def test_new_words_of_the_vocabulary_are_found_at_once(small):
    with small.open() as book:
        assert book.search("sizzling").total == 0
    symptoms = small.folder / "vocabulary" / "symptoms.yaml"
    text = symptoms.read_text(encoding="utf-8").replace("[buzzes]", "[buzzes, sizzling]")
    symptoms.write_text(text, encoding="utf-8")
    with small.open() as book:
        assert [h.case for h in book.search("sizzling").hits] == ["A3"]


def test_the_book_itself_is_never_written_to(small):
    before = {p: p.read_bytes() for p in small.folder.rglob("*") if p.is_file()}
    with small.open() as book:
        book.index()
        book.search("crackles")
        book.diagnose("crackles")
        book.weak_points()
        book.check()
    assert {p: p.read_bytes() for p in small.folder.rglob("*") if p.is_file()} == before


@pytest.mark.skipif(os.name != "posix", reason="file modes are those of POSIX")
def test_a_read_only_book_is_read(small):
    for path in (*small.folder.rglob("*"), small.folder):
        path.chmod(0o555 if path.is_dir() else 0o444)
    with small.open() as book:
        assert book.search("crackles").total > 0
    for path in (small.folder, *small.folder.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)


def test_a_path_with_spaces_and_umlauts_works(make_book):
    book = make_book("Röhren & Söhne, Bücher 2024")
    book.write("A1", closed("A1", "fuse/blown"))
    with book.open() as opened:
        assert opened.search("crackles").total == 1


def test_a_book_reached_through_a_link_is_the_same_book(small, tmp_path):
    (tmp_path / "link").symlink_to(small.folder)
    with small.open() as book:
        book.index()
    with Book.open(tmp_path / "link", small.cache) as book:
        assert book.index().added == 0
        assert book.search("spat").total == 1


def test_an_empty_book_answers_that_it_knows_nothing(make_book):
    with make_book().open() as book:
        assert book.index().notes == 0
        assert book.search("hum").total == 0
        answer = book.diagnose("hum")
        assert answer.causes == ()
        assert answer.unseen == pytest.approx(1.0)
        assert book.weak_points().families == ()


def test_no_book_is_said_plainly(tmp_path):
    with pytest.raises(NoBookError, match=r"no book\.yaml"):
        Book.open(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_links_and_pipes_among_the_notes_are_reported_and_never_opened(small, tmp_path):
    secret = tmp_path / "secret.md"
    secret.write_text(note("S1", complaint="secret words"), encoding="utf-8")
    small.path("link").symlink_to(secret)
    (small.folder / "cases" / "away").symlink_to(tmp_path)
    os.mkfifo(small.path("pipe"))
    with small.open() as book:
        assert book.index().notes == 5
        assert book.search("secret").total == 0
        found = {p.file: p.message for p in book.check()}
    assert "symbolic link" in found["cases/2024/link.md"]
    assert "symbolic link" in found["cases/away"]
    assert "no ordinary file" in found["cases/2024/pipe.md"]


def test_a_vocabulary_behind_a_link_is_not_followed(small, tmp_path):
    (small.folder / "vocabulary").rename(tmp_path / "elsewhere")
    (small.folder / "vocabulary").symlink_to(tmp_path / "elsewhere")
    with small.open() as book:
        assert book.vocabulary.causes == {}
        assert any("symbolic link" in p.message for p in book.check())


def test_a_cache_path_with_signs_that_mean_something_in_an_address_works(small, tmp_path):
    with Book.open(small.folder, tmp_path / "50% off? #1 &c") as book:
        assert book.search("crackles").total > 0


# ---------------------------------------------------------------- the cache folder


def the_cache(book: SmallBook) -> Path:
    (folder,) = (p for p in book.cache.iterdir() if p.is_dir())
    return folder


@pytest.mark.parametrize("damage", ["truncate", "scribble", "delete", "other-version"])
def test_a_damaged_database_is_made_again(small, damage):
    with small.open() as book:
        before = book.search("crackles")
    file = the_cache(small) / "book.db"
    if damage == "truncate":
        file.write_bytes(file.read_bytes()[:5000])
    elif damage == "scribble":
        file.write_bytes(b"not a database" * 1000)
    elif damage == "delete":
        file.unlink()
    else:
        import sqlite3

        with sqlite3.connect(file) as connection:
            connection.execute("UPDATE meta SET value = '0/0.0' WHERE key = 'made_by'")
        connection.close()
    for extra in ("book.db-wal", "book.db-shm"):
        (the_cache(small) / extra).unlink(missing_ok=True)
    with small.open() as book:
        assert book.search("crackles") == before


@pytest.mark.parametrize("damage", ["delete-one", "truncate", "delete-all", "scribble"])
def test_a_damaged_text_index_is_made_again(small, damage):
    with small.open() as book:
        before = book.search("crackles")
    text = the_cache(small) / "text"
    files = [p for p in text.iterdir() if p.is_file() and p.stat().st_size > 20]
    if damage == "delete-all":
        shutil.rmtree(text)
    elif damage == "delete-one":
        max(files, key=lambda p: p.stat().st_size).unlink()
    else:
        for path in files:
            path.write_bytes(path.read_bytes()[:10] if damage == "truncate" else b"\xff" * 500)
    with small.open() as book:
        assert book.search("crackles") == before


def test_a_kill_between_text_and_database_is_repaired(small, monkeypatch):
    """The text index is committed, then the process dies: the next command must be right."""
    import kb.intake

    with small.open() as book:
        book.index()
    small.write("A2", complaint="Something else altogether")

    def die(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(kb.indexing.database, "set_meta", die)
        with pytest.raises(KeyboardInterrupt), small.open() as book:
            book.index()
    with small.open() as book:
        assert [h.case for h in book.search("altogether").hits] == ["A2"]
        assert book.case("A2").complaint == "Something else altogether"


def test_a_cache_inside_the_book_is_refused(small):
    with pytest.raises(CacheError, match="inside the book"):
        Book.open(small.folder, small.folder / "cache").index()


def test_a_cache_of_which_only_the_files_were_deleted_is_made_again(small):
    with small.open() as book:
        before = book.search("crackles")
    for file in the_cache(small).rglob("*"):
        if file.is_file():
            file.unlink()
    with small.open() as book:
        assert book.search("crackles") == before


def test_a_folder_that_the_program_did_not_make_is_not_used(small):
    with small.open() as book:
        book.index()
    (the_cache(small) / "benchbook-cache").unlink()
    with pytest.raises(CacheError, match="was not made by benchbook"):
        small.open().index()


@pytest.mark.skipif(os.name != "posix", reason="file modes are those of POSIX")
def test_the_cache_is_private(small):
    with small.open() as book:
        book.index()
    assert the_cache(small).stat().st_mode & 0o077 == 0


def test_a_cache_that_cannot_be_written_is_said_plainly(small, tmp_path):
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(BenchbookError, match="cannot write to the cache folder"):
        Book.open(small.folder, tmp_path / "file").index()


# ---------------------------------------------------------------- the law

ACTIONS = st.lists(
    st.tuples(st.sampled_from(["write", "remove", "break"]), st.integers(0, 4), st.integers(0, 3)),
    min_size=1,
    max_size=8,
)
CAUSES = (
    "carbon-resistor/noisy",
    "fuse/blown",
    "tape-head/worn",
    "electrolytic-capacitor/high-esr",
)


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(actions=ACTIONS)
def test_an_incremental_sync_equals_a_rebuild(tmp_path_factory, actions):
    top = tmp_path_factory.mktemp("law")
    small = SmallBook(top / "book", top / "cache")
    with small.open() as book:
        for what, which, how in actions:
            case = f"C{which}"
            if what == "remove":
                small.path(case).unlink(missing_ok=True)
            elif what == "break":
                small.write(case, "---\nnot a note\n")
            else:
                words = f"It crackles {'and hums ' * how}in the evening"
                small.write(case, closed(case, CAUSES[how], complaint=words, symptom="crackle"))
            book.index()
        synced = everything(book)
    with Book.open(small.folder, top / "other-cache") as book:
        assert everything(book) == synced


def everything(book: Book) -> tuple[object, ...]:
    return (
        book.cases(),
        book.search("crackles hums evening", limit=100),
        book.diagnose("crackles", family="drover-22"),
        book.weak_points(),
    )


@pytest.mark.skipif(os.name == "nt", reason="modes are a POSIX matter")
def test_a_cache_folder_that_others_may_write_to_is_refused(small):
    with small.open() as book:
        book.index()
    the_cache(small).chmod(0o770)
    with small.open() as book, pytest.raises(BenchbookError, match="others may write"):
        book.index()


@pytest.mark.skipif(os.name == "nt", reason="pipes in folders are a POSIX matter")
@pytest.mark.parametrize("trap", ["pipe", "link"])
def test_a_pipe_or_link_in_the_place_of_the_text_index_is_not_opened(small, tmp_path, trap):
    with small.open() as book:
        before = book.search("crackles")
    text = the_cache(small) / "text"
    shutil.rmtree(text)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "mine").write_text("x", encoding="utf-8")
    if trap == "pipe":
        os.mkfifo(text)
    else:
        text.symlink_to(elsewhere)
    with small.open() as book:
        assert book.search("crackles") == before
    assert (elsewhere / "mine").exists()


def test_another_title_of_the_book_is_no_reason_to_read_every_note_again(small, monkeypatch):
    import kb.intake

    age(small)
    with small.open() as book:
        book.index()
    (small.folder / "book.yaml").write_text("title: Another title\n", encoding="utf-8")
    read = []
    original = kb.intake.read_case
    monkeypatch.setattr(
        kb.intake, "read_case", lambda path, *rest: read.append(path) or original(path, *rest)
    )
    with small.open() as book:
        assert book.settings.title == "Another title"
        book.index()
    assert read == []
