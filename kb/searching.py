"""Search: ranked by the text index, filtered by the database, shown with snippets."""

from __future__ import annotations

import datetime as dt

from msgspec import Struct

from kb.errors import QuestionError
from kb.indexing import Index
from kb.intake import symptom_names
from kb.notes.vocabulary import Vocabulary
from kb.store import database, reading
from kb.text import QuestionError as WordsError
from kb.text import parse, recognise, snippet, suggest
from kb.values import Hit, SearchAnswer

FEW = 2
"""With no more hits than this a better spelling is looked for."""


class Filters(Struct, frozen=True):
    """What a hit must have besides the words; an empty filter lets everything pass."""

    families: tuple[str, ...] = ()
    symptoms: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    since: dt.date | None = None

    @property
    def any(self) -> bool:
        """True if there is something to filter by."""
        return bool(self.families or self.symptoms or self.causes or self.since)


def search(
    index: Index, words: Vocabulary, text: str, filters: Filters, limit: int
) -> SearchAnswer:
    """The best `limit` cases for `text`. Raises QuestionError where it holds no word.

    Symptoms that the text names are looked for by their keys too, so that cases noted with the
    symptom come before those that only share a word.
    """
    try:
        question = parse(text)
        named = recognise(text, symptom_names(words)).keys
        wider = parse(" ".join((text, *named))) if named else question
    except WordsError as fault:
        raise QuestionError(_plain(fault)) from fault
    with index.store.reading() as connection:
        if database.get_meta(connection, "text_stamp") != index.text.stamp:
            raise database.StoreMovedError
        allowed = None
        if filters.any:
            allowed = reading.filtered_numbers(
                connection, filters.families, filters.symptoms, filters.causes, filters.since
            )
        total, best = index.text.best(wider, limit, allowed)
        cases = {c.case: c for c in reading.all_cases(connection, [s.case for s in best])}
    hits = tuple(
        Hit(
            case=s.case,
            score=s.score,
            family=cases[s.case].family,
            title=cases[s.case].title,
            received=cases[s.case].received,
            root_causes=cases[s.case].root_causes,
            snippet=snippet(index.text.texts(s.case), question),
        )
        for s in best
        if s.case in cases
    )
    suggestion = suggest(text, index.text.words()) if total <= FEW else None
    return SearchAnswer(total, hits, suggestion)


def _plain(fault: WordsError) -> str:
    if fault.reason == "too-long":
        return f"the question has {fault.found} {fault.unit}; at most {fault.limit} are looked for"
    if fault.reason == "only-common-words":
        return f"'{fault.text}' holds only words that nearly every note has"
    return "the question holds no word to look for"
