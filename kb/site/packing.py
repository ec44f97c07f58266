"""Whole numbers as text that any script may hold, and lists of words cut into files.

A number is written in digits of 32 with the lowest in front; every digit but the last of a number
stands 32 higher in the alphabet, so that no space is needed between two numbers.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_"
_LETTERS = np.frombuffer(ALPHABET.encode("ascii"), dtype=np.uint8)
_BITS, _MORE = 5, 32

Numbers = NDArray[np.int64]


def packed(numbers: Numbers | Sequence[int]) -> str:
    """Numbers from 0 to 2³⁰ as one text."""
    return packed_each(np.asarray(numbers, dtype=np.int64), np.array([0, len(numbers)]))[0]


def packed_each(numbers: Numbers, starts: Numbers) -> list[str]:
    """The same for each stretch from one of `starts` to the next."""
    sizes = np.ones(len(numbers), dtype=np.int64)
    for digits in range(1, 6):
        sizes += numbers >> (_BITS * digits) > 0
    ends = np.cumsum(sizes)
    text = np.empty(int(ends[-1]) if len(ends) else 0, dtype=np.uint8)
    begins = ends - sizes
    for digit in range(int(sizes.max(initial=0))):
        having = sizes > digit
        value = (numbers[having] >> (_BITS * digit)) & (_MORE - 1)
        value += _MORE * (sizes[having] > digit + 1)
        text[begins[having] + digit] = _LETTERS[value]
    letters = text.tobytes().decode("ascii")
    at = np.concatenate(([0], ends))[starts].tolist()
    return [letters[start:end] for start, end in pairwise(at)]


def cut(words: Sequence[str], sizes: Sequence[int], most: int) -> Iterator[tuple[int, int]]:
    """Where to cut a list of words into files of about `most` letters: (first, end), ….

    Where one begins follows from its first word where that can be, so that a change in one leaves
    the others as they are.
    """
    first = filled = 0
    for place, word in enumerate(words):
        full = filled >= most
        if full or (2 * filled >= most and zlib.crc32(word.encode()) % 32 == 0):
            yield first, place
            first, filled = place, 0
        filled += sizes[place] + len(word)
    if first < len(words):
        yield first, len(words)
