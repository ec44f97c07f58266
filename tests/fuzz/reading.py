"""Targets: whatever reads a file of a book. Bytes in, values and problems out, never an exception."""

from __future__ import annotations

import re
from random import Random

import msgspec
from fuzz import grammar, material
from fuzz.engine import Target
from fuzz.guard import guarded
from fuzz.mutate import mutated, noise

from kb.notes.case import Case
from kb.notes.links import LinkError, links, media_fault, media_path
from kb.notes.problems import MOST_PER_FILE, Problem
from kb.notes.read_case import read_case
from kb.notes.read_vocabulary import MOST_DAYS, MOST_PARENTS, read_settings, read_vocabulary
from kb.notes.units import UNITS, UnitError, read_quantity
from kb.terms import with_kinds
from kb.text import Recogniser

CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f\x80-\x84\x86-\x9f\ud800-\udfff]")
NOTE = "cases/2024/A1.md"


def some_note(chance: Random) -> bytes:
    """A spoilt note of the sample book, one of the grammar, or noise."""
    kind = chance.random()
    if kind < 0.5:
        return mutated(chance, chance.choice(material.notes()), material.words())
    if kind < 0.9:
        made = grammar.note(chance, material.words())
        return made if chance.random() < 0.5 else mutated(chance, made, material.words())
    return b"---\n" * (kind < 0.95) + noise(chance, material.words())


def read_note(data: bytes, _seed: int) -> None:
    """Read twice alike; what is accepted survives being stored; problems name places and print."""
    with guarded(readable=[material.media_book()]):
        first = read_case(NOTE, data, material.vocabulary(), material.media_book())
        again = read_case(NOTE, data, material.vocabulary(), material.media_book())
    assert first == again
    assert first.case is not None or any(p.severity == "error" for p in first.problems)
    last = data.count(b"\n") + data.count(b"\r") + 1
    check_problems(first.problems, last)
    if first.case is not None:
        stored = msgspec.json.encode(first.case)
        assert msgspec.json.decode(stored, type=Case) == first.case
        # What the terminal prints of a case that was accepted must not command it.
        assert not CONTROL.search(stored.decode().replace("\\n", " ").replace("\\t", " "))
        assert not re.search(r"\\u00[01]|\\u007f", stored.decode().replace("\\\\", ""))
        assert first.case.title


def check_problems(problems: tuple[Problem, ...], last: int) -> None:
    """Problems stand in the file and can be printed."""
    assert len(problems) <= MOST_PER_FILE
    for problem in problems:
        assert 1 <= problem.line <= last + 1, problem
        assert problem.column >= 1
        assert not CONTROL.search(str(problem)), problem
        assert "\n" not in str(problem)
        assert len(str(problem)) < 3000


def some_words(chance: Random) -> bytes:
    """Four vocabulary files, parted by zero bytes."""
    files = []
    for kind, real in material.vocabulary_files().items():
        shape = chance.random()
        if shape < 0.5:
            files.append(chance.choice(real))
        elif shape < 0.75:
            files.append(grammar.terms(chance, material.words(), kind == "causes"))
        else:
            files.append(mutated(chance, chance.choice(real), material.keys()))
    if chance.random() < 0.5:
        at = chance.randrange(4)
        files[at] = mutated(chance, files[at], material.words())
    return b"\0".join(file.replace(b"\0", b" ") for file in files)


def read_words(data: bytes, _seed: int) -> None:
    """What is left of a spoilt vocabulary is whole: known parents, no circles, names that print."""
    files = dict(zip(material.vocabulary_files(), data.split(b"\0"), strict=False))
    with guarded():
        read = read_vocabulary(files)
        assert read == read_vocabulary(files)
        words = read.vocabulary
        for terms in (words.families, words.symptoms, words.causes, words.checks):
            for key, term in terms.items():
                assert key == term.key
                assert len(key) <= 129
                assert term.label
                assert term.parent is None or term.parent in terms
                assert not CONTROL.search("".join((term.label, *term.also)))
            for key in list(terms)[:3]:
                assert key in with_kinds("cause", key, terms)
        for key in words.families:
            chain = words.family_chain(key)
            assert len(chain) <= MOST_PARENTS
            assert chain[-1].parent is None
        for symptom in words.symptoms.values():
            assert set(symptom.first) <= set(words.checks)
        names = {s.key: (s.label, *s.also) for s in words.symptoms.values()}
        found = Recogniser(names)("it crackles and hums when warm, no smoke")
        assert set(found.keys) | set(found.denied) <= set(names)
        assert msgspec.json.decode(msgspec.json.encode(words), type=type(words)) == words
    last = max((f.count(b"\n") + f.count(b"\r") for f in files.values()), default=0) + 1
    check_problems(read.problems[:MOST_PER_FILE], last)


SETTINGS = b"""title: Harbour Lane
mains: {voltage: 230, frequency: 50}
currency: GBP
comeback_days: 90
publish: {hide: [unit, note]}
"""


def some_settings(chance: Random) -> bytes:
    """A spoilt `book.yaml`."""
    if chance.random() < 0.3:
        return grammar.terms(chance, material.words(), causes=False)
    return mutated(chance, SETTINGS, material.keys())


def read_book_yaml(data: bytes, _seed: int) -> None:
    """A faulty field falls back; every value can be used."""
    with guarded():
        settings, problems = read_settings(data)
        assert (settings, problems) == read_settings(data)
    assert settings.title
    assert 1 <= settings.comeback_days <= MOST_DAYS
    assert settings.mains_voltage > 0
    check_problems(problems, data.count(b"\n") + data.count(b"\r") + 1)


def some_link(chance: Random) -> bytes:
    """A link's target, mostly one that wants to lead out."""
    made = chance.choice(grammar.TARGETS).encode()
    return (
        made
        if chance.random() < 0.2
        else mutated(chance, made, (b"../", b"media/", b".png", b"%2f"))
    )


def follow_link(data: bytes, _seed: int) -> None:
    """A link that may be followed leads to an ordinary file under the book's own media folder."""
    target = data.decode("utf-8", "replace")
    book = material.media_book()
    with guarded():
        try:
            path = media_path(NOTE, target)
        except LinkError as fault:
            assert fault.reason  # the documented refusal
            return
        if path is None:
            return
        assert path.startswith("media/")
        if media_fault(book, path) is None:
            real = (book / path).resolve()
            assert real.is_relative_to(book / "media")
            assert real.is_file()


def some_measure(chance: Random) -> bytes:
    """Nearly a number and a unit."""
    number = chance.choice(
        ("312", "0.08", "-34", "1e300", "1e-5", "3,3", "1.2.3", "9" * 400, "+5", "٣", "1e999")
    )
    unit = chance.choice((*UNITS, "ohm", "parsec", ""))
    made = f"{number} {unit}".encode()
    return made if chance.random() < 0.3 else mutated(chance, made, (b"V", b"k", b".", b"e5", b" "))


def read_measure(data: bytes, _seed: int) -> None:
    """A quantity is finite, in its base unit too, and reads back as it is written."""
    try:
        with guarded():
            found = read_quantity(data.decode("utf-8", "replace"))
    except UnitError as fault:
        assert fault.reason
        return
    assert abs(found.value * UNITS[found.unit][1]) < float("inf")
    assert read_quantity(f"{found.value!r} {found.unit}") == found


def some_body(chance: Random) -> bytes:
    """Markdown with links in and out of code."""
    made = grammar.markdown(chance, (b"`", b"``", b"```", b"a", b"](media/vent.png)"))
    return made if chance.random() < 0.4 else mutated(chance, made, material.words())


def find_links(data: bytes, _seed: int) -> None:
    """Links stand where they are said to stand, in order."""
    body = data.decode("utf-8", "replace")
    found = links(body)
    assert found == links(body)
    assert [link.index for link in found] == sorted(link.index for link in found)
    assert all(body.startswith(link.target, link.index) for link in found)


TARGETS = (
    Target("note", some_note, read_note, 150),
    Target("vocabulary", some_words, read_words, 12),
    Target("book.yaml", some_settings, read_book_yaml, 60),
    Target("link", some_link, follow_link, 220),
    Target("measured value", some_measure, read_measure, 200),
    Target("links of a body", some_body, find_links, 158),
)
