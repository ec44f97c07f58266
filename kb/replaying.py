"""The replay of a book's past: its faults from the database, names from the vocabulary."""

from __future__ import annotations

import datetime as dt

from msgspec.structs import replace

from kb.faults.replay import replay as ask_again
from kb.indexing import Index, Progress
from kb.learning import lineage, symptom_parents
from kb.notes.vocabulary import Vocabulary
from kb.store import reading
from kb.terms import with_kinds
from kb.values_replay import Replay


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

    def tell(done: int, total: int) -> None:
        if progress:
            progress("asking past faults again", done, total)

    with index.store.reading() as connection:
        visits = reading.fault_records(connection)
    answer = ask_again(
        [record for records in visits.values() for record in records],
        lineage(words),
        symptom_parents(words),
        families or None,
        since.isoformat() if since else "",
        tell,
    )
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
