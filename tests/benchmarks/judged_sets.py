"""The judged questions of search_quality.py: the sample book's own, and two open text sets.

Lee: 50 short news texts, every pair of which people rated for likeness (M. D. Lee, B. Pincombe,
M. Welsh, "An empirical evaluation of models of text document similarity", 2005); the package
gensim carries them. The question is a text's first sentence, asked of the other 49; what was rated
like it is wanted.

Reuters: some 2,150 newswire texts of 1987 with the labels "corn" and "grain" (D. D. Lewis,
Reuters-21578), in two parts by date; Debian's package `weka` carries them. The question is the
headline of a text on grain, asked of the other part; texts on grain are wanted there, and most of
all those on corn if it is about corn.

No question is asked of a collection that holds the text it was taken from: that text would come
first and, where the first hits are read for more words, give itself away.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path

import yaml
from msgspec import Struct

from kb.book import Book
from kb.intake import document_of
from kb.text import Document

HERE = Path(__file__).resolve().parent
BOOK = HERE.parent.parent / "entries_demo"
REUTERS = Path("/usr/share/doc/weka/examples")
UNLIKE, ALIKE = 0.2, 0.6
"""Ratings of the Lee set: the lowest there is, and the middle of its scale of 0.2 to 1."""


class Asked(Struct, frozen=True):
    """A question and what it wants: document -> grade above 0. `relevant` counts for MAP."""

    text: str
    wants: Mapping[str, int]
    relevant: frozenset[str]
    kind: str = ""


class Collection(Struct, frozen=True):
    """Documents, and the questions that are asked of them."""

    documents: tuple[Document, ...]
    asked: tuple[Asked, ...]


class JudgedSet(Struct, frozen=True):
    """One or more collections whose questions are averaged over."""

    name: str
    collections: tuple[Collection, ...]

    @property
    def kinds(self) -> list[str]:
        """The kind of each question, in the order in which they are measured."""
        return [one.kind for collection in self.collections for one in collection.asked]


def text_of(document: Document) -> str:
    """All words of a document once, for engines that know no fields."""
    parts = (
        document.case,
        document.title,
        document.complaint,
        *document.symptoms,
        *document.causes,
        *document.family,
        document.body,
        *document.also,
    )
    return "\n".join(part for part in parts if part)


def sample_book(book: Book) -> JudgedSet:
    """The sample book with the questions of judged_queries.yaml."""
    documents = tuple(document_of(case, book.vocabulary) for case in book.cases())
    raw = yaml.safe_load((HERE / "judged_queries.yaml").read_text(encoding="utf-8"))
    asked = tuple(
        Asked(one["ask"], one["wants"], frozenset(one["wants"]), kind=one["kind"]) for one in raw
    )
    return JudgedSet("sample book", (Collection(documents, asked),))


def lee() -> JudgedSet | None:
    """The 50 rated news texts, or None where gensim is not installed."""
    found = find_spec("gensim")
    if found is None or found.origin is None:
        return None
    # gensim itself takes seconds to import; only its files are needed.
    folder = Path(found.origin).parent / "test" / "test_data"
    texts = (folder / "lee.cor").read_text(encoding="latin-1").splitlines()
    table = (folder / "similarities0-1.txt").read_text(encoding="utf-8").splitlines()
    upper = [[float(cell) for cell in row.split("\t") if cell.strip()] for row in table]
    names = [f"L{i:02}" for i in range(len(texts))]
    documents = [Document(n, body=t) for n, t in zip(names, texts, strict=True)]
    collections = []
    for i, text in enumerate(texts):
        rated = {n: upper[min(i, j)][max(i, j)] for j, n in enumerate(names) if j != i}
        grades = {n: round(100 * (r - UNLIKE) / (1 - UNLIKE)) for n, r in rated.items()}
        wants = {n: grade for n, grade in grades.items() if grade > 0}
        alike = frozenset(n for n, r in rated.items() if r >= ALIKE)
        sentence = re.split(r"(?<=[a-z\d]{2}[.!?])\s", text, maxsplit=1)[0]
        others = (*documents[:i], *documents[i + 1 :])
        collections.append(Collection(others, (Asked(_plain(sentence), wants, alike),)))
    return JudgedSet("Lee", tuple(collections))


def reuters(asked_of: str) -> JudgedSet | None:
    """The texts of one part, `train` or `test`, asked with headlines of the other one.

    None where they are not installed.
    """
    if not REUTERS.is_dir():
        return None
    documents, grades = _newswire(asked_of)
    others, their_grades = _newswire("test" if asked_of == "train" else "train")
    wanted = {name: grade for name, grade in grades.items() if grade}
    asked = []
    for document in others:
        grade = their_grades[document.case]
        if grade and len(document.title.split()) > 1:
            wants = wanted if grade == 2 else dict.fromkeys(wanted, 1)
            asked.append(Asked(_plain(document.title), wants, frozenset(wants)))
    return JudgedSet(f"Reuters, {asked_of} part", (Collection(documents, tuple(asked)),))


def _newswire(part: str) -> tuple[tuple[Document, ...], dict[str, int]]:
    """The texts of a part, and the grade of each: 1 on grain, 2 on corn, 0 on something else."""
    corn = _labelled("Corn", part)
    documents, grades = [], {}
    for number, (text, on_grain) in enumerate(_labelled("Grain", part).items()):
        name = f"{part}-{number:04}"
        headline = _headline(text)
        documents.append(Document(name, title=headline, body=text[len(headline) :].strip()))
        grades[name] = on_grain + (on_grain and corn.get(text, 0))
    return tuple(documents), grades


def _labelled(topic: str, part: str) -> dict[str, int]:
    """Text -> 1 if it has the topic, from one of the ARFF files."""
    raw = (REUTERS / f"Reuters{topic}-{part}.arff").read_text(encoding="latin-1")
    rows = re.findall(r"^'((?:[^'\\]|\\.)*)',([01])\s*$", raw, flags=re.MULTILINE)
    return {
        re.sub(r"\\(.)", lambda m: " " if m[1] in "nrt" else m[1], text).strip(): int(label)
        for text, label in rows
    }


def _plain(text: str) -> str:
    """Without quotation marks: ours takes quoted words for a phrase that must be there."""
    return re.sub(r'["“”„‟«»]', " ", text)


def _headline(text: str) -> str:
    """The words in capitals that a newswire text begins with, but for the first of its sentence."""
    found = re.match(r"[^a-z]*(?=\b[A-Z][a-z]|\b[A-Z] [a-z])", text)
    return found[0].strip() if found else ""
