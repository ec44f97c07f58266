"""Full-text search over case notes: words, questions, ranking, snippets, spelling, symptoms.

This is the only package that imports Whoosh, and it knows nothing of tables or statistics.
`TextIndex` and its documents are loaded when they are first asked for: reading a sentence
(`Recogniser`, `stems`) needs no index.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from kb.text.errors import IndexBusy, IndexDamaged, IndexRefused, QuestionError, TextIndexError
from kb.text.lists import STOP_WORDS, word_lists
from kb.text.question import Question, parse
from kb.text.recognise import Name, Recognised, Recogniser
from kb.text.words import Token, stem, stems, tokens

if TYPE_CHECKING:
    from kb.text.analysis import read_label
    from kb.text.documents import Document, Kept, Weighed, taken_out, unpack_kept, weigh
    from kb.text.index import Scored, SearchTables, TextIndex
    from kb.text.plain import plain_text
    from kb.text.snippets import snippet
    from kb.text.spelling import suggest

__all__ = [
    "STOP_WORDS",
    "Document",
    "IndexBusy",
    "IndexDamaged",
    "IndexRefused",
    "Kept",
    "Name",
    "Question",
    "QuestionError",
    "Recognised",
    "Recogniser",
    "Scored",
    "SearchTables",
    "TextIndex",
    "TextIndexError",
    "Token",
    "Weighed",
    "parse",
    "plain_text",
    "read_label",
    "snippet",
    "stem",
    "stems",
    "suggest",
    "taken_out",
    "tokens",
    "unpack_kept",
    "weigh",
    "word_lists",
]

_LATER = {
    "Document": "kb.text.documents",
    "Kept": "kb.text.documents",
    "Scored": "kb.text.index",
    "SearchTables": "kb.text.index",
    "TextIndex": "kb.text.index",
    "Weighed": "kb.text.documents",
    "plain_text": "kb.text.plain",
    "read_label": "kb.text.analysis",
    "snippet": "kb.text.snippets",
    "suggest": "kb.text.spelling",
    "taken_out": "kb.text.documents",
    "unpack_kept": "kb.text.documents",
    "weigh": "kb.text.documents",
}


def __getattr__(name: str) -> Any:
    # Whoosh's index takes about 100 ms to import, Markdown 40; not every command needs them.
    if name in _LATER:
        return getattr(import_module(_LATER[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
