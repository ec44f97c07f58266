"""Splitting a note and composing its YAML into nodes with positions.

YAML never decides what a value is: nodes are typed later by what each key expects, so `no` stays
"no" and `0417` stays "0417". Aliases are refused, since they can multiply without end.
"""

from __future__ import annotations

import yaml
from msgspec import Struct

from kb.notes.limits import DEEPEST_YAML, LARGEST_FRONT_MATTER, LARGEST_NOTE
from kb.notes.problems import FORBIDDEN, Log


class Loader(getattr(yaml, "CSafeLoader", yaml.SafeLoader)):  # type: ignore[misc]
    """The safe loader; it does not guess what a value is."""

    def resolve(self, _kind: type[yaml.Node], _value: str, _implicit: tuple[bool, bool]) -> str:
        """Nobody asks for the tag of a node."""
        return "tag:yaml.org,2002:str"


# YAML 1.1 ends a line at these, YAML 1.2 and everybody's editor do not.
_NO_BREAKS = str.maketrans("\x85\u2028\u2029", "   ")

_PLAIN_WORDS = {
    "mapping values are not allowed": "a colon inside a value: put the value in quotes",
    "found character that cannot start": "this character cannot start a value: put it in quotes",
    "found unexpected end of stream": "a quote is opened and never closed",
    "did not find expected ',' or '}'": "a { is not closed, or a comma is missing in it",
    "did not find expected ',' or ']'": "a [ is not closed, or a comma is missing in it",
    "could not find expected ':'": "this line is no key with a value: a colon is missing",
    "did not find expected key": "this line does not line up with the ones above it",
    "did not find expected '-'": "this line does not line up with the list above it",
    "exceeded maximum nesting depth": "nested far too deeply",
    "found undefined alias": "an alias (*) is not allowed: write the value out",
    "did not find expected alphabetic or numeric": "a * or & must stand in quotes",
}


class SplitNote(Struct, frozen=True):
    """The two parts of a note. `yaml_line` and `body_line` count from 1."""

    yaml: str
    yaml_line: int
    body: str
    body_line: int


def decode(data: bytes, log: Log) -> str | None:
    """UTF-8 text with line ends as `\\n` and no byte order mark, or None with the fault logged."""
    if len(data) > LARGEST_NOTE:
        log.at(1, 1, "the file is larger than 1 MB, the most that is read")
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        before = data[: fault.start].decode("utf-8", "replace")
        line = before.count("\n") + 1
        column = len(before) - (before.rfind("\n") + 1) + 1
        log.at(line, column, "this is not UTF-8 text: save the file as UTF-8")
        return None
    if "\0" in text:
        line, column = place(text, text.index("\0"))
        log.at(line, column, "this is not a text file: it holds a zero byte")
        return None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    strange = FORBIDDEN.search(text)
    if strange:
        line, column = place(text, strange.start())
        log.at(line, column, f"a control character (U+{ord(strange.group()):04X}) is in here")
        return None
    return text


def split(text: str, log: Log) -> SplitNote | None:
    """The front matter between two `---` lines and the body, or None with the fault logged."""
    lines = text.split("\n")
    start = next((i for i, line in enumerate(lines) if line.strip()), None)
    if start is None:
        log.at(1, 1, "the note is empty: it starts with a line ---, keys, and another line ---")
        return None
    if lines[start].rstrip() != "---":
        log.at(start + 1, 1, "the first line must be --- to open the front matter")
        return None
    end = next((i for i in range(start + 1, len(lines)) if lines[i].rstrip() == "---"), None)
    if end is None:
        log.at(start + 1, 1, "the front matter never ends: a second line --- is missing")
        return None
    front = "\n".join(lines[start + 1 : end]) + "\n"
    body = "\n".join(lines[end + 1 :])
    return SplitNote(front, start + 2, body, end + 2)


def compose(text: str, log: Log) -> yaml.Node | None:
    """The root node of one YAML document, or None with the fault logged. Nothing is constructed."""
    if len(text) > LARGEST_FRONT_MATTER:
        log.at(log.first_line, 1, "the YAML here has more than 100,000 characters: too long")
        return None
    if not text.isascii():
        text = text.translate(_NO_BREAKS)
    try:
        if "*" in text and _has_alias(text, log):
            return None
        root: yaml.Node | None = yaml.compose(text, Loader=Loader)
    except yaml.MarkedYAMLError as fault:
        mark = fault.problem_mark or fault.context_mark
        problem = fault.problem or "this is not YAML"
        if "unexpected end of stream" in problem and fault.context_mark is not None:
            mark = fault.context_mark  # where the quote was opened, not where the text ended
        plain = next((v for k, v in _PLAIN_WORDS.items() if k in problem), problem)
        if mark is not None and _character(text, mark.line, mark.column) == "\t":
            plain = "a tab cannot be used to indent: use spaces"
        if mark is None:
            log.at(log.first_line, 1, plain)
        else:
            log.error(mark, plain)
        return None
    except RecursionError:
        log.at(log.first_line, 1, "nested far too deeply")
        return None
    except (yaml.YAMLError, ValueError) as fault:
        log.at(log.first_line, 1, f"this is not YAML: {fault}")
        return None
    deep = root and _too_deep(root)
    if deep:
        log.error(deep.start_mark, f"nested far too deeply: more than {DEEPEST_YAML} levels")
        return None
    return root


def _too_deep(root: yaml.Node) -> yaml.Node | None:
    """A node below the deepest level that is read, or None."""
    level = [root]
    for _ in range(DEEPEST_YAML):
        inner = []
        for node in level:
            if isinstance(node, yaml.SequenceNode):
                inner += node.value
            elif isinstance(node, yaml.MappingNode):
                for pair in node.value:
                    inner += pair
        if not inner:
            return None
        level = inner
    return level[0]


def _has_alias(text: str, log: Log) -> bool:
    for event in yaml.parse(text, Loader=Loader):
        if isinstance(event, yaml.AliasEvent):
            mark = event.start_mark
            line, column = (mark.line, mark.column) if mark else (0, 0)
            message = "an alias (*) is not allowed: write the value out"
            log.at(line + log.first_line, column + 1, message)
            return True
    return False


def _character(text: str, line: int, column: int) -> str:
    return (text.split("\n")[line : line + 1] or [""])[0][column : column + 1]


def place(text: str, index: int) -> tuple[int, int]:
    """Line and column, counted from 1, of a character index."""
    line = text.count("\n", 0, index) + 1
    return line, index - (text.rfind("\n", 0, index) + 1) + 1
