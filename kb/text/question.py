"""The language of questions: words, and "words in quotes" that must stand together.

Nothing else has a meaning: no operators, wildcards, fields or brackets. A quote that is never
closed is no quote.
"""

from __future__ import annotations

import re

from msgspec import Struct

from kb.text.errors import QuestionError
from kb.text.lists import STOP_WORDS
from kb.text.words import Token, plain_tokens, stem, tokens

MAX_CHARACTERS = 2_000
MAX_WORDS = 64

_QUOTES = str.maketrans("“”„‟«»＂", '"' * 7)
_QUOTED = re.compile(r'"([^"]*)"')


class Question(Struct, frozen=True):
    """What was asked, as folded words, not yet stemmed; each word and phrase once.

    A past case is found if it has any of the `words` and all of the `phrases`. Joined words stand
    in `words` whole and in parts (`high-esr`, `high`, `esr`); stop words stand in phrases only.
    """

    words: tuple[str, ...] = ()
    phrases: tuple[tuple[str, ...], ...] = ()

    @property
    def word_stems(self) -> tuple[str, ...]:
        """The stems of `words`, each once, in order."""
        return tuple(dict.fromkeys(stem(word) for word in self.words))

    @property
    def phrase_stems(self) -> tuple[tuple[str, ...], ...]:
        """The phrases as stems, each once, in order."""
        return tuple(dict.fromkeys(tuple(map(stem, phrase)) for phrase in self.phrases))


def parse(text: str) -> Question:
    """Read a question.

    Raises `QuestionError` if there is nothing to search for, or more than 2,000 characters or 64
    words.
    """
    if len(text) > MAX_CHARACTERS:
        raise QuestionError("too-long", text, "characters", len(text), MAX_CHARACTERS)
    straight = text.translate(_QUOTES)
    quoted = [phrase for phrase in _phrases(straight) if phrase]
    loose = tokens(_QUOTED.sub(" , ", straight))
    count = sum(map(len, quoted)) + sum(not token.compound for token in loose)
    if count > MAX_WORDS:
        raise QuestionError("too-long", text, "words", count, MAX_WORDS)
    if not count:
        raise QuestionError("empty", text)
    words = tuple(dict.fromkeys(_searched(loose)))
    if not words and not quoted:
        raise QuestionError("only-common-words", text)
    return Question(words, tuple(dict.fromkeys(quoted)))


def _phrases(text: str) -> list[tuple[str, ...]]:
    return [tuple(t.text for t in plain_tokens(match[1])) for match in _QUOTED.finditer(text)]


def _searched(loose: list[Token]) -> list[str]:
    """What to look up: no stop words, and no bare piece of a number or a part number.

    Someone who asks for case `2024-0117` does not want every case of 2024, nor every `100` or
    every `Hz` with `100 Hz`.
    """
    found: list[str] = []
    inside, quantity = 0, False
    for token in loose:
        if token.compound:
            inside, quantity = token.end, "-" not in token.text and token.text[0].isdigit()
        elif token.start < inside and (quantity or token.text.isdigit()):
            continue
        if token.text not in STOP_WORDS:
            found.append(token.text)
    return found
