"""The data of the study page, as classic scripts that a page may load from `file://`.

`list.js` names the faults to study and gives away no end. `told/<n>.js` tells them. `past/<n>.js`
holds every finished fault, the first finished first: the browser counts as many of them as were
finished before the studied one came in. Terms are places in `data/bench.js`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from kb.notes.case import Case, Fault
from kb.notes.vocabulary import NOT_SHOWING
from kb.site import wording
from kb.site.addresses import case_page
from kb.site.bench_data import outcomes_of, places
from kb.site.material import Material
from kb.site.search_data import as_json
from kb.site.source import BenchTables, StudyCase
from kb.values import ASSUMED_WEIGHT, FaultRecord

PAST_PART = 2000
"""faults per file"""
TOLD_PART = 20
"""studied faults per file"""
THEMES = {
    "comes-and-goes": "Comes and goes",
    "several-faults": "Several faults in one visit",
    "earlier-repair": "Made by an earlier repair",
    "likeliest-wrong": "The likeliest was wrong",
}
"""theme -> what its collection is called; a collection is known by its place in here"""
ASSUMED, CAME_AND_WENT, STAYED = 1, 2, 4
"""what is known of a past fault, as bits"""

Row = list[object]


def scripts(material: Material, tables: BenchTables) -> Iterator[tuple[str, str]]:
    """The data files: (path in the site, content)."""
    writer = _Writer(material, tables)
    study = material.study
    cases = [writer.listed(one) for one in study.cases]
    data = {
        "book": material.title,
        "families": [material.names.term("family", key).text for key in writer.families],
        "pastPart": PAST_PART,
        "toldPart": TOLD_PART,
        "cases": cases,
        "past": [],
        "told": [],
    }
    yield "data/study/list.js", f"var studyData = {as_json(data)};\n"
    for part, start in enumerate(range(0, len(study.cases), TOLD_PART)):
        told = [writer.told(one) for one in study.cases[start : start + TOLD_PART]]
        yield f"data/study/told/{part}.js", f"studyData.told[{part}] = {as_json(told)};\n"
    needed = study.past[: _needed(study.cases)]
    for part, start in enumerate(range(0, len(needed), PAST_PART)):
        past = [writer.past(record) for record in needed[start : start + PAST_PART]]
        yield f"data/study/past/{part}.js", f"studyData.past[{part}] = {as_json(past)};\n"


def _needed(cases: Iterable[StudyCase]) -> int:
    """How many past faults any studied one asks for."""
    return max((one.known for one in cases), default=0)


class _Writer:
    def __init__(self, material: Material, tables: BenchTables) -> None:
        self.material = material
        self.vocabulary = words = material.vocabulary
        self.cases = {case.case: case for case in material.ledger.cases}
        self.families = places(words.families)
        self.symptoms = places(words.symptoms)
        self.checks = places(words.checks)
        self.causes = places({c: None for row in tables.counts.faults.values() for c in row})
        self.outcomes = {
            key: {
                outcome: place
                for place, outcome in enumerate(
                    outcomes_of(term, tables.counts.checks.get(key, {}))
                )
            }
            for key, term in words.checks.items()
        }

    def listed(self, one: StudyCase) -> Row:
        """What may be known of a fault before it is studied."""
        case = self.cases[one.case]
        return [
            case.case,
            one.fault + 1 if len(case.faults) > 1 else 0,
            self.families[case.family],
            case.complaint,
            wording.day(case.received),
            [place for place, theme in enumerate(THEMES) if theme in one.themes],
            one.known,
        ]

    def told(self, one: StudyCase) -> Row:
        """The whole story of a fault."""
        case = self.cases[one.case]
        fault = case.faults[one.fault]
        cause = fault.root_cause or ""
        term = self.vocabulary.causes.get(cause)
        return [
            self._about(case),
            *(self._symptoms(keys) for keys in (fault.symptom, fault.seen, fault.absent)),
            _pairs(
                {
                    "Showed itself": wording.words(fault.reproduced or ""),
                    "Comes after": wording.quantity(fault.onset) if fault.onset else "",
                    "Then every": wording.quantity(fault.every) if fault.every else "",
                }
            ),
            [
                [
                    self.checks[made.check],
                    self._outcome(made.check, made.outcome),
                    _kept(made.at),
                    "" if made.minutes is None else wording.minutes(made.minutes),
                    _kept(made.note),
                ]
                for made in fault.checks
            ],
            self.causes[cause],
            self._verdict(case, fault),
            list(term.hazards) if term else [],
            case_page(case.case),
            len(case.faults),
        ]

    def past(self, record: FaultRecord) -> Row:
        """One finished fault, as the tables count it: family, cause, bits, symptoms, checks."""
        symptoms = [key for key in record.symptoms if key in self.symptoms]
        above = {
            broader for key in symptoms for broader in self.vocabulary.symptom_ancestors(key)[1:]
        }
        bits = ASSUMED if record.weight == ASSUMED_WEIGHT else 0
        if record.coming_and_going is not None:
            bits |= CAME_AND_WENT if record.coming_and_going else STAYED
        checks = dict.fromkeys(
            (self.checks[check], self._outcome(check, outcome))
            for check, outcome in record.checks
            if check and outcome
        )
        return [
            self.families[record.family],
            self.causes.get(record.cause, -1),
            bits,
            # What is above another follows from it.
            sorted(self.symptoms[key] for key in symptoms if key not in above),
            [figure for pair in sorted(checks) for figure in pair],
        ]

    def _outcome(self, check: str, outcome: str) -> int:
        """Its place; -1 where the fault was not showing, or nobody knows what it means."""
        return -1 if outcome == NOT_SHOWING else self.outcomes[check].get(outcome, -1)

    def _symptoms(self, keys: Iterable[str]) -> list[int]:
        return [self.symptoms[key] for key in keys if key in self.symptoms]

    def _about(self, case: Case) -> Row:
        return _pairs(
            {
                "Built": case.built or "",
                "Modified": ", ".join(map(wording.words, case.modified)),
            }
        )

    def _verdict(self, case: Case, fault: Fault) -> Row:
        cause = self.vocabulary.causes.get(fault.root_cause or "")
        links = self.material.links("cause", fault.took_with_it)
        parts = [
            f"{part.part}, batch {part.batch}" if part.batch else part.part for part in fault.parts
        ]
        cover = self.vocabulary.cover_of(cause.key, case.family) if cause else None
        return _pairs(
            {
                "Where": fault.at or "",
                "Confirmed by": wording.words(fault.confirmed_by or ""),
                "Brought on by": wording.words(fault.brought_on_by or ""),
                "Took with it": "; ".join(link.text for link in links),
                "Fix": ", ".join(map(wording.words, fault.fix)),
                "Parts": "; ".join(parts),
                "Hands on": "" if fault.minutes is None else wording.minutes(fault.minutes),
                "To reach it": cover or "",
                "How it is proved": (cause.confirm or "") if cause else "",
            }
        )


def _pairs(told: Mapping[str, str]) -> Row:
    """label, words, … of what was noted."""
    return [part for label, text in told.items() if text for part in (label, _kept(text))]


def _kept(text: str | None) -> str:
    return wording.kept_together(text or "")
