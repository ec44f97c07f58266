"""The parts of a family's page that tell of its repairs: what came back, what else to look at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec import Struct

from kb.site import telling, wording
from kb.site.material import Material
from kb.site.names import Link
from kb.values_history import (
    Comeback,
    Comebacks,
    Holding,
    WhileOpen,
    WorthLooking,
    worth_telling,
)

_SHOWN = 8


class CameBack(Struct, frozen=True):
    """A repair that came back."""

    repair: Link
    back_as: Link
    comeback: Comeback
    causes: tuple[Link, ...]
    known_by: str


class Held(Struct, frozen=True):
    """A sort of repair, and how often it holds."""

    sort: str
    cause: Link | None
    name: str
    holding: Holding
    held: str
    interval: str


class Repairs(Struct, frozen=True):
    """How the repairs of a family hold."""

    answer: Comebacks
    said: str
    back: tuple[CameBack, ...]
    held: tuple[Held, ...]
    more: int


class Look(Struct, frozen=True):
    """A cause worth a look while the unit is open."""

    cause: Link
    worth: WorthLooking
    saves: str
    takes: str
    interval: str


class Looks(Struct, frozen=True):
    """What else to look at, and on what it rests."""

    looks: tuple[Look, ...]
    proofs: bool
    """whether any of them says how it is proved"""
    assumed: tuple[str, ...]


def repairs(material: Material, family: str) -> Repairs | None:
    """What came back; None where nothing went out yet or it is not published."""
    answer = material.comebacks(family)
    if answer is None or answer.as_of is None or not answer.overall.fixes:
        return None
    told = {(one.cause, one.fixes) for one in answer.causes}
    # A cause that was always put right in one way is told already.
    fixes = [one for one in answer.fixes if (one.cause, one.fixes) not in told]
    sorts = [*_worst("By cause", answer.causes), *_worst("By what was done", fixes)]
    sorts += [*_worst("By part", answer.parts), *_worst("By batch", answer.batches)]
    return Repairs(
        answer=answer,
        said=_said(answer),
        back=tuple(_came_back(material, one) for one in answer.comebacks[:_SHOWN]),
        held=tuple(_held(material, sort, one) for sort, one in sorts),
        more=max(0, len(answer.comebacks) - _SHOWN),
    )


def looks(material: Material, answer: WhileOpen | None) -> Looks | None:
    """What else to look at; None where no look saves anything or it is not published."""
    if answer is None or not answer.suggestions:
        return None
    return Looks(
        looks=tuple(_look(material, one) for one in answer.suggestions[:_SHOWN]),
        proofs=any(one.confirm for one in answer.suggestions[:_SHOWN]),
        assumed=answer.assumed,
    )


def _said(answer: Comebacks) -> str:
    whole = answer.overall
    back = wording.counted(whole.came_back, "repair")
    said = f"Of {wording.counted(whole.fixes, 'fault')} put right, {back} came back."
    if whole.followed:
        said += (
            f" Of the {whole.followed} that have been out for {answer.days} days, {whole.held} "
            f"held (95{wording.THIN}% range {telling.interval(whole.interval)})."
        )
    young = whole.fixes - whole.followed
    return f"{said} {young} went out too lately to judge." if young else said


def _worst(sort: str, holdings: Iterable[Holding]) -> Iterator[tuple[str, Holding]]:
    """Those of which any came back, worst first, each beside the other ways to put it right."""
    worth = worth_telling(list(holdings))
    yield from ((sort, one) for one in worth[:_SHOWN])


def _came_back(material: Material, one: Comeback) -> CameBack:
    return CameBack(
        repair=material.names.case(one.case),
        back_as=material.names.case(one.back_as),
        comeback=one,
        causes=material.links("cause", one.causes),
        known_by=telling.known_by(one.how),
    )


def _held(material: Material, sort: str, one: Holding) -> Held:
    name = one.label if one.cause is None else ""
    if one.batch:
        name = f"{name}, batch {one.batch}"
    elif one.fix:
        name = wording.words(one.fix)
    return Held(
        sort=sort,
        cause=material.names.term("cause", one.cause) if one.cause else None,
        name=name,
        holding=one,
        held=telling.held(one),
        interval=telling.interval(one.interval) if one.followed else "",
    )


def _look(material: Material, one: WorthLooking) -> Look:
    return Look(
        cause=material.names.term("cause", one.cause),
        worth=one,
        saves=wording.minutes(round(one.saved)),
        takes=wording.minutes(round(one.look)),
        interval=telling.interval(one.interval),
    )
