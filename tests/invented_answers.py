"""What the statistics would say of the invented book, made up so that every part of a page shows."""

from __future__ import annotations

import datetime as dt

from kb.values import CheckOption
from kb.values_chart import Chart, ChartStep, Elsewhere, Passed, Point, Suspect, Way
from kb.values_history import (
    Comeback,
    Comebacks,
    Drawer,
    Holding,
    Spare,
    WhileOpen,
    WorthLooking,
)
from kb.values_readings import FamilyReadings, Pointer, PointReadings, Unusual
from kb.values_replay import (
    AfterChecks,
    Baseline,
    CalibrationBin,
    Differences,
    EarlyCheck,
    PoorRanking,
    Replay,
    UnseenFigures,
)
from kb.values_weak import Change, NewTrend, NewWeakPoint, Place, Trend, WeakPoint

AGEING = WeakPoint(
    cause="electrolytic-capacitor/high-esr",
    label="Electrolytic capacitor, high series resistance",
    count=7,
    share=7 / 19,
    share_interval=(0.19, 0.59),
    expected=0.6,
    ratio=5.1,
    ratio_low=2.2,
    flag=True,
    trend=Trend("rising", 0.021, Change(2023, (1, 10), (6, 9), 6.7, (1.2, 40.0))),
    comebacks=1,
    comparable_count=2,
    comparable_cases=60,
    brought_on={"ageing": 6, "misuse": 1},
    own=7,
    place=Place("C1, first filter", 5, 6),
    by_year={2021: 1, 2023: 2, 2024: 4},
)

CRACKED = WeakPoint(
    cause="joint/cracked",
    label="Soldered joint, cracked",
    count=3,
    share=3 / 19,
    share_interval=(0.06, 0.38),
    expected=2.1,
    ratio=1.2,
    ratio_low=0.5,
    flag=False,
    trend=Trend("rising", 0.03, Change(2023, (0, 10), (3, 9))),
    comebacks=0,
    comparable_count=6,
    comparable_cases=60,
)

NEW = (NewWeakPoint("family", "heron-20", "Heron 20", 19, AGEING, 3, 12, 0.7),)
RISING = (
    NewTrend("family", "heron-20", "Heron 20", 19, AGEING, 3, 12, Trend("steady", 0.4)),
    NewTrend("maker", "Fenwick & Ash", "Fenwick & Ash", 19, CRACKED, 1, 12, Trend("steady", 1.0)),
)
DRAWER = Drawer(
    since=dt.date(2023, 3, 1),
    until=dt.date(2024, 2, 29),
    families=(),
    repairs=6,
    without_parts=2,
    aim=0.8,
    enough=2,
    spares=(
        Spare("47 µF 450 V", 4, 5, 3, 0.5, ("Electrolytic capacitor, high series resistance",),
              ("heron-20",)),
        Spare("EL84 type valve", 2, 4, 5, 5 / 6, (), ("heron-20", "no-visit-yet", "a", "b")),
        Spare("fuse T 1 A", 1, 1, 6, 1.0, ("Rectifier, shorted",), ("heron-20",)),
    ),
)  # fmt: skip


def _holding(**changes: object) -> Holding:
    base: dict[str, object] = {
        "cause": None, "label": "all repairs", "fix": None, "part": None, "batch": None,
        "fixes": 4, "followed": 3, "held": 2, "came_back": 1, "share": 2 / 3,
        "interval": (0.21, 0.94),
    }  # fmt: skip
    return Holding(**{**base, **changes})  # type: ignore[arg-type]


_ESR = {
    "cause": "electrolytic-capacitor/high-esr",
    "label": "Electrolytic capacitor, high series resistance",
}
COMEBACKS = Comebacks(
    days=90,
    as_of=dt.date(2024, 7, 3),
    overall=_holding(),
    course=(),
    comebacks=(
        Comeback(
            "2023-0871", "2024-0117", "heron-20", "HR20-51187", (_ESR["cause"],), 144, "named"
        ),
    ),
    causes=(_holding(**_ESR, fixes=2, followed=2, held=1, interval=(0.09, 0.91)),),
    fixes=(_holding(**_ESR, fix="replace", fixes=1, followed=1, held=0, interval=(0.0, 0.79)),),
    parts=(_holding(label="47 µF 450 V", part="47 µF 450 V", fixes=2, followed=2, held=1),),
    batches=(_holding(label="47 µF 450 V", part="47 µF 450 V", batch="2351", held=0),),
)

WHILE_OPEN = WhileOpen(
    family="heron-20",
    label="Heron 20",
    doing=None,
    off=None,
    suggestions=(
        WorthLooking(
            **_ESR,
            cover="back panel, then the chassis",
            free=True,
            count=7,
            visits=19,
            comparable_count=2,
            comparable_visits=60,
            share=0.29,
            interval=(0.14, 0.47),
            finding=40.0,
            look=2.0,
            saved=10.4,
            why="7 of 19 visits of this family had it.",
            confirm="A good one across it, discharged, cures the ripple.",
            cautions=("The can may vent: wear glasses.",),
        ),
    ),
    assumed=("The unit comes to the bench once more.",),
    cautions=("Unplug it, discharge it, prove it dead.", "Local codes come first."),
)


def _point(**changes: object) -> PointReadings:
    base: dict[str, object] = {
        "at": "first-filter", "when": "as-left", "state": "idle", "unit": "V", "count": 10,
        "units": 9, "median": 315.2, "low": 308.4, "high": 321.9, "by": "readings",
        "nominal": 312.0, "nominal_range": (280.8, 343.2), "spread": 1.5, "limit": 5.0,
        "seen": (309.0, 320.0), "mains": "follows", "exponent": 1.2, "raw": (300.0, 330.0),
        "left_out": {"modified unit": 1}, "unusual": (), "pointers": (),
    }  # fmt: skip
    return PointReadings(**{**base, **changes})  # type: ignore[arg-type]


READINGS = FamilyReadings(
    family="heron-20",
    label="Heron 20",
    mains=230.0,
    points=(
        _point(
            unusual=(
                Unusual(
                    case="2023-0871",
                    value=281.0,
                    score=-12.0,
                    when="as-found",
                    side="low",
                    mains=229.0,
                    brought_to=282.5,
                    within_nominal=True,
                    causes=(_ESR["cause"],),
                    cause_labels=(_ESR["label"],),
                    modified=(),
                    noted="281 V",
                ),
                Unusual(
                    case="2024-0117",
                    value=90.0,
                    score=-99.0,
                    when="as-found",
                    side="low",
                    mains=229.0,
                    brought_to=90.5,
                    modified=("solid-state-rectifier",),
                    noted="90 V",
                ),
            ),
            pointers=(Pointer("low", _ESR["cause"], _ESR["label"], 2.0, 2.0, 1.0, 8.0, 5.3),),
        ),
        _point(
            at="bias-supply",
            state=None,
            count=2,
            median=-34.5,
            low=None,
            high=None,
            by="nothing",
            nominal=-34.0,
            nominal_range=None,
            seen=(-35.5, -33.5),
            exponent=0.0,
            left_out={},
        ),
        _point(at="screen", count=0, median=None, by="nominal", seen=None, exponent=0.0, left_out={}),
        _point(at="empty", count=0, median=None, low=None, high=None, by="nothing", seen=None,
               nominal=None, nominal_range=None, exponent=0.0, left_out={}),
    ),
    unsaid=1,
    families=(),
    cautions=("Unplug it, discharge it, prove it dead.", "Not alone.", "Local codes come first."),
)  # fmt: skip

_LESS = Differences(-0.5, (-0.9, -0.1), 0.14, (0.07, 0.21))
_FIGURES = {"top1": 0.25, "top3": 0.5, "mean_reciprocal_rank": 0.4, "log_loss": 1.6, "brier": 0.7}
_BASELINES = {
    "most-common-in-family": Baseline(**_FIGURES, ours_less=_LESS),
    "text-only": Baseline(
        **_FIGURES, ours_less=Differences(0.02, (-0.2, 0.24), -0.01, (-0.06, 0.05))
    ),
}
_BINS = (
    CalibrationBin(0.0, 0.01, 900, 0.004, 0.003, (0.001, 0.006)),
    CalibrationBin(0.2, 0.3, 40, 0.25, 0.1, (0.04, 0.2)),
    CalibrationBin(0.3, 0.4, 20, 0.35, 0.1, (0.03, 0.3)),
    CalibrationBin(0.5, 0.6, 4, 0.55, 0.75, (0.3, 0.95)),
)
REPLAY = Replay(
    **_FIGURES,
    cases=40,
    visits=38,
    assumed=1,
    too_early=2,
    calibration=_BINS,
    baselines=_BASELINES,
    unseen=UnseenFigures(0.37, 0.5),
    after_checks=AfterChecks(
        **_FIGURES, cases=30, questions=90, calibration=_BINS, baselines=_BASELINES
    ),
    missed={"new-cause": 20, "like-others": 4},
    worst=(
        PoorRanking(
            case="2024-0117", family="heron-20", received="2024-03-04",
            likeliest=_ESR["cause"], likeliest_label=_ESR["label"], likeliest_probability=0.49,
            cause="carbon-resistor/noisy", label="Carbon resistor, noisy", rank=7,
            probability=0.004, why="like-others", seen=2, faults_known=30,
        ),
        PoorRanking(
            case="2024-0300", family="kestrel-500", received="2024-07-02",
            likeliest="fuse/blown", likeliest_label="Fuse blown", likeliest_probability=0.2,
            cause="rectifier/shorted", label="Rectifier, shorted", rank=None,
            probability=0.31, why="new-cause", seen=0, faults_known=31,
        ),
    ),
    early_checks=(
        EarlyCheck("tap-board", "Tap the board", 3, 5, 90.0, 30.0, 8.0, ("2024-0117",)),
    ),
)  # fmt: skip


def _suspects(*found: tuple[str, float, int, int]) -> tuple[Suspect, ...]:
    return tuple(
        Suspect(cause, p, (p / 2, min(1.5 * p, 0.99)), Passed(here, book))
        for cause, p, here, book in found
    )


_MADE = (("look-inside", "clean"), ("swap-lead", "no-change"))
_RIPPLE = Point(
    made=_MADE,
    came=Passed(3, 7),
    suspects=_suspects((_ESR["cause"], 0.55, 2, 5), ("joint/cracked", 0.2, 1, 2)),
    unseen=0.1,
    step=ChartStep(
        CheckOption(
            "ripple-first-filter", "Ripple on the first filter", "live", 10.0, 5.0,
            hazards=("high-voltage",), needs=("powered",), disturbs=True,
        ),
        minutes=10.0,
        bits=0.41,
        said=("Gone counts only once it has stayed away for 60 min.",),
    ),
    ways=(
        Way("high", 0.6, Point((*_MADE, ("ripple-first-filter", "high")), Passed(2, 5),
            _suspects((_ESR["cause"], 0.86, 2, 4)), 0.04, end="clear")),
        Way("normal", 0.4, Point((*_MADE, ("ripple-first-filter", "normal")), Passed(0, 0),
            _suspects(("joint/cracked", 0.2, 0, 0), ("carbon-resistor/noisy", 0.1, 0, 0)), 0.35,
            end="thin")),
    ),
    unmade=Passed(1, 2),
)  # fmt: skip
_LEAD = Point(
    made=_MADE[:1],
    came=Passed(5, 10),
    suspects=_suspects((_ESR["cause"], 0.5, 3, 6), ("joint/cracked", 0.2, 1, 2)),
    unseen=0.1,
    step=ChartStep(
        CheckOption("swap-lead", "Try another mains lead", "outside", 1.0, needs=("powered",)),
        minutes=1.0,
        bits=0.02,
        said=("Put the cover back on first: this check is made with it on.",),
    ),
    ways=(Way("no-change", 0.9, _RIPPLE),),
    elsewhere=Elsewhere(("cured",), 0.1, Passed(0, 1)),
    unmade=Passed(2, 2),
)
CHARTS = (
    Chart(
        family="heron-20",
        symptom="hum",
        root=Point(
            made=(),
            came=Passed(6, 12),
            suspects=_suspects((_ESR["cause"], 0.45, 3, 7), ("joint/cracked", 0.2, 1, 2)),
            unseen=0.12,
            step=ChartStep(
                CheckOption(
                    "look-inside",
                    "Look for burns and bulges",
                    "open",
                    5.0,
                    outcomes=("clean", "burnt-part"),
                    clears=("clean",),
                    hazards=("stored-charge",),
                ),
                minutes=15.0,
                bits=0.2,
                first=True,
                opens=True,
            ),
            ways=(
                Way("clean", 0.8, _LEAD),
                Way(
                    "burnt-part",
                    0.2,
                    Point(
                        (("look-inside", "burnt-part"),),
                        Passed(1, 1),
                        _suspects(("rectifier/shorted", 0.6, 1, 1)),
                        0.2,
                        end="alarm",
                    ),
                ),
            ),
            unmade=Passed(0, 1),
        ),
        intermittent=True,
        notes=("“earth-bond” must come before anything else; it is not a check of this unit.",),
    ),
)
"""counts that add up: 6 and 12 faults came, and end somewhere"""
