"""What belongs beside a likely cause: what may lie behind it, and how long it may take."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping

from kb.faults.proportions import quantile
from kb.values import BehindIt, TimeNeeded

LIMITS = (15.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 240.0, 300.0, 360.0, 480.0, 600.0, 960.0)
"""hands-on minutes that a bench would name to an owner"""
MOST = 0.8
"""the share of faults that the named limit should hold"""
ENOUGH_FAULTS = 3.0
"""the minutes of a cause lean on those of the whole book as if so many faults had taken them"""
NAMED = 0.02
"""a cause with less is not one of the likely ones whose times are counted up"""
LEAST_NOTED = 5
"""with fewer noted times than this nothing is said"""
_WORD = re.compile(r"[^\W_]{4,}")


def behind_it(cause: str, damage: Mapping[str, Mapping[str, float]]) -> tuple[BehindIt, ...]:
    """The root causes that took this one with them in past faults, most often first.

    `damage` is what was damaged -> the root cause behind it -> faults. A part that is found dead
    may be the victim: these are to be looked at before a new one goes in.
    """
    roots = damage.get(cause, {})
    return tuple(
        BehindIt(cause=root, label=root, faults=faults)
        for root, faults in sorted(roots.items(), key=lambda x: (-x[1], x[0]))
        if root != cause
    )


def changed_there(
    cause: str, names: Collection[str], modifications: Collection[str]
) -> tuple[str, ...]:
    """Those of the modifications that name the place of this cause: they share a word with it.

    `names` are other words for the cause.
    """
    item = cause.partition("/")[0]
    own = {word for text in (item, *names) for word in _WORD.findall(text.casefold())}
    return tuple(m for m in modifications if not own.isdisjoint(_WORD.findall(m.casefold())))


def time_needed(
    beliefs: Mapping[str, float], durations: Mapping[str, Mapping[float, float]]
) -> TimeNeeded | None:
    """How long such a fault may take, from the minutes noted for the likely causes.

    `beliefs` is cause -> probability; what is missing to 1 is the unseen, which takes what the
    book takes. `durations` is cause -> hands-on minutes -> faults. The share of faults under a
    limit is the mean over the causes, by their probability, of (faults of the cause under it + 3
    times the book's share) / (its faults + 3). The limit is the first of a row of round times that
    holds `MOST` of them. None where too few times were noted, or the longest limit is too short.
    """
    book: dict[float, float] = {}
    for row in durations.values():
        for minutes, faults in row.items():
            book[minutes] = book.get(minutes, 0.0) + faults
    noted = sum(book.values())
    if noted < LEAST_NOTED:
        return None
    mixed: dict[float, float] = {}
    known = 0.0
    for cause, p in beliefs.items():
        own = durations.get(cause, {})
        if p <= 0.0 or not own:
            continue  # such a cause takes what the book takes
        known += p
        count = sum(own.values()) + ENOUGH_FAULTS
        for minutes, faults in own.items():
            mixed[minutes] = mixed.get(minutes, 0.0) + p * faults / count
        for minutes, faults in book.items():
            mixed[minutes] = mixed.get(minutes, 0.0) + p * ENOUGH_FAULTS / count * faults / noted
    for minutes, faults in book.items():
        mixed[minutes] = mixed.get(minutes, 0.0) + max(1.0 - known, 0.0) * faults / noted
    whole = sum(mixed.values())
    for limit in LIMITS:
        share = sum(part for minutes, part in mixed.items() if minutes <= limit) / whole
        if share >= MOST:
            likely = [c for c, p in beliefs.items() if p >= NAMED and c in durations]
            return TimeNeeded(
                under=limit,
                share=share,
                middle=quantile(mixed, 0.5),
                faults=round(sum(sum(durations[c].values()) for c in likely)),
            )
    return None
