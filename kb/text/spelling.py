"""A better spelling of a question, from the whole words that the book itself uses.

Nearness is the optimal string alignment distance (Damerau, *A technique for computer detection and
correction of spelling errors*, 1964; restricted so that no piece is edited twice): the fewest
insertions, deletions, substitutions and swaps of neighbours. Words of 3 to 5 letters may be one
off, longer ones two. Words with digits are part types, values and case numbers: never corrected.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from kb.text.lists import STOP_WORDS
from kb.text.words import plain_tokens, stem

MOST = 16
"""So many unknown words of a question are looked for: with more it is no slip of the fingers."""
SHORTEST, LONG = 3, 6
"""A word shorter than the first is left alone, one as long as the second may be two off."""


def suggest(question_text: str, words: Mapping[str, int]) -> str | None:
    """The question with each unknown word replaced by the nearest known one, or None.

    `words` maps the book's words to the number of documents that have each. Everything else of
    the question stays as it was typed, quotes included. Of equally near words the one in more
    documents is taken, then the first in the alphabet.
    """
    pieces: list[str] = []
    at = 0
    sought = 0
    for token in plain_tokens(question_text):
        if sought == MOST:
            break
        if _is_known(token.text, words):
            continue
        sought += 1
        better = _nearest(token.text, words)
        if better:
            pieces += [question_text[at : token.start], better]
            at = token.end
    if not pieces:
        return None
    return "".join(pieces) + question_text[at:]


def distance(first: str, second: str, most: int) -> int:
    """The optimal string alignment distance, or `most` + 1 if it is larger than `most`."""
    if abs(len(first) - len(second)) > most:
        return most + 1
    before: list[int] = []
    previous = list(range(len(second) + 1))
    for row, letter in enumerate(first, start=1):
        current = [row]
        for column, other in enumerate(second, start=1):
            cost = previous[column - 1] + (letter != other)
            cost = min(cost, previous[column] + 1, current[column - 1] + 1)
            if row > 1 and column > 1 and letter == second[column - 2] and first[row - 2] == other:
                cost = min(cost, before[column - 2] + 1)
            current.append(cost)
        if min(current) > most and min(previous) > most:
            return most + 1
        before, previous = previous, current
    return min(previous[-1], most + 1)


def _is_known(word: str, words: Mapping[str, int]) -> bool:
    """Whether a search for the word could find something, or the word is not ours to correct."""
    if len(word) < SHORTEST or word in words or word in STOP_WORDS:
        return True
    if any(letter.isdigit() for letter in word):
        return True
    start, its_stem = word[:2], stem(word)
    return any(other.startswith(start) and stem(other) == its_stem for other in words)


def _nearest(word: str, words: Mapping[str, int]) -> str | None:
    most = 2 if len(word) >= LONG else 1
    best: tuple[int, int, str] | None = None
    for other in _candidates(word, words, most):
        apart = distance(word, other, most)
        if apart <= most:
            found = (apart, -words[other], other)
            best = min(best, found) if best else found
            most = min(most, apart)
    return best[2] if best else None


def _candidates(word: str, words: Mapping[str, int], most: int) -> Iterator[str]:
    """Words that may be near: a quick look at length and letters spares most comparisons.

    An insertion or deletion changes the set of letters by one, a substitution by two.
    """
    unlike = set(word).symmetric_difference
    least, longest = max(len(word) - most, SHORTEST), len(word) + most
    for other in words:
        if least <= len(other) <= longest and len(unlike(other)) <= 2 * most and other.isalpha():
            yield other
