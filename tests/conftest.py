"""Small books made on the spot, and the sample book indexed once for all tests."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from small_book import SmallBook, closed

from kb.book import Book
from kb.resources import sample_book


@pytest.fixture
def make_book(tmp_path: Path) -> Callable[..., SmallBook]:
    """Make a small book with a given folder name."""

    def make(name: str = "book") -> SmallBook:
        return SmallBook(tmp_path / name, tmp_path / "cache")

    return make


@pytest.fixture
def small(make_book: Callable[..., SmallBook]) -> SmallBook:
    """A book of five cases."""
    book = make_book()
    book.write("A1", closed("A1", "carbon-resistor/noisy", symptom="crackle-when-warm",
        complaint="Crackles after a while", checks="[{check: freeze-spray, outcome: fault-changes}]",
        body="# Warm crackle\n\nThe anode resistor of V2 spat when warm."))  # fmt: skip
    book.write("A2", closed("A2", "carbon-resistor/noisy", symptom="crackle",
        checks="[{check: tap-valves, outcome: no-change, minutes: 4}]"))  # fmt: skip
    book.write("A3", closed("A3", "electrolytic-capacitor/high-esr", symptom="hum",
        complaint="Buzzes all the time", family="drover-50",
        checks="[{check: measure-esr, outcome: high}]", body="Ripple of 21 V at 100 Hz."))  # fmt: skip
    book.write("A4", closed("A4", "tape-head/worn", family="lantern", complaint="Dull repeats"))
    book.write("A5", complaint="Smoke came out", symptom="smoke")
    return book


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    """The sample book, indexed once."""
    with Book.open(sample_book(), tmp_path_factory.mktemp("cache")) as book:
        book.index()
        yield book
