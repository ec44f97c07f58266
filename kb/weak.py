"""Weak points: counted by the database, judged by the statistics, named by the vocabulary."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from kb import stash
from kb.faults.mishaps import MISHAPS
from kb.indexing import Index
from kb.notes.vocabulary import Vocabulary
from kb.store import visits
from kb.store.database import Connection
from kb.values_weak import FamilyVisits, WeakPoints
from kb.version import __version__
from kb.weak_groups import meant, shown, wanted

_T = TypeVar("_T")
_FILE = "weak-points"


class _Kept(Struct, frozen=True):
    """An answer about the whole book, or what is new in it, and what it was reckoned from."""

    digest: str
    answer: WeakPoints


def weak_points(
    index: Index,
    words: Vocabulary,
    name: str | None = None,
    since: dt.date | None = None,
    cache: Path | None = None,
) -> WeakPoints:
    """What keeps failing in a family, a line, or what one maker or of one kind was made; or in all.

    With a name that means several things the answer is of each. A family of which few visits are
    known brings its line along. Families that were never on the bench are left out. With `since`,
    also what became a weak point, or comes more often, since the book as it stood on that date.
    The answer about all is kept in the folder `cache`, and stands while nothing it rests on
    changes: the counts of the visits, and the families as the vocabulary has them.

    Raises QuestionError for a name that is no family, line, maker or kind.
    """
    asked = None if name is None else meant(words, name)
    with index.store.reading() as connection:
        now = family_visits(connection, words)
        then = None if since is None else family_visits(connection, words, since)
    groups = wanted(words, [f.family for f in now if f.total], asked)
    labels = {c.key: c.label for c in words.causes.values()}
    whole = cache if asked is None else None

    def judged() -> WeakPoints:
        from kb.faults.weak_points import weak_points as judge  # NumPy: not where one is kept

        only = None if asked is None else asked.families
        return shown(judge(now, labels, only, groups), asked)

    of_groups = [(g.sort, g.key, g.label, sorted(g.families)) for g in groups]
    rests_on = (labels, of_groups, _in_order(now))
    answer = _kept(whole and whole / _FILE, rests_on, judged)
    if since is None or then is None:
        return answer

    def news() -> WeakPoints:
        from kb.faults.news import with_news

        found = with_news(answer, since, then, groups)
        return WeakPoints((), since=since, new=found.new, rising=found.rising)

    new = _kept(whole and whole / f"{_FILE}-since", (*rests_on, since, _in_order(then)), news)
    return replace(answer, since=since, new=new.new, rising=new.rising)


def _kept(
    file: Path | None, rests_on: tuple[object, ...], reckon: Callable[[], WeakPoints]
) -> WeakPoints:
    """An answer as it was kept, if it rests on the same; else reckoned, and kept."""
    if file is None:
        return reckon()
    digest = _digest(rests_on)
    data = stash.take(file)
    if data is not None:
        try:
            kept = msgspec.msgpack.decode(data, type=_Kept)
        except msgspec.MsgspecError:
            pass  # another version's
        else:
            if kept.digest == digest:
                return kept.answer
    answer = reckon()
    with suppress(OSError):  # whoever asks gets the answer on a full disk too
        stash.keep(file, msgspec.msgpack.encode(_Kept(digest, answer)))
    return answer


def _digest(rests_on: tuple[object, ...]) -> str:
    """Stands for everything that an answer is reckoned from."""
    found = hashlib.blake2b(__version__.encode(), digest_size=16)
    found.update(msgspec.msgpack.encode(rests_on))
    return found.hexdigest()


def _in_order(families: list[FamilyVisits]) -> object:
    """The same for the digest: a set has another order in each process."""
    return [(replace(f, has=frozenset()), sorted(f.has)) for f in families]


def family_visits(
    connection: Connection, words: Vocabulary, before: dt.date | None = None
) -> list[FamilyVisits]:
    """The finished visits of each family with the causes found in them; those before a date."""
    by_year = visits.visits_by_year(connection, before)
    found = visits.causes_found(connection, before)
    came_back = visits.comebacks(connection, before)
    return [
        _counted(words, key, by_year[key], found.get(key, {}), came_back.get(key, {}))
        for key in words.families
        if key in by_year
    ]


def _counted(
    words: Vocabulary,
    family: str,
    by_year: dict[int, int],
    found: dict[str, list[visits.Found]],
    came_back: dict[str, int],
) -> FamilyVisits:
    return FamilyVisits(
        family=family,
        label=words.families[family].label,
        kind=words.kind_of(family),
        has=words.items_of(family),
        visits=by_year,
        found={cause: _counts([v.year for v in each]) for cause, each in found.items()},
        comebacks=came_back,
        brought_on={
            cause: _counts([_one_of(sorted(bys)) for bys in said])
            for cause, each in found.items()
            if (said := [v.brought_on for v in each if v.brought_on])
        },
        places={cause: [v.places for v in each if v.places] for cause, each in found.items()},
    )


def _counts(what: list[_T]) -> dict[_T, int]:
    """As `Counter`, which takes several times as long to set up for the few of one cause."""
    found: dict[_T, int] = {}
    for one in what:
        found[one] = found.get(one, 0) + 1
    return found


def _one_of(bys: list[str]) -> str:
    """What a visit counts under where several things are noted: one that is no mishap, if any."""
    return next((by for by in bys if by not in MISHAPS), bys[0])
