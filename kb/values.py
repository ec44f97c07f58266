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
    """One fault of a visit as the statistics keep it, so that it can be taken out of them again.

    Only a fault of a finished visit with a known root cause is counted for causes; any other has
    an empty `cause`. `symptoms` are closed: with each stands everything that it is a kind of.
    `checks` are in the order they were made, of each the last telling outcome; the first
    `at_intake` of them were known when the unit came in. `weight` is what the fault adds to every
    count: 1, or `ASSUMED_WEIGHT` where its cause was assumed only. Dates are ISO 8601, times
    hands-on minutes.
    """

    case: str
    family: str
    cause: str
    symptoms: frozenset[str] = frozenset()
    checks: tuple[tuple[str, str], ...] = ()
    words: frozenset[str] = frozenset()
    """stems of the complaint that no recognised symptom accounts for"""
    absent: frozenset[str] = frozenset()
    """symptoms looked for and not there, as they were noted (not closed)"""
    at_intake: int = 0
    weight: float = 1.0
    at_counter: tuple[str, ...] = ()
    """the symptoms to ask with on the day it came in, as noted (not closed): those noted at the
    counter, or else those recognised in the complaint"""
    denied: tuple[str, ...] = ()
    """symptoms that the complaint says are not there"""
    received: str = ""
    finished: str = ""
    """empty while the unit is on the bench"""
    minutes: float | None = None
    """all hands-on minutes of the fault, as noted"""
    times: tuple[tuple[str, float], ...] = ()
    """check -> minutes, where they were noted"""
    coming_and_going: bool | None = None
    """whether it showed only at times; None where nobody said"""
    took_with_it: tuple[str, ...] = ()
    """damage that followed"""
    modified: tuple[str, ...] = ()
    """what of the unit was not as it left the maker"""
    faults: int = 1
    """how many faults the visit had"""


class Tallies(Struct, frozen=True):
    """What is kept of all faults for the ranking and the next checks.

    `counts`, `durations`, `damage` and `modified` are over finished faults of known cause, the
    rest over all. Amounts are numbers of faults; in `counts` and `damage` an assumed cause counts
    `ASSUMED_WEIGHT`.
    """

    counts: Counts = Counts()
    minutes: Mapping[str, Mapping[float, float]] = {}
    """check -> hands-on minutes as noted -> how often"""
    made: Mapping[str, Mapping[str, float]] = {}
    """family -> check -> faults in which it was made and told something"""
    coming: Mapping[str, Mapping[str, float]] = {}
    """symptom -> `some` or `none` -> faults that came and went, or stayed"""
    durations: Mapping[str, Mapping[float, float]] = {}
    """cause -> hands-on minutes of the whole fault -> how often"""
    left: Mapping[str, Mapping[float, float]] = {}
    """the same less the minutes noted for its checks"""
    damage: Mapping[str, Mapping[str, float]] = {}
    """what was damaged -> the root cause behind it -> faults"""
    modified: Mapping[str, Mapping[str, float]] = {}
    """cause -> what of the unit was not as it left the maker -> faults"""
    visits: Mapping[float, float] = {}
    """how many faults a visit had -> faults of such visits"""


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


class BehindIt(Struct, frozen=True):
    """A root cause that took another with it in so many past faults."""

    cause: str
    label: str
    faults: float


class TimeNeeded(Struct, frozen=True):
    """How long such a fault may take: `share` of them stayed `under` so many hands-on minutes.

    `middle` is the median; `faults` is how many faults of the likely causes had their time noted.
    """

    under: float
    share: float
    middle: float
    faults: int


class TwoFaults(Struct, frozen=True):
    """Two causes that together explain what one does not, with the symptoms that each explains."""

    probability: float
    causes: tuple[str, str]
    explains: tuple[tuple[str, ...], tuple[str, ...]]


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
    behind: tuple[BehindIt, ...] = ()
    """what may have taken this one with it: to be looked at before a new part goes in"""
    remarks: tuple[str, ...] = ()
    """plain sentences: the unit, or past ones, were modified at this place"""


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
    then_unseen: dict[str, float] = {}
    """outcome -> the probability of the unseen after it"""


class Further(Struct, frozen=True):
    """A check above the allowed access, and what going so far would take.

    `minutes` is all of it, hands on: what has to be made before it, and `cover` for opening if
    that is still to do. `caution` says that the cautions of this access hold.
    """

    check: str
    label: str
    access: str
    minutes: float
    cover: float
    bits: float
    hazards: tuple[str, ...] = ()
    wait: float = 0.0
    caution: str = ""


class StopPoint(Struct, frozen=True):
    """Whether trying the likeliest part is worth more than another check. Hands-on minutes.

    `now` if it is: no check within the allowed access saves more than it takes. `check` is the one
    that saves most, `saves` how much on average beyond its own time (0 or below: it loses that).
    `cause` is the part to try first, with its `probability` and the `minutes` to put it right and
    see, the cover included; None if none is likely enough to be tried blind. `access` is what
    trying it takes. `expected` is how long it takes on average from here by trying, with `search`
    charged for a cause that is not among the parts worth trying. `prove` is how many minutes a
    fault that comes and goes must stay away, running unattended, before it counts as cured.
    """

    now: bool
    cause: str | None
    label: str | None
    probability: float
    minutes: float
    access: str
    expected: float
    search: float
    check: str | None = None
    saves: float = 0.0
    prove: float = 0.0


class PlanStep(Struct, frozen=True):
    """One check of a plan, and its likeliest outcome, along which the plan goes on.

    `minutes` are hands on, with the cover where `opens` says that it comes off here. `outcome` is
    None for what must come first and for a check of which the book knows no outcome. `leads` is
    the likeliest cause then, with its `probability`.
    """

    check: str
    label: str
    access: str
    minutes: float
    wait: float = 0.0
    first: bool = False
    opens: bool = False
    outcome: str | None = None
    chance: float = 1.0
    leads: str | None = None
    leads_label: str | None = None
    probability: float = 0.0
    hazards: tuple[str, ...] = ()


class UsualOrder(Struct, frozen=True):
    """The order in which the shop usually makes its checks, and how many faults say so.

    `rests_on` is `symptoms-and-kind`, `symptoms`, `kind` or `book`.
    """

    checks: tuple[str, ...]
    faults: int
    rests_on: str


class Plan(Struct, frozen=True):
    """A recommended sequence along the likeliest outcomes, and what it takes on average.

    `expected` is in hands-on minutes to the cause put right, over all outcomes, by its own model.
    `usual` is the shop's usual order, `usual_expected` its minutes by the same model with the same
    stop rule, and `trying` those of parts alone, after what must come first. `followed` is the
    share of what may happen that was followed to its end; in the rest parts are taken to be tried.
    """

    steps: tuple[PlanStep, ...]
    stop: StopPoint
    expected: float
    trying: float
    usual: UsualOrder | None = None
    usual_expected: float | None = None
    followed: float = 1.0


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
    two_faults: TwoFaults | None = None
    time: TimeNeeded | None = None
    stop: StopPoint | None = None
    advice: tuple[str, ...] = ()
    """the stop point in words"""
    further: tuple[Further, ...] = ()
    """the best checks above the allowed access, and what going so far would take"""
    plan: Plan | None = None
    """only where it was asked for"""
    plan_advice: tuple[str, ...] = ()
    """where the plan ends, in words"""


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


class IndexReport(Struct, frozen=True):
    """What an index run did. `refused` notes have an error and are left out."""

    notes: int
    added: int
    changed: int
    removed: int
    refused: int
    seconds: float
