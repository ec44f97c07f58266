"""The book's own words: families, symptoms, causes and checks, with parents and synonyms."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from typing import TypeVar

from msgspec import Struct

from kb.notes.case import Quantity

ACCESS = ("outside", "open", "live")
HAZARDS = (
    "mains", "high-voltage", "stored-charge", "live-chassis", "hot-parts", "heavy",
    "moving-parts", "loud", "toxic", "flammable", "laser", "battery",
)  # fmt: skip
NOT_SHOWING = "not-showing"
STATES = ("powered", "warm", "signal", "fault-present")
"""What a check may need besides earlier checks: the unit switched on, warmed through, driven
with a signal, or showing its fault."""


class Nominal(Struct, frozen=True):
    """What a test point should read: value, tolerance in per cent or absolute, and state."""

    at: str
    value: Quantity
    tolerance: Quantity | None = None
    state: str | None = None


class Term(Struct, frozen=True, kw_only=True):
    """What every vocabulary entry has."""

    key: str
    label: str
    also: tuple[str, ...] = ()
    parent: str | None = None


class Family(Term, frozen=True, kw_only=True):
    """A model family, or a line that families belong to."""

    maker: str | None = None
    kind: str | None = None
    made: tuple[int, ...] = ()
    has: tuple[str, ...] = ()
    nominal: tuple[Nominal, ...] = ()
    access: dict[str, str] = {}
    covers: dict[str, str] = {}
    hazards: tuple[str, ...] = ()


class Symptom(Term, frozen=True, kw_only=True):
    """What can be seen, heard, smelt or measured; `first` must be done before anything else."""

    first: tuple[str, ...] = ()


class Cause(Term, frozen=True, kw_only=True):
    """What physically failed, as item/mechanism."""

    confirm: str | None = None
    cover: str | None = None
    hazards: tuple[str, ...] = ()

    @property
    def item(self) -> str:
        """The first half of the key: which item failed."""
        return self.key.partition("/")[0]


class CheckTerm(Term, frozen=True, kw_only=True):
    """A check that can be made; `minutes` are hands on, `wait` unattended.

    `clears` are the outcomes after which power may be applied again, where a symptom says that
    this check must come first; empty where making it is enough.
    """

    access: str = "outside"
    minutes: float | None = None
    wait: float | None = None
    outcomes: tuple[str, ...] = ()
    clears: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    how: str | None = None
    owner_ok: bool = False
    disturbs: bool = False
    needs: tuple[str, ...] = ()


AnyTerm = TypeVar("AnyTerm", bound=Term)


class Vocabulary(Struct, frozen=True):
    """All terms of a book, each kind by its key. Parents never form a cycle here."""

    families: dict[str, Family] = {}
    symptoms: dict[str, Symptom] = {}
    causes: dict[str, Cause] = {}
    checks: dict[str, CheckTerm] = {}

    def family_chain(self, key: str) -> tuple[Family, ...]:
        """The family, its line, and so on upwards; empty if the key is unknown."""
        return tuple(ancestry(key, self.families))

    def kind_of(self, family: str) -> str | None:
        """The kind of unit, from the family or the nearest parent that states one."""
        return next((f.kind for f in self.family_chain(family) if f.kind), None)

    def maker_of(self, family: str) -> str | None:
        """The maker, from the family or the nearest parent that states one."""
        return next((f.maker for f in self.family_chain(family) if f.maker), None)

    def items_of(self, family: str) -> frozenset[str]:
        """The items that a unit of this family has, its parents' included."""
        return frozenset(item for f in self.family_chain(family) for item in f.has)

    def hazards_of(self, family: str) -> tuple[str, ...]:
        """The hazards of a family, its parents' included, in the standing order."""
        found = {h for f in self.family_chain(family) for h in f.hazards}
        return tuple(h for h in HAZARDS if h in found)

    def access_needed(self, check: str, family: str | None) -> str:
        """The access that a check needs, more in a family that says so."""
        own = self.checks[check].access if check in self.checks else "outside"
        for f in self.family_chain(family) if family else ():
            if check in f.access:
                return f.access[check]
        return own

    def cover_of(self, cause: str, family: str | None) -> str | None:
        """What has to come off to reach the item of a cause, in this family if it says so."""
        term = self.causes.get(cause)
        for f in self.family_chain(family) if family else ():
            if term and term.item in f.covers:
                return f.covers[term.item]
        return term.cover if term else None

    def symptom_ancestors(self, key: str) -> tuple[str, ...]:
        """The symptom and what it is a kind of, nearest first."""
        return tuple(s.key for s in ancestry(key, self.symptoms))


def ancestry(key: str | None, terms: Mapping[str, AnyTerm]) -> Iterator[AnyTerm]:
    """Yield the term of `key` and its parents; stops at an unknown key or a cycle."""
    seen: set[str] = set()
    while key is not None and key in terms and key not in seen:
        seen.add(key)
        yield terms[key]
        key = terms[key].parent


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known term that is spelt most like `word`, or None if none is close."""
    names = list(known)
    lowered = {name.lower(): name for name in reversed(names)}
    found = difflib.get_close_matches(word.lower(), lowered, n=1, cutoff=0.6)
    return lowered[found[0]] if found else None
