"""Terms that a question names: known ones, and what is a kind of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from kb.errors import QuestionError
from kb.notes.vocabulary import Term, nearest

_FILES = {
    "family": "families.yaml",
    "symptom": "symptoms.yaml",
    "cause": "causes.yaml",
    "check": "checks.yaml",
}


def require(what: str, key: str, known: Iterable[str]) -> None:
    """Raise QuestionError, with the nearest known key as a hint, unless `key` is known."""
    names = list(known)
    if key not in names:
        hint = did_you_mean(key, names) or f"see vocabulary/{_FILES[what]} for those it knows"
        raise QuestionError(f"unknown {what} '{key}'", hint)


def did_you_mean(word: str, names: Iterable[str]) -> str | None:
    """A hint that names the nearest of the known words, if one is close."""
    close = nearest(word, names)
    return f"did you mean {close}?" if close else None


def with_kinds(what: str, key: str | None, terms: Mapping[str, Term]) -> tuple[str, ...]:
    """The key and all that have it among their parents; empty for no key.

    Raises QuestionError for an unknown key.
    """
    if key is None:
        return ()
    require(what, key, terms)
    kinds: dict[str | None, list[str]] = {}
    for one, term in terms.items():
        kinds.setdefault(term.parent, []).append(one)
    found = {key: None}
    for inner in (queue := [key]):
        more = [kind for kind in kinds.get(inner, ()) if kind not in found]
        queue += more
        found |= dict.fromkeys(more)
    return tuple(found)
