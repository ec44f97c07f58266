"""Books of any size in the manner of the sample book, the same for the same seed.

    python tests/benchmarks/generated_book.py FOLDER [--notes 10000] [--words 250] [--seed 1]

Each note takes its findings (family, symptoms, checks, cause, readings) from a sample note, so that
they go together as often as they do there; the complaint comes from a case with a symptom in common.
The body is made of sentences of all sample bodies, with numbers drawn afresh. Invented names come in
by Simon's model (*On a class of skew distribution functions*, Biometrika 1955): now and then a new
one, else an earlier one again, so that the vocabulary grows with the book and never stops growing.
"""

from __future__ import annotations

import argparse
import datetime as dt
import random
import re
import shutil
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

from msgspec import Struct

from kb.notes.case import Case
from kb.notes.read_case import read_case
from kb.notes.read_vocabulary import read_vocabulary
from kb.resources import sample_book

NEW_NAME = 0.1
"""How often a name is one that no note had before."""
NAMED = 0.08
"""How many sentences carry a name."""

_DIGITS = re.compile(r"(?<![\w.-])\d{2,3}(?![\w.-])")
_SENTENCE = re.compile(r"(?<=[.!?])\s+")
_DROPPED = re.compile(r"^(?:case|received|finished|returned|comeback_of|unit|complaint):.*\n", re.M)
_LETTERS = ("b d f g k l m n p r s t v w br dr gr st tr".split(), "a e i o u ai ea oo".split())


class Sample(Struct, frozen=True):
    """A sample note: its case, and its front matter without what is drawn afresh."""

    case: Case
    front: str


def write_book(folder: Path, notes: int, words: int = 250, seed: int = 1) -> None:
    """Write a book of `notes` notes of about `words` words of text into a folder that is not there.

    A smaller book of the same seed is the beginning of a larger one.
    """
    source = sample_book()
    shutil.copytree(source, folder, ignore=shutil.ignore_patterns("cases"))
    for number, text in enumerate(_notes(source, notes, words, random.Random(seed))):
        path = folder / "cases" / f"{number // 1000:03d}" / f"{name(number)}.md"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")


def name(number: int) -> str:
    """The case number of the note that was drawn as the `number`th."""
    return f"G{number // 10_000:02d}-{number % 10_000:04d}"


def complaints(count: int, words: int, seed: int = 2) -> list[str]:
    """Questions of so many neighbouring words each, out of the sample's complaints."""
    draw = random.Random(seed)
    spoken = [s.case.complaint.split() for s in _samples(sample_book())]
    long_enough = [c for c in spoken if len(c) >= words]
    found = []
    for _ in range(count):
        said = draw.choice(long_enough)
        start = draw.randrange(len(said) - words + 1)
        found.append(" ".join(said[start : start + words]).replace('"', ""))
    return found


def _samples(source: Path) -> list[Sample]:
    kinds = ("families", "symptoms", "causes", "checks")
    vocabulary = read_vocabulary(
        {kind: (source / "vocabulary" / f"{kind}.yaml").read_bytes() for kind in kinds}
    ).vocabulary
    found = []
    for path in sorted((source / "cases").rglob("*.md")):
        data = path.read_bytes()
        case = read_case(path.relative_to(source).as_posix(), data, vocabulary, source).case
        if case:
            front = data.decode("utf-8").split("\n---\n")[0].removeprefix("---\n")
            found.append(Sample(case, _DROPPED.sub("", front + "\n")))
    return found


def _notes(source: Path, notes: int, words: int, draw: random.Random) -> Iterator[str]:
    samples = _samples(source)
    spoken: dict[str, list[str]] = defaultdict(list)
    for sample in samples:
        for symptom in sample.case.symptoms:
            spoken[symptom].append(sample.case.complaint)
    sentences = [s for sample in samples for s in _sentences(sample.case.body)]
    titles = [sample.case.title for sample in samples]
    names: list[str] = []
    for number in range(notes):
        sample = draw.choice(samples)
        symptoms = sample.case.symptoms
        said = draw.choice(spoken[draw.choice(symptoms)] if symptoms else [sample.case.complaint])
        received = sample.case.received + dt.timedelta(days=draw.randrange(-200, 200))
        yield _note(
            number, sample, received, said, draw, _body(titles, sentences, names, words, draw)
        )


def _note(
    number: int, sample: Sample, received: dt.date, said: str, draw: random.Random, body: str
) -> str:
    finished = sample.case.finished
    days = (finished - sample.case.received).days if finished else 0
    quoted = said.replace("\\", "").replace('"', "'")
    lines = [
        f"case: {name(number)}",
        f"received: {received}",
        f"unit: {draw.choice('ABCDEFGH')}{draw.randrange(10_000):04d}",
        f'complaint: "{quoted}"',
    ]
    if finished:
        lines.append(f"finished: {received + dt.timedelta(days=days)}")
    return "---\n" + "\n".join(lines) + "\n" + sample.front + "---\n" + body + "\n"


def _sentences(body: str) -> list[str]:
    """The sentences of the paragraphs; no headings, tables, lists, code or links."""
    found = []
    for block in re.split(r"\n\s*\n", body):
        if block.strip() and not re.search(r"^\s*(?:[#|>*+-]|```|\d+\.)|\]\(|=\n|<", block, re.M):
            found += [s for s in _SENTENCE.split(" ".join(block.split())) if len(s.split()) > 2]
    return found


def _body(
    titles: list[str], sentences: list[str], names: list[str], words: int, draw: random.Random
) -> str:
    paragraphs = [f"# {draw.choice(titles)}"]
    left = words - 25  # the title and the complaint are part of the text
    while left > 0:
        chosen = [draw.choice(sentences) for _ in range(draw.randint(2, 5))]
        text = " ".join(_afresh(s, names, draw) for s in chosen)
        left -= len(text.split())
        paragraphs.append(text)
    return "\n\n".join(paragraphs)


def _afresh(sentence: str, names: list[str], draw: random.Random) -> str:
    fresh = _DIGITS.sub(lambda found: str(draw.randrange(10 ** len(found[0]))), sentence)
    if draw.random() < NAMED:
        if not names or draw.random() < NEW_NAME:
            parts = (draw.choice(_LETTERS[i % 2]) for i in range(draw.choice((4, 5, 6))))
            names.append("".join(parts))
        else:
            names.append(draw.choice(names))
        fresh += f" Seen before at {names[-1].capitalize()}'s."
    return fresh


def main() -> None:
    """Write one book."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("folder", type=Path)
    options.add_argument("--notes", type=int, default=10_000)
    options.add_argument("--words", type=int, default=250)
    options.add_argument("--seed", type=int, default=1)
    chosen = options.parse_args()
    write_book(chosen.folder, chosen.notes, chosen.words, chosen.seed)


if __name__ == "__main__":
    main()
