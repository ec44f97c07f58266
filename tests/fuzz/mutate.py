"""Spoiling inputs: flips, splices, what YAML and terminals trip over, depth, length.

All chance comes from the `random.Random` that is handed in, so that a seed gives the input again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random

SPECIAL = tuple(
    text.encode("utf-8", "surrogatepass")
    for text in (
        "---", "...", "- ", "? ", ": ", ", ", "[", "]", "{", "}", "&a ", "*a", "!!python/name:os.system ",
        "!!binary |", "!", "|", ">", "|2-", ">+9", "'", '"', "#", " #5", "%YAML 1.1", "@", "`", "<<: ", "~", "null",
        "yes", "no", "0o17", "0417", "12:30", "1_000", ".inf", "-.inf", ".nan", "1e309", "1e308 kV", "-0", "9" * 30,
        "3,3 kΩ", "312 V", "12 min", "2024-02-30", "0000-00-00", "9999-12-31", "١٢", "２０２４-０３-０４", "²",
        "\\e[2J", '"\\0"', '"\\uD800"', '"\\x07"', '"\\N"', "\t", "\r", "\r\n", "\n", "\n\n", "\0", "\x1b[31m",
        "\x7f", "\x85", "\xa0", "\u2028", "\u2029", "\u202e", "\u2066", "\u200b", "\u200f", "\ufeff", "\ufffe",
        "\ud800", "\udfff", "\U0001f3b8", "e\u0301", "ﬁ", "ß", "İ", "ﷺ", "\u0345" * 40, "Ω", "\u2126", "µ", "±",
        "](", "![", "](media/a.png)", "](../../../etc/passwd)", "](javascript:x)", "<script>", "</title>",
        "{{ 7*7 }}", "**", "__", "```", "~~~", "|a|\n|-|", "> ", "# ", "    ", "or", "not", "no", "for a while",
        "<http://a.b>", "&#10;", "&amp;", "%2e%2e/", "%00", "..\\", "C:", "//", "con", "aux.png",
    )
)  # fmt: skip
"""Pieces that have a meaning somewhere, or that break what does not expect them."""

Change = Callable[[Random, bytes, Sequence[bytes]], bytes]


def _at(chance: Random, data: bytes) -> int:
    return chance.randint(0, len(data))


def _slice(chance: Random, data: bytes) -> tuple[int, int]:
    start = _at(chance, data)
    return start, min(len(data), start + int(chance.paretovariate(0.7)))


def _flip(chance: Random, data: bytes, _pieces: Sequence[bytes]) -> bytes:
    if not data:
        return data
    spoilt = bytearray(data)
    for _ in range(chance.randint(1, 4)):
        spoilt[chance.randrange(len(spoilt))] ^= 1 << chance.randrange(8)
    return bytes(spoilt)


def _cut(chance: Random, data: bytes, _pieces: Sequence[bytes]) -> bytes:
    start, end = _slice(chance, data)
    return data[:start] + data[end:]


def _double(chance: Random, data: bytes, _pieces: Sequence[bytes]) -> bytes:
    start, end = _slice(chance, data)
    return data[:end] + data[start:end] + data[end:]


def _insert(chance: Random, data: bytes, _pieces: Sequence[bytes]) -> bytes:
    at = _at(chance, data)
    return data[:at] + chance.choice(SPECIAL) + data[at:]


def _replace(chance: Random, data: bytes, _pieces: Sequence[bytes]) -> bytes:
    start, end = _slice(chance, data)
    return data[:start] + chance.choice(SPECIAL) + data[end:]


def _splice(chance: Random, data: bytes, pieces: Sequence[bytes]) -> bytes:
    start, end = _slice(chance, data)
    return data[:start] + chance.choice(pieces) + data[end:]


def _lines(chance: Random, data: bytes, _pieces: Sequence[bytes]) -> bytes:
    lines = data.split(b"\n")
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    if chance.random() < 0.5:
        lines[one], lines[other] = lines[other], lines[one]
    else:
        lines.insert(one, lines[other])
    return b"\n".join(lines)


def _repeat(chance: Random, data: bytes, pieces: Sequence[bytes]) -> bytes:
    """A piece over and over, mostly a few times, now and then up to the limits."""
    at = _at(chance, data)
    piece = chance.choice(chance.choice((SPECIAL, pieces)))
    longest = chance.choice((8, 40, 200, 200, 1000, 1000, 8000))
    return data[:at] + piece * chance.randint(1, longest // len(piece) + 1) + data[at:]


def _nest(chance: Random, data: bytes, _pieces: Sequence[bytes]) -> bytes:
    at = _at(chance, data)
    opening = chance.choice((b"[", b"{a: ", b"- ", b"? ", b"> ", b"[a](", b"*", b'"'))
    return data[:at] + opening * chance.choice((2, 5, 17, 60, 1100)) + data[at:]


CHANGES: tuple[Change, ...] = (
    _flip, _flip, _cut, _double, _insert, _insert, _replace, _replace, _splice, _splice, _lines,
    _repeat, _nest,
)  # fmt: skip


def mutated(chance: Random, data: bytes, pieces: Sequence[bytes]) -> bytes:
    """The data after one to six changes; `pieces` are what real inputs are made of."""
    for _ in range(min(6, int(chance.paretovariate(1.0)))):
        data = chance.choice(CHANGES)(chance, data, pieces)
    return data


def noise(chance: Random, pieces: Sequence[bytes], most: int = 40) -> bytes:
    """Pieces and random bytes in any order."""
    parts: list[bytes] = []
    for _ in range(chance.randint(0, most)):
        kind = chance.random()
        if kind < 0.35:
            parts.append(chance.choice(SPECIAL))
        elif kind < 0.9:
            parts.append(chance.choice(pieces) + b" ")
        else:
            parts.append(chance.randbytes(chance.randint(1, 6)))
    return b"".join(parts)


def as_text(data: bytes) -> str:
    """Bytes as a shell would hand them over: broken ones become lone surrogates."""
    return data.decode("utf-8", "surrogateescape")
