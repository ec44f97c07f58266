"""Files that are no notes at all, or that want to harm."""

from __future__ import annotations

import pytest


def the_message(result) -> str:
    assert result.case is None
    assert len(result.problems) == 1
    return result.problems[0].message


def test_an_empty_file_is_explained(read):
    assert "empty" in the_message(read(whole=""))


def test_a_note_without_front_matter_is_explained(read):
    assert "first line must be ---" in the_message(read(whole="# Only a heading\n"))


def test_front_matter_without_an_end_is_explained(read):
    assert "never ends" in the_message(read(whole="---\ncase: A\n"))


def test_invalid_utf_8_is_reported_with_its_place(read):
    result = read(whole=b"---\ncase: A\nunit: caf\xe9\n---\n")
    assert "not UTF-8" in the_message(result)
    assert (result.problems[0].line, result.problems[0].column) == (3, 10)


def test_a_binary_file_is_explained(read):
    assert "not a text file" in the_message(read(whole=b"---\n\0\0\0---\n"))


def test_a_fifty_megabyte_note_is_refused(read):
    data = b"x" * 50_000_000
    message = the_message(read(whole=data))
    assert "larger than 1 MB" in message


def test_a_tab_used_to_indent_is_explained(read):
    result = read(whole="---\ncase: A\nproved:\n\trun: 5 min\n---\n")
    assert "tab" in the_message(result)
    assert result.problems[0].line == 4


def test_aliases_that_multiply_are_refused_where_they_stand(read):
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 12)]
    result = read(whole="---\n" + "\n".join(lines) + "\n---\n")
    assert "alias" in the_message(result)
    assert (result.problems[0].line, result.problems[0].column) == (3, 10)


@pytest.mark.parametrize("text", ["[" * 5000, "\n  " + "- " * 5000 + "a", "{a: " * 5000])
def test_deep_nesting_is_refused(read, text):
    assert "deep" in the_message(read(whole=f"---\nprivate: {text}\n---\n"))


def test_terminal_escapes_are_refused_anywhere_in_a_note(read):
    assert "control character (U+001B)" in the_message(read(body="text \x1b[2J\n"))


def test_windows_line_ends_and_a_byte_order_mark_are_no_fault(read):
    plain = read("unit: X\n", "body\nmore\n")
    text = "\ufeff" + ("---\ncase: 2024-0117\nfamily: drover-22\nreceived: 2024-03-04\n"
        "complaint: Crackles on and off once it has been on for a while\n"
        "symptom: crackle-when-warm\nunit: X\n---\nbody\nmore\n").replace("\n", "\r\n")  # fmt: skip
    assert read(whole=text).case == plain.case


def test_a_flood_of_faults_is_cut_short(read):
    more = "seen: [" + ", ".join(f"x{i}" for i in range(500)) + "]\n"
    assert len(read(more).problems) == 50


def test_a_quote_that_is_never_closed_is_reported_where_it_opens(read):
    result = read("unit: 'DR22\nbuilt: 1996\n")
    assert "never closed" in the_message(result)
    assert (result.problems[0].line, result.problems[0].column) == (7, 7)


def test_python_tags_construct_nothing(read):
    result = read("unit: !!python/object/apply:os.getcwd []\n")
    assert result.case is None
