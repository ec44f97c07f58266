"""Which symptoms of the vocabulary a sentence names.

A name is recognised where all its words that carry meaning stand close together, in any order and
any inflection. The name with most words wins and uses them up, so that "crackles when warm" is
not "crackle" as well. What is said not to be there is `denied`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Self

from msgspec import Struct

from kb.text.lists import STOP_WORDS
from kb.text.polarity import Word, read

_SLACK = {1: 0, 2: 3}
_SLACK_LONGER = 2
"""How many other words may stand among those of a name of one, two and more words."""

LONGEST_READ = 4_000
"""Characters of a text that are looked at: an owner's words are far shorter, and a text and a
vocabulary made for it could keep the program busy for long."""

MOST_WORDS = 12
"""A name of more words than this is nothing that anybody says."""

_OR = re.compile(r"(?<!\S)(\S++)\s++or\s++(?:the\s++|an?\s++)?(\S++)")


class Recognised(Struct, frozen=True):
    """Keys that a text names, in the order it does, and keys that it denies.

    `rest` are the stems of the other words, stop words left out, each once.
    """

    keys: tuple[str, ...]
    rest: tuple[str, ...]
    denied: tuple[str, ...] = ()


class Name(Struct, frozen=True):
    """One way to say a symptom: its stems, each with whether the name itself negates it."""

    key: str
    stems: Mapping[str, bool]
    order: int


class _Place(Struct, frozen=True):
    """Where a name was found: the numbers of its words in the text."""

    name: Name
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
        self._take(self.prepare(names))

    @classmethod
    def of(cls, prepared: Sequence[Name]) -> Self:
        """The recogniser of names that `prepare` made ready."""
        made = cls({})
        made._take(prepared)
        return made

    @staticmethod
    def prepare(names: Mapping[str, Sequence[str]]) -> tuple[Name, ...]:
        """Make names ready, which is most of the work."""
        ways = [(key, way) for key, texts in names.items() for text in texts for way in _ways(text)]
        different: dict[frozenset[tuple[str, bool]], Name] = {}
        for order, (key, way) in enumerate(ways):
            stems = {word.stem: word.negated for word in read(way)}
            if 0 < len(stems) <= MOST_WORDS:  # of names said alike the first is always taken
                different.setdefault(frozenset(stems.items()), Name(key, stems, order))
        return tuple(different.values())

    def _take(self, names: Sequence[Name]) -> None:
        spread = Counter(its_stem for name in names for its_stem in name.stems)
        self._names: dict[str, list[Name]] = {}
        for name in names:  # each under its rarest word: few texts have that
            rarest = min(name.stems, key=lambda its_stem: (spread[its_stem], its_stem))
            self._names.setdefault(rarest, []).append(name)

    @property
    def names(self) -> tuple[Name, ...]:
        """The names as they were prepared, in their order."""
        return tuple(sorted((n for each in self._names.values() for n in each), key=_order))

    def __call__(self, text: str) -> Recognised:
        """Read a text."""
        words = read(text[:LONGEST_READ])
        names: dict[str, list[Name]] = {word.stem: [] for word in words}
        for word in names.keys() & self._names.keys():
            for name in self._names[word]:
                if name.stems.keys() <= names.keys():
                    for its_stem in name.stems:
                        names[its_stem].append(name)
        free = set(range(len(words)))
        found: dict[str, int] = {}
        denied: dict[str, int] = {}
        # All that still fit are taken in one pass: one at a time would read a long text over and
        # over. What a pass has used up may leave room for others, so there are as many as it takes.
        while places := list(_places(names, words, free)):
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


def _order(name: Name) -> int:
    return name.order


def _ways(name: str) -> Iterator[str]:
    yield name
    either = _OR.search(name)
    if either is None:
        return
    before, after = name[: either.start()], name[either.end() :]
    yield before + either[1] + after
    yield before + either[2] + after


def _places(
    names: Mapping[str, Sequence[Name]], words: Sequence[Word], free: set[int]
) -> Iterator[_Place]:
    """Every closest place of a name among the words that are still free.

    `names` are those that have a stem, so that a word is only held against names it begins.
    """
    for first in sorted(free):
        for name in names[words[first].stem]:
            found = _place(name, first, words, free)
            if found:
                denied = any(words[i].negated > name.stems[words[i].stem] for i in found)
                yield _Place(name, found, denied)


def _place(name: Name, first: int, words: Sequence[Word], free: set[int]) -> tuple[int, ...] | None:
    """The words of a name from the word `first` on, or None if they do not stand close to it."""
    size = len(name.stems)
    others = _SLACK.get(size, _SLACK_LONGER)
    clause = words[first].clause
    taken: dict[str, int] = {}
    for i in range(first, len(words)):
        word = words[i]
        negated = name.stems.get(word.stem)
        fits = negated is not None and i in free and word.clause == clause
        if fits and word.stem not in taken and word.negated >= bool(negated):
            taken[word.stem] = i
            if len(taken) == size:
                break
        elif others == 0 or not taken:
            return None
        else:
            others -= 1
    return tuple(taken.values()) if len(taken) == size else None
