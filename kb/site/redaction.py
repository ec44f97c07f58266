"""Taking out what a book never publishes."""

from __future__ import annotations

import operator
import re
from collections.abc import Collection, Iterable, Iterator
from functools import lru_cache
from typing import Any, TypeVar

import msgspec
from msgspec import NODEFAULT, Struct
from msgspec.structs import fields, replace

from kb.notes.case import Case, Quantity
from kb.notes.vocabulary import Vocabulary
from kb.site.source import SearchWords

# The note format's names for fields that Python or plain English calls otherwise.
_FIELD_OF_KEY = {"with": "under", "for": "serves"}
# Without these a case has no page: a book that hides them cannot have a site.
_NEEDED = frozenset({"case", "family", "received", "faults"})

AnyStruct = TypeVar("AnyStruct", bound=Struct)


class HideError(Exception):
    """A key that the book hides is one that every page is made of."""

    def __init__(self, key: str) -> None:
        super().__init__(key)
        self.key = key

    def __str__(self) -> str:
        return f"publish.hide: a site cannot be written without `{self.key}`"


def without(value: AnyStruct, hidden: Collection[str]) -> AnyStruct:
    """A copy of a note's structure with the fields of the hidden keys empty at any depth.

    Raises `HideError` for a key that a case cannot do without.
    """
    if needed := sorted(_NEEDED.intersection(hidden)):
        raise HideError(needed[0])
    names = {_FIELD_OF_KEY.get(key, key) for key in hidden}
    emptied: AnyStruct = _emptied(value, names) if names else value
    return emptied


def published_words(
    words: SearchWords, cases: Iterable[Case], published: Iterable[Case], vocabulary: Vocabulary
) -> SearchWords:
    """The search tables without the words that stand in hidden values alone."""
    shown = set(_strings(list(published)))
    secret = _words(set(_strings(list(cases))) - shown).intersection(words.stems)
    if not secret:
        return words
    secret -= _words(shown) | _words(_strings(vocabulary))
    stems = {word: stem for word, stem in words.stems.items() if word not in secret}
    kept = set(stems.values())
    return SearchWords(
        documents=words.documents,
        stems=stems,
        weights={stem: places for stem, places in words.weights.items() if stem in kept},
        ignored=words.ignored,
    )


def _emptied(value: Any, names: set[str]) -> Any:
    if isinstance(value, tuple):
        items = tuple(_emptied(item, names) for item in value)
        return value if all(map(operator.is_, items, value)) else items
    # A quantity has fields, but it is one value of the note and has no keys there.
    if not isinstance(value, Struct) or isinstance(value, Quantity):
        return value
    changes = {}
    for name, empty in _fields_of(type(value)):
        old = getattr(value, name)
        new = (_nothing_like(old) if empty is NODEFAULT else empty) if name in names else old
        new = _emptied(new, names)
        if new is not old:
            changes[name] = new
    return replace(value, **changes) if changes else value


@lru_cache
def _fields_of(kind: type[Struct]) -> tuple[tuple[str, object], ...]:
    return tuple((field.name, field.default) for field in fields(kind))


def _nothing_like(value: object) -> object:
    """What stands for a hidden value that has no default of its own."""
    if isinstance(value, str):
        return ""
    return () if isinstance(value, tuple) else None


def _strings(value: object) -> Iterator[str]:
    """Every string of a structure, at any depth."""
    if isinstance(value, Struct):
        value = msgspec.to_builtins(value)
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _strings(key)
            yield from _strings(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _strings(item)


def _words(texts: Iterable[str]) -> set[str]:
    return {word for text in texts for word in _words_of(text.lower())}


def _words_of(text: str) -> Iterator[str]:
    for run in text.split():
        yield run
        yield from re.findall(r"[^\W_]+", run)
