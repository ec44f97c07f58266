"""How good the ranking has been: the past asked again, drawn and put in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from msgspec import Struct

from kb.site import telling, wording
from kb.site.diagram import TICKS, Dot, across, dots, up
from kb.site.material import Material
from kb.site.names import Link
from kb.site.render import Page
from kb.values_replay import (
    WHY,
    Baseline,
    CalibrationBin,
    EarlyCheck,
    Figures,
    PoorRanking,
    Replay,
)

PAGE = "how-good.html"
_OTHERS = {
    "most-common-in-family": "what this family has had most often",
    "text-only": "what the most similar complaint turned out to be",
}
_FEW = 10
"""a row that rests on fewer statements is no ground for a sentence"""
_POOR, _EARLY = 12, 6


class Row(Struct, frozen=True):
    """One row of the table beside a diagram."""

    said: str
    times: int
    average: str
    true: str
    interval: str


class Calibration(Struct, frozen=True):
    """What was said against what came true: drawn, as a table, and in a sentence."""

    dots: tuple[Dot, ...]
    rows: tuple[Row, ...]
    verdict: str
    heard: str


class Against(Struct, frozen=True):
    """How a simpler rule did on the same questions, and how ours compares."""

    rule: str
    figures: Baseline
    more: str
    surprise: str


class Poor(Struct, frozen=True):
    """A ranking that did badly."""

    case: Link
    family: Link
    likeliest: Link
    cause: Link
    ranking: PoorRanking
    why: str


class Late(Struct, frozen=True):
    """A check that told much, but late."""

    check: Link
    late: EarlyCheck
    cases: tuple[Link, ...]


def pages(material: Material) -> Iterator[Page]:
    """The page, unless the book hides what it would show."""
    if not material.tells_how_good:
        return
    yield Page(
        path=PAGE,
        template="how-good.html",
        title="How good it has been",
        description="Past faults asked again as each came in: what the book said, what it was.",
        section="how-good",
        values=partial(_values, material),
    )


def summary(replay: Replay | None) -> str:
    """One sentence for other pages; empty where there is nothing to say."""
    if replay is None or not replay.cases:
        return ""
    three = round(replay.top3 * replay.cases)
    return (
        f"Of {wording.counted(replay.cases, 'past fault')}, asked as each came in, "
        f"{three} had their cause among the first three."
    )


def _values(material: Material) -> Mapping[str, object]:
    replay, since = material.replay, material.replay_since
    assert replay is not None, "there is no such page without"
    cases = replay.cases
    if not cases:
        return {"replay": replay, "since": since}  # the figures of no question are no numbers
    return {
        "replay": replay,
        "since": since,
        "first": round(replay.top1 * cases),
        "three": round(replay.top3 * cases),
        "new": round(replay.unseen.observed * cases),
        "intake": _calibration(replay.calibration),
        "after": _calibration(replay.after_checks.calibration),
        "others": _against(replay.baselines),
        "others_after": _against(replay.after_checks.baselines),
        "ticks": [(wording.percent(tick), across(tick), up(tick)) for tick in TICKS],
        "missed": [(WHY.get(why, why), count) for why, count in replay.missed.items()],
        "missed_total": sum(replay.missed.values()),
        "poor": [_poor(material, one) for one in replay.worst[:_POOR]],
        "late": [_late(material, one) for one in replay.early_checks[:_EARLY]],
        "of_each": _of_each,
    }


def _of_each(figures: Figures) -> tuple[tuple[str, str], ...]:
    """The two figures that need no explaining, and the two that weigh the probabilities."""
    return (
        ("First", wording.percent(figures.top1)),
        ("Among three", wording.percent(figures.top3)),
        ("Log loss", f"{figures.log_loss:.2f}"),
        ("Brier", f"{figures.brier:.2f}"),
    )


def _calibration(bins: tuple[CalibrationBin, ...]) -> Calibration:
    rows = tuple(
        Row(
            said=telling.said_range(one.low, one.high),
            times=one.count,
            average=wording.percent(one.predicted),
            true=wording.percent(one.observed),
            interval=telling.interval(one.observed_interval),
        )
        for one in bins
        if one.count
    )
    heard = "; ".join(f"said {row.average}, came true {row.true}" for row in rows)
    return Calibration(dots(bins), rows, _verdict(bins), f"From left to right: {heard}")


def _verdict(bins: tuple[CalibrationBin, ...]) -> str:
    """Whether what was said can be taken at its word, and if not where it went wrong."""
    judged = [one for one in bins if one.count >= _FEW]
    if not judged:
        return "Too little was said to judge it by."
    sure = [one for one in judged if one.predicted > one.observed_interval[1]]
    shy = [one for one in judged if one.predicted < one.observed_interval[0]]
    if not sure and not shy:
        return "It can be taken at its word: no row differs by more than chance allows."
    parts = []
    if sure:
        parts.append(f"less came true than it said where it said {_listed(sure)}")
    if shy:
        parts.append(f"more came true than it said where it said {_listed(shy)}")
    fine = len(judged) - len(sure) - len(shy)
    said = f"{wording.sentence(wording.listed(parts))}, by more than chance explains."
    if not fine:
        return said
    rest = f"In the other {wording.counted(fine, 'row')} with {_FEW} statements or more"
    return f"{said} {rest} it kept its word."


def _listed(bins: list[CalibrationBin]) -> str:
    """The ranges of these bins, neighbours taken together."""
    spans: list[tuple[float, float]] = []
    for one in bins:
        if spans and spans[-1][1] == one.low:
            spans[-1] = (spans[-1][0], one.high)
        else:
            spans.append((one.low, one.high))
    return wording.listed([telling.said_range(*span) for span in spans])


def _against(baselines: Mapping[str, Baseline]) -> tuple[Against, ...]:
    return tuple(
        Against(
            rule=_OTHERS.get(key, wording.words(key)),
            figures=other,
            more=telling.against(other.ours_less),
            surprise=telling.surprise(other.ours_less),
        )
        for key, other in baselines.items()
    )


def _poor(material: Material, one: PoorRanking) -> Poor:
    return Poor(
        case=material.names.case(one.case),
        family=material.names.term("family", one.family),
        likeliest=material.names.term("cause", one.likeliest),
        cause=material.names.term("cause", one.cause),
        ranking=one,
        why=WHY.get(one.why, one.why),
    )


def _late(material: Material, one: EarlyCheck) -> Late:
    cases = tuple(material.names.case(number) for number in one.cases[:3])
    return Late(material.names.term("check", one.check), one, cases)
