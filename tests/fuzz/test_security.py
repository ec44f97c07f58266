"""What `docs/security.md` claims of the whole program, and that each claim has its test."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest
from fuzz import material  # loads the libraries before the guard stands
from fuzz.guard import guarded
from small_book import SmallBook, closed, note

from kb.notes.read_case import read_case
from kb.notes.read_vocabulary import read_vocabulary

TOP = Path(__file__).resolve().parents[2]


def test_every_test_named_in_the_security_page_exists() -> None:
    page = (TOP / "docs" / "security.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`(test_\w+)`", page))
    assert len(named) > 40
    written = {
        name
        for path in (TOP / "tests").rglob("test_*.py")
        for name in re.findall(r"^\s*def (test_\w+)", path.read_text(encoding="utf-8"), re.M)
    }
    assert sorted(named - written) == []


def test_the_limits_of_the_security_page_are_those_of_the_program() -> None:
    from kb.notes import limits, nodes, problems
    from kb.notes.read_case import MOST_FAULTS
    from kb.notes.read_vocabulary import MOST_PARENTS
    from kb.text.plain import LONGEST_READ as SHOWN
    from kb.text.question import MAX_CHARACTERS, MAX_WORDS
    from kb.text.recognise import LONGEST_READ

    page = (TOP / "docs" / "security.md").read_text(encoding="utf-8")
    assert limits.LARGEST_NOTE == 1_000_000
    assert limits.LARGEST_FRONT_MATTER == limits.LARGEST_BODY == 100_000
    assert limits.DEEPEST_YAML == MOST_PARENTS == 16
    assert MOST_FAULTS == problems.MOST_PER_FILE == 50
    for number in (nodes.LONGEST_TEXT, nodes.LONGEST_NAME, nodes.LONGEST_KEY, MAX_CHARACTERS, MAX_WORDS, LONGEST_READ, SHOWN):  # fmt: skip
        assert f"{number:,}" in page


def test_private_words_of_a_note_are_nowhere_in_the_cache_or_the_site(
    small: SmallBook, tmp_path: Path
) -> None:
    private = "{owner: Zebediah Quillfeather, phone: 01632 960123}"
    small.write("A2", closed("A2", "fuse/blown", private=private))
    with small.open() as book:
        book.index()
        book.write_site(tmp_path / "site")
    kept = [p for top in (small.cache, tmp_path / "site") for p in top.rglob("*") if p.is_file()]
    assert len(kept) > 10
    for file in kept:
        data = file.read_bytes().lower()
        assert b"quillfeather" not in data
        assert b"960123" not in data


def test_no_command_writes_outside_starts_a_program_or_asks_a_network(
    small: SmallBook, tmp_path: Path
) -> None:
    assert material.words()
    cache, site = small.cache, tmp_path / "site"
    cache.mkdir(exist_ok=True)
    with guarded([cache, site], [small.folder]), small.open() as book:
        assert book.check() == ()
        assert book.index().notes == 5
        assert book.search("crackles").total
        assert book.diagnose("crackles", family="drover-22").causes
        assert book.weak_points().families
        assert book.write_site(site).written


@pytest.mark.parametrize("kind", ["note", "vocabulary"])
def test_the_largest_file_of_a_kind_is_read_within_two_seconds(kind: str) -> None:
    began = time.process_time()
    if kind == "note":
        lines = ", ".join("{at: a, value: 1 V}" for _ in range(4_600))
        data = note(
            "A1", readings=f"[{lines}]", body="word [x](media/y.png) `code`\n" * 3_400
        ).encode()
        assert read_case("cases/A1.md", data, material.vocabulary()).case is not None
    else:
        text = "\n".join(f"k{i}: {{label: word {i}, also: [a {i}]}}" for i in range(2_200))
        assert len(read_vocabulary({"symptoms": text.encode()}).vocabulary.symptoms) == 2_200
    assert time.process_time() - began < 2.0
