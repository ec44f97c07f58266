"""Which symptoms of the vocabulary a sentence names.

A name is recognised where all its words that carry meaning stand close together, in any order and
any inflection. The name with most words wins and uses them up, so that "crackles when warm" is
not "crackle" as well. What is said not to be there is `denied`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from kb.text.lists import STOP_WORDS
from kb.text.polarity import Word, read

_SLACK = {1: 0, 2: 3}
_SLACK_LONGER = 2
"""How many other words may stand among those of a name of one, two and more words."""

_OR = re.compile(r"(\S+)\s+or\s+(?:the\s+|an?\s+)?(\S+)")


class Recognised(Struct, frozen=True):
    """Keys that a text names, in the order it does, and keys that it denies.

    `rest` are the stems of the other words, stop words left out, each once.
    """

    keys: tuple[str, ...]
    rest: tuple[str, ...]
    denied: tuple[str, ...] = ()


class _Name(Struct, frozen=True):
    """One way to say a symptom: its stems, each with whether the name itself negates it."""

    key: str
    stems: Mapping[str, bool]
    order: int


class _Place(Struct, frozen=True):
    """Where a name was found: the numbers of its words in the text."""

    name: _Name
    words: tuple[int, ...]
    denied: bool

    @property
    def rank(self) -> tuple[bool, int, int, int, int]:
        """What is taken first: what is there, then most words, closest, earliest, first named."""
        span = self.words[-1] - self.words[0]
        return self.denied, -len(self.words), span, self.words[0], self.name.order


class Recogniser:
    """The names of a vocabulary, made ready once to read many texts.

    `names` maps a key to its label and synonyms. Of two words with `or` between them either will
    do.
    """

    def __init__(self, names: Mapping[str, Sequence[str]]) -> None:
        ways = [(key, way) for key, texts in names.items() for text in texts for way in _ways(text)]
        self._names = [
            _Name(key, stems, order)
            for order, (key, way) in enumerate(ways)
            if (stems := {word.stem: word.negated for word in read(way)})
        ]

    def __call__(self, text: str) -> Recognised:
        """Read a text."""
        words = read(text)
        here = {word.stem for word in words}
        names = [name for name in self._names if name.stems.keys() <= here]
        free = set(range(len(words)))
        found: dict[str, int] = {}
        denied: dict[str, int] = {}
        # All that still fit are taken in one pass: one at a time would read a long text over and
        # over. What a pass has used up may leave room for others, so there are as many as it takes.
        while places := [p for name in names for p in _places(name, words, free)]:
            for best in sorted(places, key=lambda place: place.rank):
                if free.issuperset(best.words):
                    (denied if best.denied else found).setdefault(best.name.key, best.words[0])
                    free -= set(best.words)
        rest = (words[i].stem for i in sorted(free) if words[i].text not in STOP_WORDS)
        return Recognised(
            keys=tuple(sorted(found, key=found.__getitem__)),
            rest=tuple(dict.fromkeys(rest)),
            denied=tuple(sorted(denied.keys() - found.keys(), key=lambda k: (denied[k], k))),
        )


def recognise(text: str, names: Mapping[str, Sequence[str]]) -> Recognised:
    """Read one text; see `Recogniser` for many."""
    return Recogniser(names)(text)


def _ways(name: str) -> Iterator[str]:
    yield name
    either = _OR.search(name)
    if either is None:
        return
    before, after = name[: either.start()], name[either.end() :]
    yield before + either[1] + after
    yield before + either[2] + after


def _places(name: _Name, words: Sequence[Word], free: set[int]) -> Iterator[_Place]:
    """Every closest place of a name among the words that are still free."""
    size = len(name.stems)
    longest = size + _SLACK.get(size, _SLACK_LONGER)
    for first in sorted(free):
        taken: dict[str, int] = {}
        for i in range(first, min(first + longest, len(words))):
            word = words[i]
            negated = name.stems.get(word.stem)
            if negated is None or i not in free or word.clause != words[first].clause:
                continue
            if word.negated >= negated:
                taken.setdefault(word.stem, i)
        if first in taken.values() and len(taken) == size:
            found = tuple(sorted(taken.values()))
            denied = any(words[i].negated > name.stems[words[i].stem] for i in found)
            yield _Place(name, found, denied)
