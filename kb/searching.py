"""Search: ranked by the text index, filtered by the database, shown with snippets."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from msgspec import Struct

from kb.errors import QuestionError
from kb.indexing import Index
from kb.store import database, reading
from kb.store.packed import unpack_headline
from kb.text import Question, Recogniser, Scored, parse, snippet, suggest
from kb.text import QuestionError as WordsError
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
    index: Index, recogniser: Recogniser, text: str, filters: Filters, limit: int
) -> SearchAnswer:
    """The best `limit` cases for `text`. Raises QuestionError where it holds no word.

    Symptoms that the text names are looked for by their keys too, so that cases noted with the
    symptom come before those that only share a word, and words that the first hits share count too.
    """
    try:
        question = parse(text)
        named = recogniser(text).keys
        wider = _with_symptoms(question, named)
    except WordsError as fault:
        raise QuestionError(_plain(fault)) from fault
    allowed = None
    if filters.any:  # whatever else a hit shows stands in the text index
        with index.store.reading() as connection:
            if database.get_meta(connection, "text_stamp") != index.text.stamp:
                raise database.StoreMovedError
            allowed = reading.filtered_numbers(
                connection, filters.families, filters.symptoms, filters.causes, filters.since
            )
    total, best = index.text.best(wider, limit, allowed, feedback=True)
    hits = tuple(_hit(index, scored, question) for scored in best)
    suggestion = suggest(text, index.text.words()) if total <= FEW else None
    return SearchAnswer(total, hits, suggestion)


def _hit(index: Index, scored: Scored, question: Question) -> Hit:
    headline = unpack_headline(index.text.about(scored.case))
    return Hit(
        case=scored.case,
        score=scored.score,
        family=headline.family,
        title=headline.title,
        received=headline.received,
        root_causes=headline.root_causes,
        snippet=snippet(index.text.texts(scored.case), question),
    )


def _with_symptoms(question: Question, keys: Sequence[str]) -> Question:
    """The question and the words of these keys, which don't count against its greatest length."""
    try:
        more = parse(" ".join(keys)).words
    except WordsError:  # no key, or none with a word that is looked for
        return question
    return Question(tuple(dict.fromkeys((*question.words, *more))), question.phrases)


def _plain(fault: WordsError) -> str:
    if fault.reason == "too-long":
        return f"the question has {fault.found} {fault.unit}; at most {fault.limit} are looked for"
    if fault.reason == "only-common-words":
        return f"'{fault.text}' holds only words that nearly every note has"
    return "the question holds no word to look for"
