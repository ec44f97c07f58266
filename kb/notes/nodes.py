"""Typed reading of YAML nodes: each function says what it expects and logs what it finds instead.

A node left empty (`unit:` with nothing after it) counts as not given. Functions return None or an
empty tuple where the value is missing or faulty; the fault is then in the log.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from typing import TypeVar

import yaml

from kb.notes.case import Quantity
from kb.notes.problems import FORBIDDEN, Log, shorten
from kb.notes.units import UnitError, read_quantity

T = TypeVar("T")
Read = Callable[[yaml.Node, Log], T | None]

KEY = re.compile(r"[a-z0-9][a-z0-9-]*")
_DATE = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")
_YEAR = re.compile(r"[0-9]{4}")
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
LONGEST_TEXT = 20_000
LONGEST_NAME = 200
LONGEST_KEY = 64


def kind_name(node: yaml.Node) -> str:
    """What a person would call this kind of node."""
    if isinstance(node, yaml.MappingNode):
        return "a mapping (key: value)"
    if isinstance(node, yaml.SequenceNode):
        return "a list"
    return "text"


def is_blank(node: yaml.Node) -> bool:
    """True for a value that was left empty or written as ~ or null without quotes."""
    return (
        isinstance(node, yaml.ScalarNode)
        and not node.style
        and node.value.strip() in ("", "~", "null")
    )


def pairs(node: yaml.Node, log: Log, what: str) -> Iterator[tuple[str, yaml.Node, yaml.Node]]:
    """Yield (key, key node, value node) of a mapping; duplicate and odd keys are logged."""
    if not isinstance(node, yaml.MappingNode):
        log.error(node.start_mark, f"{what} must be a mapping (key: value), not {kind_name(node)}")
        return
    seen: set[str] = set()
    for key_node, value in node.value:
        if not isinstance(key_node, yaml.ScalarNode):
            log.error(key_node.start_mark, f"a key in {what} must be a plain word")
            continue
        key = key_node.value
        if key in seen:
            log.error(key_node.start_mark, f"the key '{shorten(key)}' stands twice in {what}")
            continue
        if not key.isprintable() and (strange := FORBIDDEN.search(key)):
            log.error(key_node.start_mark, _control(strange[0]))
            continue
        seen.add(key)
        yield key, key_node, value


def fields(
    node: yaml.Node, log: Log, what: str, known: Collection[str], elsewhere: Mapping[str, str] = {}
) -> dict[str, yaml.Node]:
    """The filled fields of a mapping whose keys are fixed.

    `elsewhere` gives a sentence for keys that are known but do not belong here.
    """
    found: dict[str, yaml.Node] = {}
    for key, key_node, value in pairs(node, log, what):
        if key in elsewhere:
            log.error(key_node.start_mark, elsewhere[key])
        elif key not in known:
            if is_blank(value) and _in_flow(node):
                log.error(
                    key_node.start_mark,
                    f"'{shorten(key)}' stands alone: a comma inside {{ }} separates entries; "
                    "put a value that holds a comma in quotes",
                )
            else:
                log.unknown(key_node.start_mark, f"key in {what}", key, known)
        elif not is_blank(value):
            found[key] = value
    return found


def _in_flow(node: yaml.Node) -> bool:
    return bool(getattr(node, "flow_style", False))


def text(node: yaml.Node, log: Log) -> str | None:
    """Any text, stripped."""
    if not isinstance(node, yaml.ScalarNode):
        hint = ": put it in quotes" if isinstance(node, yaml.MappingNode) else ""
        log.error(node.start_mark, f"this must be text, not {kind_name(node)}{hint}")
        return None
    if is_blank(node):
        return None
    value: str = node.value.strip()
    if len(value) > LONGEST_TEXT:
        log.error(node.start_mark, "this text is longer than 20,000 characters")
        return None
    # An escape in quotes, such as "\\e", is none of the characters that `decode` has seen.
    if not value.isprintable() and (strange := FORBIDDEN.search(value)):
        log.error(node.start_mark, _control(strange[0]))
        return None
    return value


def _control(character: str) -> str:
    return f"a control character (U+{ord(character):04X}) is in here"


def short_text(node: yaml.Node, log: Log) -> str | None:
    """Text of at most 200 characters: what a thing is called."""
    value = text(node, log)
    if value is not None and len(value) > LONGEST_NAME:
        log.error(node.start_mark, f"a name has at most {LONGEST_NAME} characters")
        return None
    return value


def many(node: yaml.Node, log: Log, read: Read[T]) -> tuple[T, ...]:
    """One value or a list of them."""
    nodes = node.value if isinstance(node, yaml.SequenceNode) else [node]
    values = (read(n, log) for n in nodes if not is_blank(n))
    return tuple(v for v in values if v is not None)


def items(node: yaml.Node, log: Log, what: str, read: Read[T]) -> tuple[T, ...]:
    """A list of values, each read by `read`; anything but a list is logged."""
    if not isinstance(node, yaml.SequenceNode):
        log.error(node.start_mark, f"{what} must be a list, not {kind_name(node)}")
        return ()
    return many(node, log, read)


def number(node: yaml.Node, log: Log) -> float | None:
    """A number of zero or more, with a decimal point, without a unit."""
    value = text(node, log)
    if value is None:
        return None
    if not _NUMBER.fullmatch(value) or len(value) > 12:
        log.error(
            node.start_mark,
            f"'{shorten(value)}' must be a number of zero or more, without a unit or a comma",
        )
        return None
    return float(value)


def date(node: yaml.Node, log: Log) -> dt.date | None:
    """A calendar date as YYYY-MM-DD (ISO 8601)."""
    value = text(node, log)
    if value is None:
        return None
    match = _DATE.fullmatch(value)
    if not match:
        log.error(node.start_mark, f"'{shorten(value)}' is not a date: write it as 2024-03-31")
        return None
    try:
        return dt.date(*(int(group) for group in match.groups()))
    except ValueError:
        log.error(node.start_mark, f"there is no such day as {value}")
        return None


def year_or_date(node: yaml.Node, log: Log) -> str | None:
    """A year or a date, kept as text."""
    value = text(node, log)
    if value is None:
        return None
    if _YEAR.fullmatch(value):
        return value
    day = date(node, log)
    return day.isoformat() if day else None


def flag(node: yaml.Node, log: Log) -> bool:
    """True or false, written as such."""
    value = text(node, log)
    if value in ("true", "false", "yes", "no"):
        return value in ("true", "yes")
    if value is not None:
        log.error(node.start_mark, f"'{shorten(value)}' must be true or false")
    return False


def quantity(base: str | None = None) -> Read[Quantity]:
    """A reader for a number with a unit; `base` restricts its dimension, as "s" for a time."""

    def read(node: yaml.Node, log: Log) -> Quantity | None:
        value = text(node, log)
        if value is None:
            return None
        try:
            return read_quantity(value, base)
        except UnitError as fault:
            log.error(node.start_mark, shorten(fault.reason, 120), fault.suggestion)
            return None

    return read


def choice(what: str, options: Collection[str]) -> Read[str]:
    """A reader for one of a few fixed words."""

    def read(node: yaml.Node, log: Log) -> str | None:
        value = text(node, log)
        if value is None:
            return None
        if value not in options:
            log.unknown(node.start_mark, what, value, options)
            return None
        return value

    return read


def key(node: yaml.Node, log: Log) -> str | None:
    """A vocabulary key: small letters, digits and hyphens."""
    value = text(node, log)
    if value is not None and not KEY.fullmatch(value):
        log.error(
            node.start_mark,
            f"'{shorten(value)}' is no key: use small letters, digits and hyphens",
        )
        return None
    return value


def warn_lost_comments(source: str, node: yaml.Node, log: Log) -> None:
    """Warn where `swapped V2 #5` lost its end: YAML reads ` #` as the start of a comment."""
    if " #" not in source:
        return
    lines = source.split("\n")
    stack = [node]
    while stack:
        current = stack.pop()
        if isinstance(current, yaml.MappingNode):
            stack.extend(value for _, value in current.value)
        elif isinstance(current, yaml.SequenceNode):
            stack.extend(current.value)
        elif isinstance(current, yaml.ScalarNode) and not current.style and current.value:
            mark = current.end_mark
            rest = lines[mark.line][mark.column :] if mark.line < len(lines) else ""
            if re.match(r"\s+#\S", rest):
                log.warning(
                    mark,
                    f"'{shorten(rest.strip(), 30)}' is read as a comment and lost: "
                    "put the whole value in quotes",
                )
