"""The history of units: read from the database, judged by the statistics, named by the words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import cached_property

from kb import cautions
from kb.errors import QuestionError
from kb.faults import ages as aging
from kb.faults import batches, opportunity, part_names, returns, spares
from kb.faults.opportunity import CauseFacts, Tally
from kb.faults.returns import Fixed
from kb.indexing import Index
from kb.notes.vocabulary import Vocabulary
from kb.store import histories
from kb.terms import did_you_mean, require, with_kinds
from kb.values_history import Ages, BatchTrace, Comebacks, Drawer, Visit, WhileOpen


def comebacks(index: Index, words: Vocabulary, family: str | None, days: int) -> Comebacks:
    """What came back within `days`, and how each sort of repair holds; in a family or a line."""
    return History(index, words).comebacks(family, days)


def batch(index: Index, words: Vocabulary, part: str, number: str | None, days: int) -> BatchTrace:
    """Where these parts went. Raises QuestionError if no note names such a part or batch."""
    visits = _visits(index)
    faults = [f for v in visits for f in v.faults]
    parts = part_names.meant(faults, part)
    if not parts:
        known = {p.part for f in faults for p in f.parts}
        raise QuestionError(
            f"no note says that a '{part}' was fitted",
            did_you_mean(part, known) or "write it as under 'parts:' in the notes",
        )
    found = batches.trace(visits, parts, part, number, days, _labels(words))
    if not found.fittings:
        whole = batches.trace(visits, parts, part, None, days, _labels(words))
        noted = sorted({f.batch for f in whole.fittings if f.batch})
        raise QuestionError(
            f"no note says that a '{part}' of batch '{number}' was fitted",
            f"batches noted: {', '.join(noted)}" if noted else "no batch of it was ever noted",
        )
    return found


def drawer(index: Index, words: Vocabulary, families: Sequence[str]) -> Drawer:
    """The spares for most of the last year's repairs of these families and lines; all if none."""
    return History(index, words).drawer(families)


def ages(index: Index, words: Vocabulary, family: str) -> Ages:
    """Ages at failure and repeated repairs, of each family asked for that was ever here."""
    visits = _visits(index)
    as_of = returns.latest_date(visits)
    of_family: dict[str, list[Visit]] = {
        key: [] for key in with_kinds("family", family, words.families)
    }
    for visit in visits:
        if visit.family in of_family:
            of_family[visit.family].append(visit)
    return Ages(
        as_of,
        tuple(
            aging.ages(theirs, words.families[key].label, as_of, _labels(words))
            for key, theirs in of_family.items()
            if theirs
        ),
    )


def while_open(index: Index, words: Vocabulary, unit: str, doing: str | None) -> WhileOpen:
    """What else to look at in a unit of this family, or in the one of this case.

    Of a case the causes found so far are being done. Raises QuestionError for an unknown family,
    case or cause.
    """
    return History(index, words).while_open(unit, doing)


class History:
    """The visits of a book, read and counted once for questions about many families."""

    def __init__(self, index: Index, words: Vocabulary) -> None:
        self._words = words
        self._visits = _visits(index)
        self._fixed: dict[int, list[Fixed]] = {}

    def comebacks(self, family: str | None, days: int) -> Comebacks:
        """As the function of this name."""
        words = self._words
        asked = with_kinds("family", family, words.families)
        if days not in self._fixed:
            self._fixed[days] = returns.fixed_faults(self._visits, days)
        fixed = [f for f in self._fixed[days] if not asked or f.visit.family in asked]
        return returns.comebacks(fixed, self._as_of, days, _labels(words))

    def drawer(self, families: Sequence[str]) -> Drawer:
        """As the function of this name."""
        words = self._words.families
        asked = {f: None for one in families for f in with_kinds("family", one, words)}
        return self._drawers.of(tuple(asked))

    def while_open(self, unit: str, doing: str | None = None) -> WhileOpen:
        """As the function of this name."""
        words = self._words
        if doing is not None:
            require("cause", doing, words.causes)
        family, found = (unit, ()) if unit in words.families else self._on_the_bench(unit)
        done = (doing,) if doing else found
        off = _off(words, family, done)
        return WhileOpen(
            family=family,
            label=words.families[family].label,
            doing=doing or (found[0] if found else None),
            off=off,
            suggestions=opportunity.worth_looking(
                self._tally, family, _facts(words, family, self._here), done, off
            ),
            assumed=opportunity.ASSUMED,
            cautions=cautions.for_step("open", _hazards(words, family)),
        )

    def _on_the_bench(self, number: str) -> tuple[str, tuple[str, ...]]:
        """The family of a case, and the causes found in it so far."""
        case = next((v for v in self._visits if v.case.casefold() == number.casefold()), None)
        if case is None:
            numbers = {v.case for v in self._visits}
            raise QuestionError(
                f"there is no family and no case '{number}'",
                did_you_mean(number, [*self._words.families, *numbers])
                or "see vocabulary/families.yaml, or name a case by its number",
            )
        causes = dict.fromkeys(f.root_cause for f in case.faults if f.root_cause)
        return case.family, tuple(causes)

    @cached_property
    def _as_of(self) -> dt.date | None:
        return returns.latest_date(self._visits)

    @cached_property
    def _drawers(self) -> spares.Drawers:
        return spares.Drawers(self._visits, _labels(self._words))

    @cached_property
    def _tally(self) -> Tally:
        return opportunity.tally_of(self._visits)

    @cached_property
    def _here(self) -> set[str]:
        """The families that were ever on the bench."""
        return {v.family for v in self._visits if v.finished is not None}


def _visits(index: Index) -> list[Visit]:
    with index.store.reading() as connection:
        return histories.visits(connection)


def _labels(words: Vocabulary) -> dict[str, str]:
    return {c.key: c.label for c in words.causes.values()}


def _off(words: Vocabulary, family: str, done: Sequence[str]) -> str | None:
    """What is off for the causes that are being done; None if none is."""
    covers = [words.cover_of(cause, family) or "none" for cause in done]
    return " and ".join(dict.fromkeys(covers)) if covers else None


def _facts(words: Vocabulary, family: str, here: set[str]) -> dict[str, CauseFacts]:
    """The causes whose item such a unit has; all where the vocabulary says nothing of items.

    `here` are the families that were ever on the bench.
    """
    has, said = words.items_of(family), set(_hazards(words, family))
    alike = _alike(words, family, here)
    having: dict[str, frozenset[str]] = {}
    found = {}
    for key, term in words.causes.items():
        if has and term.item not in has:
            continue
        if not alike and term.item not in having:
            others = here - {family}
            having[term.item] = frozenset(f for f in others if term.item in words.items_of(f))
        found[key] = CauseFacts(
            term.label,
            alike or having[term.item],
            words.cover_of(key, family),
            term.confirm,
            tuple(cautions.HAZARDS[h] for h in term.hazards if h not in said),
        )
    return found


def _hazards(words: Vocabulary, family: str) -> tuple[str, ...]:
    return words.hazards_of(family) or cautions.WORST


def _alike(words: Vocabulary, family: str, here: set[str]) -> frozenset[str]:
    """The other families of the line, if any was here, else those of the same kind."""
    line, kind = words.families[family].parent, words.kind_of(family)
    others = here - {family}
    siblings = others & set(with_kinds("family", line, words.families))
    same = (f for f in others if kind is not None and words.kind_of(f) == kind)
    return frozenset(siblings or same)
