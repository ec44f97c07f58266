"""Where in the files of a book the texts stand that look private."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path

import yaml
from msgspec.structs import replace

from kb.notes.folder import read_bytes
from kb.notes.frontmatter import compose, decode, place, split
from kb.notes.problems import Log
from kb.site import PrivateLooking

Place = tuple[int, int]


def placed(
    folder: Path, found: Iterable[PrivateLooking], hidden: Collection[str]
) -> tuple[PrivateLooking, ...]:
    """The same findings with their lines and columns, in the order of files and places.

    Where somebody has changed a file since it was read, so that a text is there no more, its first
    line stands for the place.
    """
    by_file: dict[str, list[PrivateLooking]] = defaultdict(list)
    for one in found:
        by_file[one.file].append(one)
    made = []
    for file, ones in by_file.items():
        places: dict[tuple[str, str], list[Place]] = defaultdict(list)
        for key, text, at in _places(folder, file, {one.text for one in ones}, hidden):
            places[key, text].append(at)
        for one in ones:
            known = places[one.field, one.text]
            line, column = known.pop(0) if known else (1, 1)
            made.append(replace(one, line=line, column=column))
    return tuple(sorted(made, key=lambda one: (one.file, one.line, one.column)))


def _places(
    folder: Path, file: str, texts: set[str], hidden: Collection[str]
) -> Iterator[tuple[str, str, Place]]:
    """Key, text and place of each of these texts in a file of the book."""
    log = Log(file)
    try:
        whole = decode(read_bytes(folder, file), log)
    except OSError:
        return
    if whole is None:
        return
    front, first_line, body, body_line = whole, 1, "", 1
    if file.startswith("families/"):
        front, body = "", whole
    elif file.endswith(".md"):
        note = split(whole, log)
        if note is None:
            return
        front, first_line, body, body_line = note.yaml, note.yaml_line, note.body, note.body_line
    for text in texts:
        for at in _occurrences(body, text):
            line, column = place(body, at)
            yield "text", text, (line + body_line - 1, column)
    root = compose(front, log) if front else None
    if root is None:
        return
    lines = front.split("\n")
    for key, scalar in _scalars(root, "", {"private", *hidden}):
        for text in texts:
            if text in scalar.value:
                for line, column in _in_scalar(lines, scalar, text):
                    yield key, text, (line + first_line, column + 1)


def _scalars(
    node: yaml.Node, key: str, kept_back: set[str]
) -> Iterator[tuple[str, yaml.ScalarNode]]:
    """Every value with the nearest key above it, but none under a key that is not published."""
    if isinstance(node, yaml.ScalarNode):
        yield key, node
    elif isinstance(node, yaml.SequenceNode):
        for item in node.value:
            yield from _scalars(item, key, kept_back)
    elif isinstance(node, yaml.MappingNode):
        for name, item in node.value:
            if name.value not in kept_back:
                yield from _scalars(item, name.value, kept_back)


def _in_scalar(lines: list[str], scalar: yaml.ScalarNode, text: str) -> Iterator[Place]:
    """Places from 0 of a text in a value; where it starts if folding or escapes break the text."""
    start, end = scalar.start_mark, scalar.end_mark
    missed = True
    for number in range(start.line, min(end.line + 1, len(lines))):
        line = lines[number]
        first = start.column if number == start.line else 0
        last = end.column if number == end.line else len(line)
        for at in _occurrences(line[:last], text, first):
            missed = False
            yield number, at
    if missed:
        yield start.line, start.column


def _occurrences(whole: str, text: str, start: int = 0) -> Iterator[int]:
    while (start := whole.find(text, start)) >= 0:
        yield start
        start += len(text)
