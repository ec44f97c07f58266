"""Taking out what a book never publishes."""

from __future__ import annotations

import operator
from collections.abc import Collection
from functools import lru_cache
from typing import Any, TypeVar, get_args, get_type_hints

from msgspec import NODEFAULT, Struct
from msgspec.structs import fields, replace

from kb.notes.case import Quantity

# The note format's names for fields that Python or plain English calls otherwise.
_FIELD_OF_KEY = {"with": "under", "for": "serves"}
KEY_OF_FIELD = {field: key for key, field in _FIELD_OF_KEY.items()}
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
    names = frozenset(_FIELD_OF_KEY.get(key, key) for key in hidden)
    emptied: AnyStruct = _emptied(value, names) if names else value
    return emptied


def _emptied(value: Any, names: frozenset[str]) -> Any:
    if isinstance(value, tuple):
        items = tuple(_emptied(item, names) for item in value)
        return value if all(map(operator.is_, items, value)) else items
    # A quantity has fields, but it is one value of the note and has no keys there.
    if not isinstance(value, Struct) or isinstance(value, Quantity):
        return value
    changes = {}
    for name, empty in _fields_of(type(value), names):
        old = getattr(value, name)
        new = (_nothing_like(old) if empty is NODEFAULT else empty) if name in names else old
        new = _emptied(new, names)
        if new is not old:
            changes[name] = new
    return replace(value, **changes) if changes else value


@lru_cache
def _fields_of(kind: type[Struct], names: frozenset[str]) -> tuple[tuple[str, object], ...]:
    """The fields of these names, and those that may hold such at some depth."""
    types = get_type_hints(kind)
    return tuple(
        (field.name, field.default)
        for field in fields(kind)
        if field.name in names or _may_hold(types[field.name], names)
    )


def _may_hold(type_: Any, names: frozenset[str]) -> bool:
    if isinstance(type_, type) and issubclass(type_, Struct):
        return type_ is not Quantity and bool(_fields_of(type_, names))
    return any(_may_hold(part, names) for part in get_args(type_))


def _nothing_like(value: object) -> object:
    """What stands for a hidden value that has no default of its own."""
    if isinstance(value, str):
        return ""
    return () if isinstance(value, tuple) else None
