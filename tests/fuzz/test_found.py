"""What fuzzing and looking for slow patterns found, each as the smallest input that showed it."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from fuzz import material
from fuzz.engine import broken_off
from small_book import note

from kb.errors import CacheError
from kb.notes.case import Case
from kb.notes.folder import scan_notes
from kb.notes.links import links
from kb.notes.nodes import LONGEST_KEY, LONGEST_NAME
from kb.notes.read_case import NoteRead, read_case
from kb.notes.read_vocabulary import MOST_PARENTS, read_settings, read_vocabulary
from kb.notes.units import UnitError, read_quantity
from kb.terms import with_kinds
from kb.text import Recogniser, parse, suggest
from kb.text.polarity import read as read_words


def read(**keys: str) -> NoteRead:
    data = note("A1", **keys).encode("utf-8", "surrogatepass")
    return read_case("cases/2024/A1.md", data, material.vocabulary(), material.media_book())


def message(result: NoteRead) -> str:
    assert result.case is None
    return " | ".join(p.message for p in result.problems)


def quickly(work: Callable[[], object], limit: float = 2.5) -> None:
    """The work takes under a second of computing; each of these once took from 5 s to hours."""
    began = time.process_time()
    with broken_off(10.0):
        work()
    assert time.process_time() - began < limit


@pytest.mark.parametrize("escape", ["\\e[2J", "\\0", "\\a", "\\x7f", "\\x9b2J", "\\r"])
def test_a_control_character_written_as_an_escape_is_refused(escape: str) -> None:
    assert "control character" in message(read(complaint=f'"it hums{escape}x"'))
    assert "control character" in message(read(safety=f'{{"a{escape}b": 1 V}}'))


def test_a_file_name_that_would_command_the_terminal_is_reported_escaped(tmp_path: Path) -> None:
    (tmp_path / "cases").mkdir()
    try:
        (tmp_path / "cases" / "a\x1b[2J\n.md").write_text("x")
    except OSError:
        pytest.skip("this system has no such file names")
    scan = scan_notes(tmp_path)
    assert scan.files == ()
    assert "control character" in scan.problems[0].message
    assert str(scan.problems[0]).isprintable()


@pytest.mark.parametrize("separator", ["\x85", "\u2028", "\u2029"])
def test_a_separator_that_yaml_takes_for_a_line_end_moves_no_problem(separator: str) -> None:
    result = read(unit=f'"a{separator}b"', seen="nope")
    assert [(p.line, p.column) for p in result.problems] == [(7, 7)]


def test_a_media_name_too_long_for_any_file_is_a_missing_file() -> None:
    result = read(body=f"![x](media/{'a' * 300}.png)")
    assert result.case is not None
    assert "there is no file" in result.problems[0].message


@pytest.mark.parametrize("text", ["1e308 kV", "1e400 V", "9" * 61 + " V"])
def test_a_quantity_too_large_to_convert_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        read_quantity(text)


def test_digits_of_other_scripts_are_no_number_and_no_date() -> None:
    assert "not a date" in message(read(finished="２０２４-０３-０４"))
    assert "must be a number" in message(read(minutes="١٢"))


def test_comeback_days_beyond_the_calendar_fall_back() -> None:
    settings, problems = read_settings(b"comeback_days: 999999999999")
    assert settings.comeback_days == 90
    assert "1 to 36500 days" in problems[0].message


@pytest.mark.parametrize(
    "body",
    [
        "[x](y)\n" + "[" * 99_000,
        "[x](y)\n" + "`" * 99_000,
        "[x](y)" + "`".join("`" * i for i in range(440)),
        "](" * 49_000,
        "[x](media/y.png)\n" * 5_800,
        "[a]:" * 24_000,
    ],
    ids=["brackets", "ticks", "runs of ticks", "half links", "many links", "references"],
)
def test_a_body_made_to_look_for_links_for_hours_is_read_at_once(body: str) -> None:
    quickly(lambda: read(body=body))


@pytest.mark.parametrize(
    "line", ["# a" + " " * 90_000 + "b", "#" + " " * 90_000 + "b", "# a" + " #" * 40_000 + "b"]
)
def test_a_heading_made_to_backtrack_is_read_at_once(line: str) -> None:
    case = read(body=line).case
    assert case is not None
    quickly(lambda: case.title)


@pytest.mark.parametrize(
    ("body", "title"),
    [
        ("### ###", "It hums"),
        ("# a ##", "a"),
        ("# a##", "a##"),
        ("\n \n# b", "b"),
        ("c\n---", "c"),
        ("    # d", "It hums"),
    ],
)
def test_a_title_is_still_what_commonmark_says(body: str, title: str) -> None:
    case = read(complaint="It hums", body=body).case
    assert isinstance(case, Case)
    assert case.title == title


def test_links_in_code_stay_no_links_and_one_around_a_picture_is_found() -> None:
    assert links("`[a](b)` ``x ` [a](b)`` \n```\n[a](b)\n```\n~~~\n[a](b)\n~~~") == []
    assert [link.target for link in links("[![x](p.png)](q.md) ` [a](c)\n\n[b](d) `")] == [
        "p.png",
        "q.md",
        "c",
        "d",
    ]


def test_thousands_of_unknown_words_are_not_each_compared_with_the_vocabulary() -> None:
    names = "\n".join(f"abababab-baba-abab-{i}: {{label: x}}" for i in range(2500))
    words = read_vocabulary({"symptoms": names.encode()}).vocabulary
    seen = ", ".join(f"babababa-abab-baba-{i}" for i in range(4000))
    data = note("A1", seen=f"[{seen}]").encode()
    quickly(lambda: read_case("cases/A1.md", data, words), 1.5)


def test_commas_and_spaces_made_to_backtrack_are_read_at_once() -> None:
    for text in (
        "no " + "a, " * 6_600 + "b",
        "no x, b" + " " * 19_000 + "c",
        "after " + "1 " * 9_000,
    ):
        quickly(lambda text=text: read_words(text))


def test_names_made_to_be_found_everywhere_are_looked_for_in_time() -> None:
    same = {f"k{i}": ("aa bb",) for i in range(300)}
    quickly(lambda: Recogniser(same)("aa bb " * 3_000))
    long = {f"k{i}": (" ".join(f"w{j}" for j in range(i, i + 36)),) for i in range(900)}
    quickly(lambda: Recogniser(long)(" ".join(f"w{j % 930}" for j in range(3_000))))
    quickly(lambda: Recogniser({"a": ("x" * 20_000,)}))


def test_a_question_of_unknown_words_is_corrected_in_time() -> None:
    letters = str.maketrans("0123456789", "abcdefghij")
    words = {f"w{i:05}qrs".translate(letters): 1 for i in range(20_000)}
    question = " ".join("x" + word[1:] + "zz" for word in list(words)[:64])
    quickly(lambda: suggest(question, words))
    assert parse(question)


def test_parents_many_levels_high_are_cut_and_reported() -> None:
    chain = (
        "\n".join(f"k{i}: {{label: x, parent: k{i + 1}}}" for i in range(2_000))
        + "\nk2000: {label: x}"
    )
    found = read_vocabulary({"symptoms": chain.encode()})
    assert len(found.vocabulary.symptom_ancestors("k0")) <= MOST_PARENTS
    assert "one above the other" in found.problems[0].message
    quickly(lambda: with_kinds("symptom", "k2000", found.vocabulary.symptoms))


def test_keys_and_names_too_long_to_show_are_refused() -> None:
    text = f"{'k' * (LONGEST_KEY + 1)}: {{label: x}}\nk: {{label: {'y' * (LONGEST_NAME + 1)}}}\n"
    found = read_vocabulary({"symptoms": text.encode()})
    assert list(found.vocabulary.symptoms) == ["k"]
    assert found.vocabulary.symptoms["k"].label == "k"
    assert [p.message[:20] for p in found.problems] == [
        "a key has at most 64",
        "a name has at most 2",
    ]


def test_nesting_is_refused_beyond_sixteen_levels_with_its_place() -> None:
    assert read(private="{a: " + "[" * 13 + "]" * 13 + "}").case is not None
    result = read(private="{a: " + "[" * 20 + "]" * 20 + "}")
    assert "nested far too deeply: more than 16 levels" in message(result)
    assert result.problems[0].line == 6


def test_a_body_of_more_than_100_000_characters_is_refused() -> None:
    assert "more than 100,000 characters" in message(read(body="a" * 100_001))


def test_a_cache_that_is_a_link_to_a_folder_of_somebody_is_refused(tmp_path: Path) -> None:
    from kb.cache import cache_folder

    book = tmp_path / "book"
    book.mkdir()
    made = cache_folder(book, tmp_path / "cache")
    (made / "benchbook-cache").unlink()
    made.rmdir()
    (tmp_path / "other").mkdir()
    made.symlink_to(tmp_path / "other")
    with pytest.raises(CacheError):
        cache_folder(book, tmp_path / "cache")
    assert list((tmp_path / "other").iterdir()) == []
