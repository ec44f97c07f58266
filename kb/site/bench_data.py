"""The tables of the bench page, as a classic script that a page may load from `file://`.

Terms are arrays and refer to each other by place, in the order of their keys: the order in which
the program counts them. No word of a book can be mistaken for a property name.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from kb import cautions
from kb.notes.vocabulary import ACCESS, HAZARDS, NOT_SHOWING, STATES, CheckTerm, Vocabulary
from kb.site import wording
from kb.site.bench_packing import first_and_later
from kb.site.material import Material
from kb.site.names import Link
from kb.site.search_data import as_json
from kb.site.source import BenchTables

FILE, LATER = "data/bench.js", "data/bench-later.js"
CASES = 6
"""past cases named under a cause; its page has them all"""
DONE = "made"
"""what a check of which nobody said how it can come out came out as"""

Row = list[object]
Pairs = list[float]
"""place, amount, place, amount, …"""


def scripts(material: Material, tables: BenchTables) -> Iterator[tuple[str, str]]:
    """The data files: (path in the site, content)."""
    first, later = first_and_later(tables_of(material, tables))
    yield FILE, f"var benchTables = {as_json(first)};\n"
    yield LATER, f"var benchLater = {as_json(later)};\n"


def tables_of(material: Material, tables: BenchTables) -> dict[str, Any]:
    """Everything that the page reads, by name, as it is before it is packed."""
    return _Writer(material, tables).tables()


def topics(vocabulary: Vocabulary, family: str | None, access: str) -> list[str]:
    """The topics to read before work of this access on a family, by name."""
    items = vocabulary.items_of(family) if family else frozenset()
    told = cautions.topics_for(access, items, inside(vocabulary, family))
    return [key for key, texts in cautions.TOPICS.items() if set(texts).issubset(told)]


def inside(vocabulary: Vocabulary, family: str | None) -> tuple[str, ...]:
    """The hazards behind the cover; where none was noted, or no family is known, the worst."""
    return (vocabulary.hazards_of(family) if family else ()) or cautions.WORST


def places(keys: Iterable[str]) -> dict[str, int]:
    """The place of each key in the tables."""
    return {key: place for place, key in enumerate(sorted(keys))}


def outcomes_of(term: CheckTerm, seen: Iterable[str]) -> list[str]:
    """What a check can come out as, in the order of the tables; `seen` is what it came out as."""
    possible = [*term.outcomes, *(o for o in sorted(seen) if o not in term.outcomes)]
    return possible if term.outcomes else [*possible, DONE]


class _Writer:
    def __init__(self, material: Material, tables: BenchTables) -> None:
        self.material = material
        self.vocabulary = words = material.vocabulary
        self.counts = tables.counts
        self.tables_of_ranking = tables
        self.families = places(words.families)
        self.symptoms = places(words.symptoms)
        self.checks = places(words.checks)
        self.causes = places({c: None for row in self.counts.faults.values() for c in row})
        self.kinds = places({k: None for f in words.families if (k := words.kind_of(f))})

    def tables(self) -> dict[str, Any]:
        """Everything, by name."""
        words, told = self.vocabulary, self.tables_of_ranking
        told_of = self.material.cautions.hazards
        return {
            "figures": told.figures,
            "levels": told.levels,
            "kinds": [
                [
                    wording.words(kind),
                    self._made_on(f for f in words.families if words.kind_of(f) == kind),
                ]
                for kind in self.kinds
            ],
            "families": [self._family(key) for key in self.families],
            "symptoms": [self._symptom(key) for key in self.symptoms],
            "causes": [self._cause(key) for key in self.causes],
            "checks": [self._check(words.checks[key]) for key in self.checks],
            "ordered": [self.symptoms[key] for key in words.symptoms],
            "hazards": [
                [caution.key, caution.hazard, wording.kept_together(caution.text)]
                for caution in self.material.hazard_cautions((*HAZARDS, *told_of))
            ],
            "topics": [
                [key, wording.sentence(wording.words(key)), list(map(wording.kept_together, texts))]
                for key, texts in self.material.cautions.topics.items()
            ],
            "unknown": [
                list(inside(words, None)),
                [topics(words, None, access) for access in ACCESS],
            ],
            "access": [wording.ACCESS[access] for access in ACCESS],
            "accessKeys": list(ACCESS),
            "notShowing": [NOT_SHOWING, wording.sentence(wording.words(NOT_SHOWING))],
            "basis": self._basis(),
        }

    def _family(self, key: str) -> Row:
        words = self.vocabulary
        chain = words.family_chain(key)
        kind = words.kind_of(key)
        own = [
            (self.checks[check], ACCESS.index(access))
            for check in self.checks
            if (access := words.access_needed(check, key)) != words.checks[check].access
        ]
        is_line = bool(self.material.names.narrower("family", key))
        return [
            key,
            *_linked(self.material.names.term("family", key)),
            [self.families[line.key] for line in chain[1:]],
            self.kinds[kind] if kind else -1,
            _pairs(self.counts.faults.get(key, {}), self.causes),
            [figure for pair in own for figure in pair],
            [] if kind else self._made_on([key]),
            list(inside(words, key)),
            [topics(words, key, access) for access in ACCESS],
            int(not is_line or key in self.counts.faults),
        ]

    def _symptom(self, key: str) -> Row:
        term, told = self.vocabulary.symptoms[key], self.tables_of_ranking
        parent = self.symptoms.get(term.parent, -1) if term.parent else -1
        return [
            key,
            *_linked(self.material.names.term("symptom", key)),
            list(term.also),
            parent,
            [self.checks[check] for check in term.first if check in self.checks],
            _pairs(self.counts.symptoms.get(key, {}), self.causes),
            *self._weight(f"symptom:{key}"),
            *self._weight(f"absent:{key}"),
            *told.coming.get(key, (0, 0)),
        ]

    def _cause(self, key: str) -> Row:
        numbers = self.counts.cases.get(key, ())
        links = [self.material.names.case(number) for number in numbers[:CASES]]
        return [
            key,
            *_linked(self.material.names.term("cause", key)),
            len(numbers),
            [part for link in links for part in (link.text, link.page or "")],
        ]

    def _check(self, term: CheckTerm) -> Row:
        seen = self.counts.checks.get(term.key, {})
        return [
            term.key,
            *_linked(self.material.names.term("check", term.key)),
            list(term.also),
            ACCESS.index(term.access),
            self.tables_of_ranking.minutes.get(term.key, 0),
            term.wait or 0,
            [
                [
                    outcome,
                    wording.sentence(wording.words(outcome)),
                    _pairs(seen.get(outcome, {}), self.causes),
                    int(not term.clears or outcome in term.clears),
                ]
                for outcome in outcomes_of(term, seen)
            ],
            list(term.hazards),
            self.material.prose.plain(term.how) if term.how else "",
            int(term.owner_ok),
            int(term.disturbs),
            int(any(need in STATES for need in term.needs)),
            [self.checks[need] for need in term.needs if need in self.checks],
            *self._weight(f"check:{term.key}"),
        ]

    def _weight(self, finding: str) -> tuple[float, float]:
        told = self.tables_of_ranking
        return told.weights.get(finding, 0), told.spreads.get(finding, 0)

    def _made_on(self, families: Iterable[str]) -> list[int]:
        made = self.tables_of_ranking.made
        keys = {check for family in families for check in made.get(family, ())}
        return sorted(self.checks[key] for key in keys if key in self.checks)

    def _basis(self) -> str:
        """What the figures rest on, in a sentence."""
        faults = round(self.tables_of_ranking.figures.get("faults", 0))
        if not faults:
            return "No finished fault with a known root cause yet: there is nothing to go by."
        newest = self.material.newest_day
        until = f", notes up to {wording.day(newest)}" if newest else ""
        return f"From {wording.counted(faults, 'fault')} with a known cause{until}."


def _linked(link: Link) -> tuple[str, str]:
    return link.text, link.page or ""


def _pairs(row: Mapping[str, float], places: Mapping[str, int]) -> Pairs:
    pairs = sorted((places[key], amount) for key, amount in row.items() if key in places)
    return [figure for place, amount in pairs for figure in (place, _short(amount))]


def _short(amount: float) -> float:
    return int(amount) if amount == int(amount) else amount
