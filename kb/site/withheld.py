"""Answers counted over many cases, without what rests on keys that a book never publishes.

A case is emptied of its hidden values before any page sees it (`kb.site.redaction`). An answer of
the statistics was counted over whole cases, so what it would give away is taken out here; None
stands for an answer of which nothing may be shown.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from msgspec.structs import replace

from kb.values_chart import Chart
from kb.values_history import Comebacks, Drawer, WhileOpen
from kb.values_readings import FamilyReadings, PointReadings, Unusual
from kb.values_replay import Replay
from kb.values_weak import FamilyWeakPoints, WeakPoint, WeakPoints

_DAYS = ("finished", "returned")
_CHARTED = frozenset({"root_cause", "checks", "check", "outcome", "symptom", "seen", "finished"})


def weak_points(answer: WeakPoints, hidden: Collection[str]) -> WeakPoints:
    """What keeps failing; empty where causes are hidden."""
    if "root_cause" in hidden:
        return WeakPoints(())

    def shown(point: WeakPoint) -> WeakPoint:
        return replace(
            point,
            place=None if "at" in hidden else point.place,
            brought_on={} if "brought_on_by" in hidden else point.brought_on,
            comebacks=0 if "comeback_of" in hidden else point.comebacks,
        )

    def each(families: tuple[FamilyWeakPoints, ...]) -> tuple[FamilyWeakPoints, ...]:
        return tuple(replace(f, causes=tuple(map(shown, f.causes))) for f in families)

    return replace(
        answer,
        families=each(answer.families),
        groups=each(answer.groups),
        new=tuple(replace(new, point=shown(new.point)) for new in answer.new),
        rising=tuple(replace(new, point=shown(new.point)) for new in answer.rising),
    )


def comebacks(answer: Comebacks, hidden: Collection[str]) -> Comebacks | None:
    """What came back; the number of a unit, a part or a batch only where it is published."""
    if not {"root_cause", "comeback_of", *_DAYS}.isdisjoint(hidden):
        return None
    no_parts = not {"parts", "part"}.isdisjoint(hidden)
    return replace(
        answer,
        comebacks=tuple(
            replace(one, unit=None if "unit" in hidden else one.unit) for one in answer.comebacks
        ),
        fixes=() if "fix" in hidden else answer.fixes,
        parts=() if no_parts else answer.parts,
        batches=() if no_parts or "batch" in hidden else answer.batches,
    )


def drawer(answer: Drawer, hidden: Collection[str]) -> Drawer | None:
    """The spares, which rest on the parts of the repairs that were finished in a year."""
    if not {"parts", "part", "closed_as", *_DAYS}.isdisjoint(hidden):
        return None
    if "root_cause" not in hidden:
        return answer
    return replace(answer, spares=tuple(replace(one, causes=()) for one in answer.spares))


def readings(answer: FamilyReadings, hidden: Collection[str]) -> FamilyReadings | None:
    """What healthy units read; unusual readings with no more than is published of their cases."""
    if not {"readings", "value", "at", "when", "state"}.isdisjoint(hidden):
        return None

    def shown(one: Unusual) -> Unusual:
        return replace(
            one,
            mains=None if "mains" in hidden else one.mains,
            brought_to=None if "mains" in hidden else one.brought_to,
            causes=() if "root_cause" in hidden else one.causes,
            cause_labels=() if "root_cause" in hidden else one.cause_labels,
            modified=() if "modified" in hidden else one.modified,
        )

    def point(each: PointReadings) -> PointReadings:
        return replace(
            each,
            unusual=tuple(map(shown, each.unusual)),
            pointers=() if "root_cause" in hidden else each.pointers,
        )

    return replace(answer, points=tuple(map(point, answer.points)))


def while_open(answer: WhileOpen, hidden: Collection[str]) -> WhileOpen | None:
    """What else to look at, which rests on the causes found and on the minutes it took."""
    return None if not {"root_cause", "minutes"}.isdisjoint(hidden) else answer


def tells_how_good(hidden: Collection[str]) -> bool:
    """Whether a book publishes what its past answers can be held against."""
    return "root_cause" not in hidden


def charts(answer: Iterable[Chart], hidden: Collection[str]) -> tuple[Chart, ...]:
    """The fault-finding charts, which rest on symptoms, checks and the causes found."""
    return tuple(answer) if _CHARTED.isdisjoint(hidden) else ()


def replay(answer: Replay, hidden: Collection[str]) -> Replay | None:
    """How good the ranking has been; what came late only where checks and minutes are published."""
    if not tells_how_good(hidden):
        return None
    late = {"checks", "minutes"}.isdisjoint(hidden)
    return replace(answer, early_checks=answer.early_checks if late else ())
