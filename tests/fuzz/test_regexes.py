"""Every pattern of the program reads any text in time that grows with its length."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
import time
from collections.abc import Iterator

import pytest
from fuzz.engine import Hang, broken_off

import kb

LENGTH = 3_000
LONGEST_TIME = 0.03
"""Seconds of computing for a text of `LENGTH`. A pattern whose time grows with the square of the
length needs many times as long, one that reads each letter once a hundredth."""

SHORT = {
    "kb.notes.units._SHAPE": (60, "read_quantity takes no longer text"),
    "kb.notes.nodes:\\s+#\\S": (1, "matched at one place only, behind a value"),
}
"""Patterns that are slow on long texts but never see one: the longest they see, and why."""

SEARCHED, WHOLE = "searched", "whole"
USED = {
    "kb.text.words._WITH_UNIT": WHOLE,
    "kb.text.polarity._LIST": WHOLE,
    "kb.text.words._WORD": SEARCHED,
    "kb.text.words._JOINED": SEARCHED,
    "kb.text.analysis.PIECE": SEARCHED,
    "kb.text.snippets.PIECE": SEARCHED,
}
"""Patterns that are used in one way only; all others are tried in both."""

UNITS = (
    "a", "1", "-", "=", "#", " ", "\t", "\n", " \n", ".", ",", ", ", "a, ", "1.", "[", "](", "[a](", "![",
    "`", "``` ", "<", "*", '"', "'", "a'", "a-", "or ", "a or ", "after ", "for ", "1 ", "a while ", "– ", "±",
    "Ω", "1 V", "e\u0301", "\u0301", "x/x", ":", "/", "(",
)  # fmt: skip
ENDS = ("!", "\nx")


def patterns() -> Iterator[tuple[str, re.Pattern[str]]]:
    """The compiled patterns of every module, and those written out in calls of `re`."""
    calls = re.compile(
        r"re\.(?:match|search|sub|split|findall|fullmatch|finditer)\(\s*r?\"((?:[^\"\\]|\\.)+)\""
    )
    for info in pkgutil.walk_packages(kb.__path__, "kb."):
        if info.name == "kb.door":  # it puts another module in its own place
            continue
        module = importlib.import_module(info.name)
        for name, value in vars(module).items():
            if isinstance(value, re.Pattern) and isinstance(value.pattern, str):
                yield f"{info.name}.{name}", value
        for written in calls.findall(inspect.getsource(module)):
            yield f"{info.name}:{written}", re.compile(written)


ALL = dict(patterns())


def test_the_patterns_are_found() -> None:
    assert len(ALL) > 30
    assert {"kb.notes.links._REFERENCE", "kb.text.polarity._TIME", *SHORT, *USED} <= ALL.keys()


def _time(pattern: re.Pattern[str], text: str, used: str) -> float:
    began = time.process_time()
    if used != SEARCHED:
        pattern.match(text)
        pattern.fullmatch(text)
    if used != WHOLE:
        for _ in pattern.finditer(text):
            pass
    return time.process_time() - began


def too_long(pattern: re.Pattern[str], length: int, used: str = "") -> Iterator[str]:
    """The shapes of text for which a pattern takes too long."""
    for unit in UNITS:
        for start in ("", "a", "after "):
            for end in ENDS:
                text = (start + unit * (length // len(unit)))[:length] + end
                try:
                    with broken_off(1.0):
                        took = _time(pattern, text, used)
                        if took > LONGEST_TIME:  # once more: the machine may have been busy
                            took = min(took, _time(pattern, text, used))
                except Hang:
                    yield f"{start!r} + {unit!r} * n + {end!r}: broken off"
                    return
                if took > LONGEST_TIME:
                    yield f"{start!r} + {unit!r} * n + {end!r}: {took:.2f} s"
                    return


@pytest.mark.skipif(not hasattr(__import__("signal"), "setitimer"), reason="needs a timer")
@pytest.mark.parametrize("name", ALL)
def test_no_text_makes_a_pattern_slow(name: str) -> None:
    length, _ = SHORT.get(name, (LENGTH, ""))
    assert not list(too_long(ALL[name], length, USED.get(name, "")))


def test_a_slow_pattern_would_be_noticed() -> None:
    # Ten times the length, a hundred times the time: beyond the limit on the quickest machine too.
    assert list(too_long(re.compile(r"\[[^\]\n]*\]\("), 10 * LENGTH))
    assert list(too_long(re.compile(r"(a+)+b"), 40))
