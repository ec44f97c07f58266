"""The words of a book: read from its files, or as they were kept when the files were last read."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

import msgspec
from msgspec import Struct

from kb import stash
from kb.errors import NoBookError
from kb.notes.folder import read_bytes, vocabulary_files
from kb.notes.problems import Problem
from kb.notes.settings import Settings
from kb.notes.vocabulary import Vocabulary
from kb.text import Recogniser
from kb.text.recognise import Name
from kb.version import __version__

_FILE = "words"


class BookSource(Struct, frozen=True):
    """What the notes are read against. `digest` stands for the content of the vocabulary."""

    folder: Path
    vocabulary: Vocabulary
    names: tuple[Name, ...]
    digest: str


class Lexicon(Struct, frozen=True):
    """Settings, vocabulary and what is faulty in them.

    `digest` stands for the content of all, `vocabulary_digest` for the vocabulary's alone: another
    title is no reason to read every note again.
    """

    digest: str
    vocabulary_digest: str
    settings: Settings
    vocabulary: Vocabulary
    problems: tuple[Problem, ...]
    names: tuple[Name, ...]

    def recogniser(self) -> Recogniser:
        """What recognises the symptoms in a sentence."""
        return Recogniser.of(self.names)


def read_lexicon(folder: Path, cache: Path | None) -> tuple[Lexicon, bool]:
    """Read the book's words, and say whether they were kept already.

    `cache` is the book's cache folder if there is one. Raises NoBookError where book.yaml cannot
    be read.
    """
    try:
        settings = read_bytes(folder, "book.yaml")
    except OSError as fault:
        raise NoBookError(f"cannot read '{folder / 'book.yaml'}': {fault.strerror}") from fault
    files, problems = vocabulary_files(folder)
    digest = _digest({"book": settings, **files})
    kept = stash.take(cache / _FILE) if cache else None
    if kept is not None:
        try:
            lexicon = msgspec.msgpack.decode(kept, type=Lexicon)
        except msgspec.MsgspecError:
            pass  # another version's
        else:
            if lexicon.digest == digest:
                return lexicon, True
    return _read(digest, settings, files, problems), False


def keep_lexicon(lexicon: Lexicon, cache: Path) -> None:
    """Keep it for the next time. Raises OSError."""
    stash.keep(cache / _FILE, msgspec.msgpack.encode(lexicon))


def symptom_names(vocabulary: Vocabulary) -> dict[str, tuple[str, ...]]:
    """The words by which free text can name each symptom."""
    return {s.key: (s.label, *s.also) for s in vocabulary.symptoms.values()}


def _digest(parts: Mapping[str, bytes]) -> str:
    found = hashlib.blake2b(__version__.encode(), digest_size=16)
    for kind, data in sorted(parts.items()):
        found.update(f"{kind} {len(data)}\0".encode() + data)
    return found.hexdigest()


def _read(
    digest: str, settings: bytes, files: dict[str, bytes], problems: tuple[Problem, ...]
) -> Lexicon:
    from kb.notes.read_vocabulary import read_settings, read_vocabulary

    found, of_settings = read_settings(settings)
    read = read_vocabulary(files)
    return Lexicon(
        digest=digest,
        vocabulary_digest=_digest(files),
        settings=found,
        vocabulary=read.vocabulary,
        problems=(*of_settings, *problems, *read.problems),
        names=Recogniser.prepare(symptom_names(read.vocabulary)),
    )
