"""The replay of a book's past: its faults from the database, names from the vocabulary."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Collection, Sequence
from pathlib import Path

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from kb import stash
from kb.faults.stages import LARGE, stage
from kb.indexing import Index, Progress
from kb.learning import lineage, symptom_parents
from kb.notes.vocabulary import Vocabulary
from kb.store import reading
from kb.terms import with_kinds
from kb.values import FaultRecord
from kb.values_replay import Replay
from kb.version import __version__

LATEST = 500
"""of a large book so many faults are asked for its pages; the command asks all"""
_FILE = "replay"


class _Kept(Struct, frozen=True):
    """A replay of every fault, and what it was made from."""

    digest: str
    answer: Replay
    since: str = ""


class ReplayForPages(Struct, frozen=True):
    """A replay; where not every fault was asked, those received since `since`."""

    answer: Replay
    since: dt.date | None


def replay(
    index: Index,
    words: Vocabulary,
    family: str | None = None,
    since: dt.date | None = None,
    progress: Progress | None = None,
) -> Replay:
    """How well each past fault would have been ranked on the day it came in.

    Only faults of `family` (or the families of a line), received since then, are asked.
    """
    families = with_kinds("family", family, words.families)
    day = since.isoformat() if since else ""
    return _asked(_records(index), words, families, day, progress)


def _asked(
    records: Sequence[FaultRecord],
    words: Vocabulary,
    families: Collection[str],
    since: str,
    progress: Progress | None,
) -> Replay:
    from kb.faults.replay.run import replay as ask_again  # NumPy and SciPy: not where one is kept

    def tell(done: int, total: int) -> None:
        if progress:
            progress("asking past faults again", done, total)

    return _named(
        ask_again(
            records,
            lineage(words),
            symptom_parents(words),
            families or None,
            since,
            tell,
        ),
        words,
    )


def kept_replay(
    index: Index, words: Vocabulary, cache: Path, progress: Progress | None = None
) -> ReplayForPages:
    """The replay for the pages, as it was kept in the cache if nothing it rests on has changed.

    It rests on the faults as the statistics keep them and on the vocabulary: another title or a
    corrected word in a note's text leaves it as it was. Of a large book only the faults of its
    last stage take part, and of those only the latest are asked.
    """
    records, since = _for_pages(index)
    digest = _digest(records, words)
    found = stash.take(cache / _FILE)
    if found is not None:
        try:
            kept = msgspec.msgpack.decode(found, type=_Kept)
        except msgspec.MsgspecError:
            pass  # another version's
        else:
            if kept.digest == digest:
                return ReplayForPages(kept.answer, _day(kept.since))
    answer = _asked(records, words, (), since, progress)
    stash.keep(cache / _FILE, msgspec.msgpack.encode(_Kept(digest, answer, since)))
    return ReplayForPages(answer, _day(since))


def _for_pages(index: Index) -> tuple[list[FaultRecord], str]:
    """The faults that take part, and since when those came in that are asked."""
    with index.store.reading() as connection:
        known = reading.known_faults(connection)
        if known >= LARGE:
            notes = reading.first_finished(connection, stage(known))[1]
            records = reading.records_of_notes(connection, notes)
            return records, sorted(record.received for record in records)[-LATEST]
    return _records(index), ""


def _day(since: str) -> dt.date | None:
    return dt.date.fromisoformat(since) if since else None


def _digest(records: list[FaultRecord], words: Vocabulary) -> str:
    """Stands for everything that a replay reads."""
    found = hashlib.blake2b(__version__.encode(), digest_size=16)
    for part in (sorted(records, key=lambda record: record.case), words):
        found.update(msgspec.msgpack.encode(part, order="deterministic"))
    return found.hexdigest()


def _records(index: Index) -> list[FaultRecord]:
    with index.store.reading() as connection:
        visits = reading.fault_records(connection)
    return [record for records in visits.values() for record in records]


def _named(answer: Replay, words: Vocabulary) -> Replay:
    """The answer with the labels of its causes and checks."""
    causes = {c.key: c.label for c in words.causes.values()}
    checks = {c.key: c.label for c in words.checks.values()}
    return replace(
        answer,
        worst=tuple(
            replace(
                poor,
                label=causes.get(poor.cause, poor.cause),
                likeliest_label=causes.get(poor.likeliest, poor.likeliest),
            )
            for poor in answer.worst
        ),
        early_checks=tuple(
            replace(early, label=checks.get(early.check, early.check))
            for early in answer.early_checks
        ),
    )
