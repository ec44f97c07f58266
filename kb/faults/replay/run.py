"""The book's past, asked again fault by fault, each on the day it came in.

Prequential (A. P. Dawid, *J. R. Statist. Soc.* A 147 (1984) 278-292): a forecast uses what was
known before it and nothing else, neither counts nor fitted strengths.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

from kb.faults.fitting import fit
from kb.faults.fitting.leave_out import in_content_order
from kb.faults.prior import Lineage
from kb.faults.replay.answers import Answers
from kb.faults.replay.past import Past
from kb.faults.replay.text_only import TextOnly
from kb.faults.stages import stage
from kb.values import FaultRecord
from kb.values_replay import Replay


def replay(
    records: Iterable[FaultRecord],
    lineage: Lineage,
    symptom_parents: Mapping[str, str],
    families: Collection[str] | None = None,
    since: str = "",
    tell: Callable[[int, int], None] | None = None,
) -> Replay:
    """How well these faults would have been ranked, each by those finished before it came in.

    Only faults with a known cause and both dates take part. Of those, only the ones of `families`
    and received since the ISO date `since` are asked, but all are learnt from. A fault that came
    in before any was finished is not asked. The order of the records does not matter. `tell` is
    told how many of the faults have been looked at, and of how many.
    """
    usable = [r for r in in_content_order(list(records)) if r.cause and r.received and r.finished]
    past = Past((r.cause for r in usable), lineage, symptom_parents)
    text, answers = TextOnly(past), Answers(past)
    # No unit is finished before it came in; one whose note says so must not answer itself.
    done = [max(r.finished, r.received) for r in usable]
    coming = sorted(range(len(usable)), key=lambda i: (done[i], usable[i].case, i))
    learnt, fitted, stale = 0, 0, False
    asking = sorted(range(len(usable)), key=lambda i: (usable[i].received, i))
    for number, i in enumerate(asking):
        record = usable[i]
        if tell:
            tell(number, len(asking))
        while learnt < len(coming) and done[coming[learnt]] < record.received:
            past.add(usable[coming[learnt]])
            text.add(coming[learnt], usable[coming[learnt]])
            learnt += 1
        wanted = record.received >= since and (families is None or record.family in families)
        if not learnt:
            answers.too_early += wanted
            continue
        if stage(learnt) != fitted:
            fitted, stale = stage(learnt), True
            text.refit()
        alike = text.shares(i, record)
        if wanted:
            if stale:
                past.strengths = fit(_first(past.faults, fitted), lineage, symptom_parents)
                stale = False
            answers.add(record, alike)
    return answers.replay()


def _first(faults: Sequence[FaultRecord], number: int) -> Sequence[FaultRecord]:
    """The first so many faults, the last of their visits as a whole, as a live book fits them."""
    end = number
    while 0 < end < len(faults) and faults[end].case == faults[end - 1].case:
        end += 1
    return faults[:end]
