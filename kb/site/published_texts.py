"""Every text of a book that its site publishes, with the file and the key that it stands under."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Any

from msgspec import Struct
from msgspec.structs import fields

from kb.notes.case import Case
from kb.notes.vocabulary import Term
from kb.site.looks_private import PrivateLooking, findings
from kb.site.material import Material
from kb.site.redaction import KEY_OF_FIELD

# Keys of the vocabulary and numbers of cases: their alphabet leaves no room for an address.
_KEYS = frozenset(
    """case family path comeback_of symptom seen absent check outcome root_cause took_with_it
    found_too confirmed_by brought_on_by fix key parent first access hazards has needs""".split()
)
_IDENTIFIERS = frozenset({"unit", "batch", "part", "parts", "modified"})
_FILES = ("families", "symptoms", "causes", "checks")


def private_looking(material: Material) -> tuple[PrivateLooking, ...]:
    """What looks private in what a book publishes, its cases apart."""
    return tuple(_found(_texts(material)))


def private_looking_in(case: Case) -> tuple[PrivateLooking, ...]:
    """What looks private in a case as it is published: hidden keys are empty there already."""
    texts = _strings(case)
    return tuple(
        _found((case.path, "text" if field == "body" else field, text) for field, text in texts)
    )


def _found(texts: Iterable[tuple[str, str, str]]) -> Iterator[PrivateLooking]:
    for file, field, text in texts:
        for found in findings(text, identifier=field in _IDENTIFIERS):
            yield PrivateLooking(file, field, found.kind, text[found.start : found.end])


def _texts(material: Material) -> Iterator[tuple[str, str, str]]:
    yield "book.yaml", "title", material.title
    for name in _FILES:
        terms: dict[str, Term] = getattr(material.vocabulary, name)
        for term in terms.values():
            for field, text in _strings(term):
                yield f"vocabulary/{name}.yaml", field, text
    for key in material.vocabulary.families:
        if writeup := material.writeup(key):
            yield f"families/{key}.md", "text", writeup


def _strings(value: Any, name: str = "") -> Iterator[tuple[str, str]]:
    """Every text of a structure with the key that it stands under, at any depth."""
    if isinstance(value, str):
        yield name, value
    elif isinstance(value, Struct):
        for field, key in _fields_of(type(value)):
            if (inner := getattr(value, field)) is not None and inner != ():
                yield from _strings(inner, key)
    elif isinstance(value, tuple):
        for item in value:
            yield from _strings(item, name)
    elif isinstance(value, dict):
        for item in value.values():
            yield from _strings(item, name)


@lru_cache
def _fields_of(kind: type[Struct]) -> tuple[tuple[str, str], ...]:
    """The fields that hold texts, and what the note format calls them."""
    return tuple(
        (field.name, KEY_OF_FIELD.get(field.name, field.name))
        for field in fields(kind)
        if field.name not in _KEYS
    )
