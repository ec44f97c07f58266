"""Reading `book.yaml` and `vocabulary/*.yaml`.

A faulty field is reported and left out; its entry stays as far as it can be understood, so that
one slip in the vocabulary does not refuse every note that uses the term.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from itertools import islice
from typing import TypeVar

import yaml
from msgspec import Struct
from msgspec.structs import replace

from kb.notes import nodes
from kb.notes.case import Quantity
from kb.notes.frontmatter import compose, decode
from kb.notes.problems import Log, Problem, shorten
from kb.notes.settings import Settings
from kb.notes.vocabulary import (
    ACCESS,
    HAZARDS,
    STATES,
    Cause,
    CheckTerm,
    Family,
    Nominal,
    Symptom,
    Term,
    Vocabulary,
    ancestry,
)

CAUSE_KEY = re.compile(r"[a-z0-9][a-z0-9-]*/[a-z0-9][a-z0-9-]*")

MOST_DAYS = 36_500
MOST_PARENTS = 16

V = TypeVar("V")
Fields = Mapping[str, yaml.Node]


class VocabularyRead(Struct, frozen=True):
    """The vocabulary as far as it could be read, and what is wrong with it."""

    vocabulary: Vocabulary
    problems: tuple[Problem, ...]


def read_settings(data: bytes, file: str = "book.yaml") -> tuple[Settings, tuple[Problem, ...]]:
    """Read `book.yaml`; a faulty field falls back to its default."""
    log = Log(file)
    root = _root(data, log)
    if root is None:
        return Settings(), tuple(log.problems)
    found = nodes.fields(
        root, log, "book.yaml", ("title", "mains", "currency", "comeback_days", "publish")
    )
    default = Settings()
    mains = _inner(found, "mains", log, ("voltage", "frequency"))
    publish = _inner(found, "publish", log, ("hide",))
    return Settings(
        title=_get(found, "title", log, nodes.text) or default.title,
        mains_voltage=_get(mains, "voltage", log, nodes.number) or default.mains_voltage,
        mains_frequency=_get(mains, "frequency", log, nodes.number) or default.mains_frequency,
        currency=_get(found, "currency", log, nodes.text) or default.currency,
        comeback_days=_get(found, "comeback_days", log, _days) or default.comeback_days,
        hide=nodes.many(publish["hide"], log, nodes.text) if "hide" in publish else (),
    ), tuple(log.problems)


def _days(node: yaml.Node, log: Log) -> int | None:
    days = nodes.number(node, log)
    if days is not None and not 1 <= days <= MOST_DAYS:
        log.error(node.start_mark, f"this must be 1 to {MOST_DAYS} days")
        return None
    return int(days) if days is not None else None


def read_vocabulary(files: Mapping[str, bytes]) -> VocabularyRead:
    """Read the four vocabulary files.

    `files` maps a kind (`families`, `symptoms`, `causes`, `checks`) to the bytes of its file; a
    missing kind is empty. References between the files are checked, cycles of parents broken.
    """
    logs = {kind: Log(f"vocabulary/{kind}.yaml") for kind in _READERS}
    marks: dict[tuple[str, str], yaml.Node] = {}
    terms: dict[str, dict[str, Term]] = {}
    roots: dict[str, dict[str, Fields]] = {}
    for kind, (known, make) in _READERS.items():
        log = logs[kind]
        terms[kind], roots[kind] = {}, {}
        root = _root(files.get(kind, b""), log)
        if root is None:
            continue
        pattern = CAUSE_KEY if kind == "causes" else nodes.KEY
        shape = "item/mechanism in " if kind == "causes" else ""
        for key, key_node, value in nodes.pairs(root, log, f"{kind}.yaml"):
            if not pattern.fullmatch(key):
                log.error(
                    key_node.start_mark,
                    f"'{shorten(key)}' is no key: use {shape}small letters, digits and hyphens",
                )
                continue
            if any(len(half) > nodes.LONGEST_KEY for half in key.split("/")):
                message = f"a key has at most {nodes.LONGEST_KEY} characters: '{shorten(key)}'"
                log.error(key_node.start_mark, message)
                continue
            found = nodes.fields(value, log, f"'{key}'", known)
            if "label" not in found:
                log.error(key_node.start_mark, f"'{key}' has no label")
            marks[kind, key] = key_node
            roots[kind][key] = found
            terms[kind][key] = make(key, found, log)
    _check_references(terms, roots, logs)
    for kind, log in logs.items():
        _break_cycles(terms[kind], {k: marks[kind, k] for k in terms[kind]}, log)
    vocabulary = Vocabulary(
        families={k: t for k, t in terms["families"].items() if isinstance(t, Family)},
        symptoms={k: t for k, t in terms["symptoms"].items() if isinstance(t, Symptom)},
        causes={k: t for k, t in terms["causes"].items() if isinstance(t, Cause)},
        checks={k: t for k, t in terms["checks"].items() if isinstance(t, CheckTerm)},
    )
    return VocabularyRead(vocabulary, tuple(p for log in logs.values() for p in log.problems))


def _root(data: bytes, log: Log) -> yaml.Node | None:
    text = decode(data, log)
    if text is None or not text.strip():
        return None
    root = compose(text, log)
    if root is None or nodes.is_blank(root):
        return None
    nodes.warn_lost_comments(text, root, log)
    return root


def _inner(found: Fields, key: str, log: Log, known: tuple[str, ...]) -> Fields:
    return nodes.fields(found[key], log, f"'{key}'", known) if key in found else {}


def _get(found: Fields, key: str, log: Log, read: nodes.Read[V]) -> V | None:
    return read(found[key], log) if key in found else None


def _texts(found: Fields, key: str, log: Log) -> tuple[str, ...]:
    return nodes.many(found[key], log, nodes.text) if key in found else ()


def _hazards(found: Fields, log: Log) -> tuple[str, ...]:
    read = nodes.choice("hazard", HAZARDS)
    return nodes.many(found["hazards"], log, read) if "hazards" in found else ()


def _flag(found: Fields, key: str, log: Log) -> bool:
    return nodes.flag(found[key], log) if key in found else False


def _text_map(found: Fields, key: str, log: Log, read: nodes.Read[str]) -> dict[str, str]:
    if key not in found:
        return {}
    values = {k: read(v, log) for k, _, v in nodes.pairs(found[key], log, f"'{key}'")}
    return {k: v for k, v in values.items() if v is not None}


def _nominal(node: yaml.Node, log: Log) -> Nominal | None:
    found = nodes.fields(node, log, "a nominal value", ("at", "value", "tolerance", "state"))
    at = _get(found, "at", log, nodes.text)
    value: Quantity | None = _get(found, "value", log, nodes.quantity())
    if at is None or value is None:
        if not {"at", "value"} <= set(found):
            log.error(node.start_mark, "a nominal value needs 'at' and 'value'")
        return None
    tolerance = _get(found, "tolerance", log, nodes.quantity())
    return Nominal(at, value, tolerance, _get(found, "state", log, nodes.text))


def _year(node: yaml.Node, log: Log) -> int | None:
    year = nodes.number(node, log)
    if year is not None and not (1900 <= year <= 2100 and year == int(year)):
        log.error(node.start_mark, f"'{year:g}' is not a year")
        return None
    return int(year) if year is not None else None


def _family(key: str, found: Fields, log: Log) -> Term:
    made = nodes.many(found["made"], log, _year) if "made" in found else ()
    if "made" in found and (len(made) > 2 or list(made) != sorted(made)):
        log.error(found["made"].start_mark, "'made' is the first and the last year, in order")
        made = ()
    label, also, parent = _common(key, found, log)
    return Family(
        key=key,
        label=label,
        also=also,
        parent=parent,
        maker=_get(found, "maker", log, nodes.text),
        kind=_get(found, "kind", log, nodes.key),
        made=made,
        has=nodes.many(found["has"], log, nodes.key) if "has" in found else (),
        nominal=nodes.items(found["nominal"], log, "'nominal'", _nominal)
        if "nominal" in found
        else (),
        access=_text_map(found, "access", log, nodes.choice("access", ACCESS)),
        covers=_text_map(found, "covers", log, nodes.text),
        hazards=_hazards(found, log),
    )


def _symptom(key: str, found: Fields, log: Log) -> Term:
    label, also, parent = _common(key, found, log)
    first = _texts(found, "first", log)
    return Symptom(key=key, label=label, also=also, parent=parent, first=first)


def _cause(key: str, found: Fields, log: Log) -> Term:
    label, also, parent = _common(key, found, log)
    return Cause(
        key=key,
        label=label,
        also=also,
        parent=parent,
        confirm=_get(found, "confirm", log, nodes.text),
        cover=_get(found, "cover", log, nodes.text),
        hazards=_hazards(found, log),
    )


def _check(key: str, found: Fields, log: Log) -> Term:
    label, also, parent = _common(key, found, log)
    return CheckTerm(
        key=key,
        label=label,
        also=also,
        parent=parent,
        access=_get(found, "access", log, nodes.choice("access", ACCESS)) or "outside",
        minutes=_get(found, "minutes", log, nodes.number),
        wait=_get(found, "wait", log, nodes.number),
        outcomes=nodes.many(found["outcomes"], log, nodes.key) if "outcomes" in found else (),
        clears=_texts(found, "clears", log),
        hazards=_hazards(found, log),
        how=_get(found, "how", log, nodes.text),
        owner_ok=_flag(found, "owner_ok", log),
        disturbs=_flag(found, "disturbs", log),
        needs=_texts(found, "needs", log),
    )


def _common(key: str, found: Fields, log: Log) -> tuple[str, tuple[str, ...], str | None]:
    label = _get(found, "label", log, nodes.short_text) or key
    also = nodes.many(found["also"], log, nodes.short_text) if "also" in found else ()
    return label, also, _get(found, "parent", log, nodes.text)


_COMMON = ("label", "also", "parent")
_Make = Callable[[str, Fields, Log], Term]
_READERS: dict[str, tuple[tuple[str, ...], _Make]] = {
    "families": (
        (*_COMMON, "maker", "kind", "made", "has", "nominal", "access", "covers", "hazards"),
        _family,
    ),
    "symptoms": ((*_COMMON, "first"), _symptom),
    "causes": ((*_COMMON, "confirm", "cover", "hazards"), _cause),
    "checks": (
        (*_COMMON, "access", "minutes", "wait", "outcomes", "clears", "hazards", "how", "owner_ok",
         "disturbs", "needs"),
        _check,
    ),
}  # fmt: skip


def _check_references(
    terms: dict[str, dict[str, Term]],
    roots: Mapping[str, Mapping[str, Fields]],
    logs: Mapping[str, Log],
) -> None:
    checks = terms["checks"]
    items = {key.partition("/")[0] for key in terms["causes"]}
    for kind, entries in roots.items():
        for found in entries.values():
            if "parent" in found:
                _each(found["parent"], logs[kind], "parent", terms[kind])
    for found in roots["symptoms"].values():
        if "first" in found:
            _each(found["first"], logs["symptoms"], "check", checks)
    for found in roots["checks"].values():
        if "needs" in found:
            _each(found["needs"], logs["checks"], "check or state", {*checks, *STATES})
    for key, found in roots["checks"].items():
        check = checks[key]
        if "clears" in found and isinstance(check, CheckTerm):
            _each(found["clears"], logs["checks"], "outcome of this check", set(check.outcomes))
    for found in roots["families"].values():
        log = logs["families"]
        if "has" in found:
            _each(found["has"], log, "item (the first half of a cause)", items)
        for field, what, known in (
            ("access", "check", set(checks)),
            ("covers", "item (the first half of a cause)", items),
        ):
            if isinstance(found.get(field), yaml.MappingNode):
                for key_node, _ in found[field].value:
                    _each(key_node, log, what, known)
    _drop_unknown(terms)


def _each(node: yaml.Node, log: Log, what: str, known: Mapping[str, object] | set[str]) -> None:
    for one in node.value if isinstance(node, yaml.SequenceNode) else [node]:
        if isinstance(one, yaml.ScalarNode) and one.value.strip() not in known:
            log.unknown(one.start_mark, what, one.value.strip(), known)


def _drop_unknown(terms: dict[str, dict[str, Term]]) -> None:
    checks = terms["checks"]
    for kind, entries in terms.items():
        for key, term in entries.items():
            if term.parent is not None and term.parent not in entries:
                term = replace(term, parent=None)
            if isinstance(term, Symptom):
                term = replace(term, first=tuple(c for c in term.first if c in checks))
            elif isinstance(term, CheckTerm):
                known = tuple(n for n in term.needs if n in checks or n in STATES)
                term = replace(term, needs=known)
            terms[kind][key] = term


def _break_cycles(terms: dict[str, Term], marks: Mapping[str, yaml.Node], log: Log) -> None:
    for key in terms:
        chain = list(islice(ancestry(key, terms), MOST_PARENTS + 1))
        if len(chain) > MOST_PARENTS:
            message = f"more than {MOST_PARENTS - 1} parents, one above the other"
            log.error(marks[key].start_mark, message)
            terms[key] = replace(terms[key], parent=None)
        elif chain[-1].parent in terms:
            loop = chain[[t.key for t in chain].index(chain[-1].parent or "") :]
            names = " → ".join(t.key for t in (*loop, loop[0]))
            log.error(marks[key].start_mark, f"the parents go round in a circle: {names}")
            for term in loop:
                terms[term.key] = replace(term, parent=None)
