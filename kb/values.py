"""The values that pass between the layers: counts in, answers out.

The terminal, the JSON and the site all show these same structures, so a number is computed once.
Probabilities are 0 to 1, log odds are natural, times are minutes, dates ISO 8601. Field names of
the answers are the keys of the JSON contract (`docs/json.md`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from msgspec import Struct

Interval = tuple[float, float]

ASSUMED_WEIGHT = 0.5
"""How much a fault counts whose root cause was never confirmed: judgement, no source."""

# ---------------------------------------------------------------- what the statistics read


class Counts(Struct, frozen=True):
    """What the book has seen, as counts over finished faults with a known root cause.

    A fault that was noted with a symptom counts for every ancestor of that symptom too.
    `not-showing` outcomes are not in here: they are no evidence.
    """

    faults: Mapping[str, Mapping[str, float]] = {}
    """family -> cause -> faults"""
    symptoms: Mapping[str, Mapping[str, float]] = {}
    """symptom -> cause -> faults noted with it"""
    checks: Mapping[str, Mapping[str, Mapping[str, float]]] = {}
    """check -> outcome -> cause -> faults in which the check came out so"""
    words: Mapping[str, Mapping[str, float]] = {}
    """word stem of the complaint -> cause -> faults"""
    cases: Mapping[str, tuple[str, ...]] = {}
    """cause -> case numbers, newest first"""


class FaultRecord(Struct, frozen=True):
    """One finished fault as the counts hold it, so that it can be taken out of them again.

    `symptoms` are closed: with each stands everything that it is a kind of. `checks` are in the
    order they were made, of each the last telling outcome; the first `at_intake` of them were
    known when the unit came in. `weight` is what the fault adds to every count: 1, or
    `ASSUMED_WEIGHT` where its cause was assumed only.
    """

    case: str
    family: str
    cause: str
    symptoms: frozenset[str] = frozenset()
    checks: tuple[tuple[str, str], ...] = ()
    words: frozenset[str] = frozenset()
    absent: frozenset[str] = frozenset()
    """symptoms looked for and not there, as they were noted (not closed)"""
    at_intake: int = 0
    weight: float = 1.0


class CheckOption(Struct, frozen=True):
    """A check that could be made on this unit. `minutes` hands on, `wait` unattended."""

    check: str
    label: str
    access: str
    minutes: float
    wait: float = 0.0
    outcomes: tuple[str, ...] = ()
    clears: tuple[str, ...] = ()
    """outcomes after which power may be applied again; empty where making it is enough"""
    hazards: tuple[str, ...] = ()
    how: str = ""
    owner_ok: bool = False
    disturbs: bool = False
    needs: tuple[str, ...] = ()


class Evidence(Struct, frozen=True):
    """What is known of the unit in question, already in the book's terms.

    `checks` are (check, outcome) pairs in the order they were made. `words` are stems of the
    complaint that no recognised symptom accounts for.
    """

    family: str | None = None
    symptoms: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    checks: tuple[tuple[str, str], ...] = ()
    words: tuple[str, ...] = ()


class FamilyVisits(Struct, frozen=True):
    """One family's visits for the weak points.

    `found` is cause -> year -> number of visits in which it was a root cause; `visits` is
    year -> finished visits; `comebacks` is cause -> visits whose repair came back. A visit counts
    in the same year for both. `brought_on` is cause -> what brought it on -> visits, as far as it
    was noted; a visit counts once, and if several things are noted, under one that is no mishap.
    """

    family: str
    label: str
    kind: str | None
    has: frozenset[str]
    visits: Mapping[int, int]
    found: Mapping[str, Mapping[int, int]]
    comebacks: Mapping[str, int] = {}
    brought_on: Mapping[str, Mapping[str, int]] = {}

    @property
    def total(self) -> int:
        """All finished visits."""
        return sum(self.visits.values())


# ---------------------------------------------------------------- answers


class Hit(Struct, frozen=True):
    """A past case that a search found. In `snippet` each match stands between two `**`."""

    case: str
    score: float
    family: str
    title: str
    received: dt.date
    root_causes: tuple[str, ...]
    snippet: str


class SearchAnswer(Struct, frozen=True):
    """The best hits, how many there are in all, and a better spelling if one suggests itself."""

    total: int
    hits: tuple[Hit, ...]
    suggestion: str | None = None


class Why(Struct, frozen=True):
    """What one piece of evidence did to the log odds of a cause (natural logarithm)."""

    evidence: str
    log_odds: float


class LikelyCause(Struct, frozen=True):
    """A cause with its probability; the `why` entries add up to its log odds."""

    cause: str
    label: str
    probability: float
    interval: Interval
    cases: tuple[str, ...]
    why: tuple[Why, ...]
    confirm: str | None = None
    cover: str | None = None


class NextCheck(Struct, frozen=True):
    """A check worth making. `bits` is the expected information about the cause.

    `outcomes` gives the probability of each outcome; `first` marks what a symptom says must come
    before anything else; `cautions` are sentences to read before starting.
    """

    check: str
    label: str
    access: str
    minutes: float
    bits: float
    outcomes: dict[str, float]
    hazards: tuple[str, ...]
    first: bool = False
    wait: float = 0.0
    owner_ok: bool = False
    how: str = ""
    cautions: tuple[str, ...] = ()
    then: dict[str, dict[str, float]] = {}
    """outcome -> the causes that lead after it, with their probabilities"""


class Diagnosis(Struct, frozen=True):
    """Likely causes with what is not in the book yet; the probabilities and `unseen` sum to 1."""

    causes: tuple[LikelyCause, ...]
    unseen: float
    level: float
    next_checks: tuple[NextCheck, ...]
    cautions: tuple[str, ...]
    recognised: tuple[str, ...] = ()
    """symptoms that the free text was understood to name"""
    danger: tuple[str, ...] = ()
    """what the symptoms demand before anything else, in words; also at the head of `cautions`"""
    denied: tuple[str, ...] = ()
    """symptoms that it says are not there"""
    notes: tuple[str, ...] = ()
    """plain sentences about the answer: evidence nobody has seen before, checks held back, …"""
    faults_known: int = 0


class Step(Struct, frozen=True):
    """One step of how a cause was found: the check, its outcome, and what it spoke against.

    Probabilities are what the rest of the book would have said, this case left out.
    """

    check: str
    label: str
    outcome: str
    minutes: float | None
    at: str | None
    note: str | None
    access: str
    hazards: tuple[str, ...]
    ruled_out: tuple[str, ...]
    """causes that lost more than half of what they had and had at least 3 %"""
    leading: tuple[tuple[str, float], ...]
    """the three likeliest causes after this step"""


class Trail(Struct, frozen=True):
    """How one fault's cause was found, step by step, with what the book said at the start."""

    at_intake: tuple[tuple[str, float], ...]
    steps: tuple[Step, ...]


class Trend(Struct, frozen=True):
    """Whether a cause comes more often than before, given the intake: rising, falling or steady."""

    direction: str
    p: float


class WeakPoint(Struct, frozen=True):
    """One cause in one family against comparable units.

    `count` and `share` are of all cases, `own` of those that no mishap brought on (liquid,
    transport, an earlier repair, rough handling, misuse). `expected` is how large `own` would be if
    this family were like the comparable units, `ratio` the shrunk ratio of the two, `ratio_low` its
    5 % quantile. `comparable_count` of `comparable_cases` visits had the cause, mishaps left out;
    with `comparable_cases` 0 nothing is comparable, and `expected` equals `own`, `ratio` is 1 and
    `ratio_low` 0.
    """

    cause: str
    label: str
    count: int
    share: float
    share_interval: Interval
    expected: float
    ratio: float
    ratio_low: float
    flag: bool
    trend: Trend
    comebacks: int
    comparable_count: int
    comparable_cases: int
    brought_on: dict[str, int] = {}
    own: int = 0


class FamilyWeakPoints(Struct, frozen=True):
    """The causes found in one family, most telling first."""

    family: str
    label: str
    cases: int
    causes: tuple[WeakPoint, ...]


class WeakPoints(Struct, frozen=True):
    """Weak points of one family or of all."""

    families: tuple[FamilyWeakPoints, ...]


class IndexReport(Struct, frozen=True):
    """What an index run did. `refused` notes have an error and are left out."""

    notes: int
    added: int
    changed: int
    removed: int
    refused: int
    seconds: float
