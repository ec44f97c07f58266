"""The replay of a book's past: its faults from the database, names from the vocabulary."""

from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from kb import stash
from kb.indexing import Index, Progress
from kb.learning import lineage, symptom_parents
from kb.notes.vocabulary import Vocabulary
from kb.store import reading
from kb.terms import with_kinds
from kb.values import FaultRecord
from kb.values_replay import Replay
from kb.version import __version__

_FILE = "replay"


class _Kept(Struct, frozen=True):
    """A replay of every fault, and what it was made from."""

    digest: str
    answer: Replay


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
    from kb.faults.replay import replay as ask_again  # NumPy and SciPy: not where one is kept

    families = with_kinds("family", family, words.families)

    def tell(done: int, total: int) -> None:
        if progress:
            progress("asking past faults again", done, total)

    return _named(
        ask_again(
            _records(index),
            lineage(words),
            symptom_parents(words),
            families or None,
            since.isoformat() if since else "",
            tell,
        ),
        words,
    )


def kept_replay(
    index: Index, words: Vocabulary, cache: Path, progress: Progress | None = None
) -> Replay:
    """The replay of every fault, as it was kept in the cache if nothing it rests on has changed.

    It rests on the faults as the statistics keep them and on the vocabulary: another title or a
    corrected word in a note's text leaves it as it was.
    """
    digest = _digest(_records(index), words)
    found = stash.take(cache / _FILE)
    if found is not None:
        try:
            kept = msgspec.msgpack.decode(found, type=_Kept)
        except msgspec.MsgspecError:
            pass  # another version's
        else:
            if kept.digest == digest:
                return kept.answer
    answer = replay(index, words, progress=progress)
    stash.keep(cache / _FILE, msgspec.msgpack.encode(_Kept(digest, answer)))
    return answer


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
