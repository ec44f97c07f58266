"""What the build warns about: text that looks as if it named a person, and is published."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from small_book import SmallBook, closed

from kb.book import Book
from kb.site.looks_private import findings

TELEPHONE, EMAIL, STREET = "telephone number", "e-mail address", "street address"

# Numbers of the ranges kept free for fiction, and of the examples in ITU-T E.123 (02/2001), 2.
PRIVATE = {
    # ITU-T E.123, the standard's own examples of the national and the international notation
    "(0607) 123 4567": TELEPHONE,
    "+22 607 123 4567": TELEPHONE,
    "someone@itu.example": EMAIL,
    # 01632 960000 to 960999 and 07700 900000 to 900999: kept for fiction by the United Kingdom's regulator
    "Owner on 01632 960123, evenings": TELEPHONE,
    "01632960123": TELEPHONE,
    "(01632) 960 123": TELEPHONE,
    "0 1632 not, but 01632-960-123": TELEPHONE,
    "+44 1632 960123": TELEPHONE,
    "+44 (0)1632 960123": TELEPHONE,
    "+441632960123": TELEPHONE,
    "0044 1632 960 123": TELEPHONE,
    "call him on 960123": TELEPHONE,
    "Tel. no.: 960 123": TELEPHONE,
    "mobile 07700 900 456.": TELEPHONE,
    "0531/123 45 67": TELEPHONE,
    "01 99 00 12 34": TELEPHONE,
    "01.99.00.12.34": TELEPHONE,
    # 555-0100 to 555-0199: kept for fiction in North America
    "(212) 555-0123": TELEPHONE,
    "212-555-0123": TELEPHONE,
    "212.555.0123": TELEPHONE,
    # RFC 5322, 3.4.1 and its examples in appendix A, with domains of RFC 2606
    "jdoe@machine.example": EMAIL,
    "mary@x.test": EMAIL,
    "john.q.public@example.com": EMAIL,
    '"Joe Q. Public"@example.com': EMAIL,
    "one+bench@mail.example.org, asked twice": EMAIL,
    "o'hara_{x}@sub-domain.example.net": EMAIL,
    "mailto:jdoe@example.org": EMAIL,
    "[write](mailto:jdoe@example.org)": EMAIL,
    "jürgen@bücher.example": EMAIL,
    # streets as they are written in some languages: common practice, no source
    "12 Harbour Lane": STREET,
    "collect from Flat 3, 27b Upper Mill Road please": STREET,
    "9 St Anne’s Terrace, back door": STREET,
    "1200 Larkspur Ave": STREET,
    "Lindenstraße 14": STREET,
    "Am Bach, Birkenweg 3a": STREET,
    "14 rue de la Gare": STREET,
    "3 bis, avenue Pasteur": STREET,
    "Calle de la Luna, 8": STREET,
    "Via Garibaldi, 12": STREET,
    "Kerkstraat 21": STREET,
    "P.O. Box 114": STREET,
}

HARMLESS = [
    # cases, units, batches, parts
    "see 2024-0117 and 2024-0118", "DR22-0418", "DR-22-0418-0330", "batch 2351", "serial 0163 296 0123",
    "S/N 01632960123", "part no. 0603 100 4700", "order no. 0201 443 9981", "A0115-3300-0471", "EL84 12AX7 5U4GB",
    "1N4007, NE5532, TL072CP", "type 02134-8876-01", "ref: 0441 229 3304", "case 0117 2024 0003", "ISO 14224",
    "IEC 60050-192:2015", "0402 0603 0805 1206", "62368-1", "12-34-5678", "ECC83/12AX7/7025",
    # values with units, and readings one after the other
    "318 V", "+450 V, -55 V", "+15 V -15 V", "312 318 311 309 V", "0.08 Ω and 200 MΩ", "±0.000 125 % of it",
    "20 000 000 Hz", "47 µF 450 V", "230 V 50 Hz", "100 kΩ 1 W", "0100 200 300 400 V", "0 10 20 30 40 50 60",
    "00 10 20 30 40 50", "0.1 0.22 0.47 1.0 2.2", "1 000 000 Ω", "-60 -50 -40 -30 -20 dB", "0.047 0.022 0.01 µF",
    "08 16 24 32 40 48 56 64", "291 V @ 221 V, idle", "V1@pin.2", "a 12 V @ 0.5 A", "0033 0047 0100 nF", "3.14159265358979",
    # dates, times, prices, sizes
    "2024-03-04", "04/03/2024", "04.03.2024 12:30", "01.02.2024 10.15", "2024-03-04 2024-03-11", "03-04-24 to 09-04-24",
    "20240304 20240311", "12:30:45", "£1 250 000", "GBP 120, 90 and 45", "0100 200 300 GBP", "1.234.567,89 €", "300 x 400 x 210 mm",
    "1996-2003", "10 of 12 after 5", "from 100 000 to 200 000 h",
    # words that are streets elsewhere
    "Harbour Lane service book", "from the Mill Road workshop", "2 Lead Drive", "channel 2 Clean Drive at 7", "the signal lane",
    "3 Valves in a row", "V2 St", "Signalweg 2", "Steckplatz 4", "Arbeitsplatz 2", "via R12", "Via Pin 3", "2 Square waves", "100 Hz Square",
    "square wave at 1 kHz", "close to 12 V", "Court held at 4", "1 Close Look", "avenue 3", "4 place settings",
    # marks that addresses have
    "@home", "a@b", "x @ y.z", "@2351", "user@localhost", "5@6.7", "R@V2.k", "http://example.org/a", "![](media/v1@2x)",
]  # fmt: skip


@pytest.mark.parametrize("text", PRIVATE)
def test_what_looks_private_is_found_as_what_it_is(text: str) -> None:
    assert [found.kind for found in findings(text)] == [PRIVATE[text]]


@pytest.mark.parametrize("text", HARMLESS)
def test_what_a_bench_writes_all_day_is_no_alarm(text: str) -> None:
    assert list(findings(text)) == []


def test_the_place_is_that_of_the_number_alone() -> None:
    text = "Ring 01632 960123 or write to jdoe@example.org."
    parts = [text[found.start : found.end] for found in findings(text)]
    assert parts == ["jdoe@example.org", "01632 960123"]


def test_digits_of_an_identifier_are_no_telephone_number_but_an_address_in_it_is_one() -> None:
    assert list(findings("01632 960123", identifier=True)) == []
    assert [f.kind for f in findings("jdoe@example.org", identifier=True)] == [EMAIL]


def test_the_sample_book_gives_no_alarm(sample: Book, tmp_path: Path) -> None:
    assert sample.write_site(tmp_path / "site").looks_private == ()


@pytest.fixture
def warned(small: SmallBook, tmp_path: Path) -> Callable[[], list[tuple[str, str, str, int, int]]]:
    def build() -> list[tuple[str, str, str, int, int]]:
        with small.open() as book:
            found = book.write_site(tmp_path / "site").looks_private
        return [(one.file, one.field, one.kind, one.line, one.column) for one in found]

    return build


CHECKS = "[{check: freeze-spray, outcome: fault-changes, note: 'ask jdoe@example.org'}]"


def test_note_key_and_place_are_named_and_the_site_is_written_all_the_same(
    small: SmallBook, tmp_path: Path, warned
) -> None:
    small.write("A1", closed("A1", "carbon-resistor/noisy", symptom="crackle", checks=CHECKS,
        complaint='"Crackles, ring 01632 960123"', private="{phone: 01632 960123}",
        body="# Crackle\n\nHe lives at 12 Harbour Lane; 12 Harbour Lane."))  # fmt: skip
    note = "cases/2024/A1.md"
    assert warned() == [
        (note, "complaint", TELEPHONE, 5, 28),
        (note, "note", EMAIL, 10, 67),
        (note, "text", STREET, 15, 13),
        (note, "text", STREET, 15, 30),
    ]
    lines = small.path("A1").read_text("utf-8").splitlines()
    assert lines[4][27:].startswith("01632 960123")
    assert lines[9][66:].startswith("jdoe@example.org")
    assert lines[14][12:].startswith("12 Harbour Lane")
    assert (tmp_path / "site/cases/a1.html").is_file()


def test_a_value_folded_over_two_lines_is_named_where_it_starts(small: SmallBook, warned) -> None:
    small.write("A1", complaint=">\n  Crackles, ring 01632\n  960123 at noon")
    assert warned() == [("cases/2024/A1.md", "complaint", TELEPHONE, 5, 12)]


def test_what_is_private_or_hidden_is_not_looked_at(small: SmallBook, warned) -> None:
    (small.folder / "book.yaml").write_text(
        "title: B\npublish: {hide: [note, complaint]}\n", "utf-8"
    )
    small.write("A1", closed("A1", "fuse/blown", checks=CHECKS, complaint="ring 01632 960123",
        private="{owner: jdoe@example.org, address: 12 Harbour Lane}"))  # fmt: skip
    assert warned() == []


def test_the_book_its_words_and_its_write_ups_are_looked_at_too(small: SmallBook, warned) -> None:
    (small.folder / "book.yaml").write_text("title: Bench, 12 Harbour Lane\n", "utf-8")
    words = small.folder / "vocabulary/symptoms.yaml"
    words.write_text(words.read_text("utf-8") + "howl: {label: Howls, also: [01632 960123]}\n")
    (small.folder / "families").mkdir()
    (small.folder / "families/drover-22.md").write_text("# Drover\n\njdoe@example.org\n", "utf-8")
    assert warned() == [
        ("book.yaml", "title", STREET, 1, 15),
        ("families/drover-22.md", "text", EMAIL, 3, 1),
        ("vocabulary/symptoms.yaml", "also", TELEPHONE, 6, 29),
    ]
