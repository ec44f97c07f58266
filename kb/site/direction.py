"""Texts that run from right to left, or turn the direction of writing, kept to themselves.

Unicode Standard Annex 9 (UAX 9): a text between FIRST STRONG ISOLATE and POP DIRECTIONAL ISOLATE
does not move what stands beside it (2.4.2), provided that what it opens itself is closed again.
"""

from __future__ import annotations

import re

_CONTROLS = "\u202a-\u202e\u2066-\u2069"
# The blocks of the scripts written from right to left, and the marks that turn the direction.
_TURNS = re.compile(
    rf"[{_CONTROLS}\u200f\u061c\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefe\U00010800-\U00010fff"
    "\U0001e800-\U0001efff]"
)
_CONTROL = re.compile(f"[{_CONTROLS}]")
_FIRST_STRONG, _POP_ISOLATE, _POP = "\u2068", "\u2069", "\u202c"
_CLOSED_BY = {
    **dict.fromkeys("\u2066\u2067\u2068", _POP_ISOLATE),
    **dict.fromkeys("\u202a\u202b\u202d\u202e", _POP),
}


def isolated(text: str) -> str:
    """The text as it is; where it may turn what stands beside it, closed off on both sides."""
    if text.isascii() or not _TURNS.search(text):
        return text
    lines = text.split("\n")  # a paragraph of its own for the algorithm: an isolate ends with it
    return "\n".join(f"{_FIRST_STRONG}{_balanced(line)}{_POP_ISOLATE}" for line in lines)


def _balanced(text: str) -> str:
    """The text with every turn closed and nothing closed that it has not opened."""
    opened: list[str] = []

    def kept(match: re.Match[str]) -> str:
        mark = match.group()
        if mark in _CLOSED_BY:
            opened.append(_CLOSED_BY[mark])
        elif opened and opened[-1] == mark:
            opened.pop()
        else:
            return ""
        return mark

    return _CONTROL.sub(kept, text) + "".join(reversed(opened))
