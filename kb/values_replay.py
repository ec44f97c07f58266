"""How good the ranking has been: the answer of `benchbook replay`.

Field names are the keys of the JSON contract (`docs/json.md`), but for `from` and `to`, which
Python keeps for itself or reads badly. Probabilities are 0 to 1, times hands-on minutes.
"""

from __future__ import annotations

from msgspec import Struct

from kb.values import Interval

WHY = {
    "new-cause": "the cause was new to the book",
    "nothing-recognised": "nothing in the complaint was recognised",
    "new-family": "the first fault of its family",
    "never-with-these-symptoms": "the cause was known, but never with any of these symptoms",
    "few-cases": "the cause had been found once or twice only",
    "like-others": "other causes fitted better what was known",
}
"""why a ranking did badly: of the reasons that hold the first is given"""


class Figures(Struct, frozen=True):
    """How good a set of forecasts was.

    `top1` and `top3` are shares of the questions whose cause stood first, or among the first
    three; `mean_reciprocal_rank` counts a cause in place n as 1/n. A cause that was new to the book
    then misses all three. `log_loss` is the mean of -log P(what it was), natural; `brier` the mean
    over the questions of the sum of squared errors over all causes and the unseen (0 to 2).
    """

    top1: float
    top3: float
    mean_reciprocal_rank: float
    log_loss: float
    brier: float


class Differences(Struct, frozen=True):
    """Ours less the other's over the same questions, each with its 95 % interval.

    Below 0 in `log_loss`, or above 0 in `top3`, ours was better.
    """

    log_loss: float
    log_loss_interval: Interval
    top3: float
    top3_interval: Interval


class Baseline(Figures, frozen=True):
    """A simpler forecast of the same questions, with the same `unseen` as ours."""

    ours_less: Differences


class CalibrationBin(Struct, frozen=True, rename={"low": "from", "high": "to"}):
    """The times that a probability between `low` and `high` was given to a cause.

    `predicted` is the mean of what was said, `observed` the share of those that came true, with
    its 95 % interval.
    """

    low: float
    high: float
    count: int
    predicted: float
    observed: float
    observed_interval: Interval


class AfterChecks(Figures, frozen=True):
    """The same, asked again after each check but the last.

    `cases` faults had such questions, `questions` in all; those of one fault share one vote.
    """

    cases: int
    questions: int
    calibration: tuple[CalibrationBin, ...]
    baselines: dict[str, Baseline]


class UnseenFigures(Struct, frozen=True):
    """How often the book said "a cause that I don't know yet", and how often it was one."""

    predicted: float
    observed: float


class PoorRanking(Struct, frozen=True):
    """A ranking at intake that did badly.

    `likeliest` had `likeliest_probability`; it was `cause`, in place `rank` with `probability`. For
    a cause that was new to the book then, `rank` is None and `probability` that of the unseen.
    `seen` past faults had the cause, of `faults_known` in all. `why` is a key of
    `WHY`.
    """

    case: str
    family: str
    received: str
    likeliest: str
    likeliest_label: str
    likeliest_probability: float
    cause: str
    label: str
    rank: int | None
    probability: float
    why: str
    seen: int
    faults_known: int


class EarlyCheck(Struct, frozen=True):
    """A check that told much, but late.

    In `faults` it was telling after other checks with noted minutes; `minutes_before` is what was
    spent on those, in all, and `per_fault` on average. `late` is in how many it came late,
    telling or not; `own_minutes` what it usually took itself, if that was noted.
    """

    check: str
    label: str
    faults: int
    late: int
    minutes_before: float
    per_fault: float
    own_minutes: float | None
    cases: tuple[str, ...]
    """those with most minutes before it"""


class Replay(Figures, frozen=True):
    """How well the book would have answered on the day each past fault came in.

    `cases` faults were asked, out of `visits` visits; `assumed` of them have a cause that was
    never confirmed. `too_early` more came in before the book knew any fault. `missed` counts, by
    `why`, the faults whose cause was not among the first three; `worst` are those of the rankings
    that gave least to what it was.
    """

    cases: int
    visits: int
    assumed: int
    too_early: int
    calibration: tuple[CalibrationBin, ...]
    baselines: dict[str, Baseline]
    unseen: UnseenFigures
    after_checks: AfterChecks
    missed: dict[str, int]
    worst: tuple[PoorRanking, ...]
    early_checks: tuple[EarlyCheck, ...]
