"""How the pages put what the statistics say: words first, with the figures behind them."""

from __future__ import annotations

import math

from kb.site import wording
from kb.site.wording import KEPT, THIN
from kb.values import Interval
from kb.values_history import Holding
from kb.values_readings import PointReadings, Unusual
from kb.values_replay import Differences
from kb.values_weak import Change, NewTrend, NewWeakPoint, Place, Trend

_DIRECTIONS = {
    "rising": "Coming more often than before",
    "falling": "Coming less often than before",
}
_HOW = {
    "named": "the later note says so",
    "same cause": "the same unit with the same cause",
    "same symptom": "the same unit with the same symptom",
}


def course(trend: Trend) -> str:
    """Whether a cause comes more or less often than before; empty where it is steady."""
    if trend.direction not in _DIRECTIONS:
        return ""
    said = f"{_DIRECTIONS[trend.direction]}, allowing for how many units came in at all"
    if trend.change:
        said += f": {_change(trend.change)}"
    return f"{said}. {_by_chance(trend.p)}."


def _change(change: Change) -> str:
    counts = (
        f"{change.after[0]} of {change.after[1]} visits since {change.since}, "
        f"{change.before[0]} of {change.before[1]} before"
    )
    if change.times is None or change.interval is None:
        return counts
    return (
        f"{counts}, which is about {figure(change.times)} times as often "
        f"(95{THIN}% range {figure(change.interval[0])} to {figure(change.interval[1])} times)"
    )


def _by_chance(p: float) -> str:
    """A p-value as a bench hand would want it, with the figure behind."""
    once = "less than once in 1000" if p < 0.001 else f"about once in {max(1, round(1 / p))}"
    return f"Chance alone would show as much {once} times ({wording.chance(p)})"


def place(found: Place | None) -> str:
    """Where in the unit it sits, as far as notes agree."""
    if found is None:
        return ""
    return f"At {found.at} in {found.agree} of the {found.named} that name a place."


def before(new: NewWeakPoint) -> str:
    """How a weak point that is new stood before."""
    if new.then_low is None:
        return "It had not been found yet."
    return f"Then it was {new.then_count} of {new.then_cases}, which chance could still explain."


def before_it_rose(new: NewTrend) -> str:
    """How a cause that comes more often now stood before."""
    if new.then_trend is None:
        return "Then it had not been found yet."
    counted = f"Then it was {new.then_count} of {new.then_cases}"
    if new.then_trend.direction == "falling":
        return f"{counted}, and coming less often."
    return f"{counted}, and no trend could be seen."


def figure(value: float) -> str:
    """A number of which two figures are known, without the noise of more."""
    if not math.isfinite(value):
        return "any number of"
    return f"{value:.0f}" if value >= 9.5 else f"{value:.1f}".removesuffix(".0")


def interval(ends: Interval) -> str:
    """A 95 % range of a share: `70 % to 99 %`."""
    return f"{wording.percent(ends[0])} to {wording.percent(ends[1])}"


# ---------------------------------------------------------------- repairs that hold


def held(one: Holding) -> str:
    """How many repairs held of those that have been out long enough to judge."""
    if not one.followed:
        return "too young to say"
    return f"{one.held}{KEPT}of{KEPT}{one.followed}"


def known_by(how: str) -> str:
    """How it is known that one visit brought an earlier repair back."""
    return _HOW.get(how, how)


# ---------------------------------------------------------------- readings


def measured(point: PointReadings, value: float) -> str:
    """A value at a point with as many figures as its range gives sense to."""
    return f"{amount(point, value)}{KEPT}{point.unit}"


def amount(point: PointReadings, value: float) -> str:
    """The same without its unit."""
    ends = (point.low, point.high)
    width = abs(ends[1] - ends[0]) if ends[0] is not None and ends[1] is not None else 0.0
    width = width or abs(value) * 0.05
    places = max(0, 1 - math.floor(math.log10(width))) if width > 0 else 0
    shown = f"{value:.{min(places, 6)}f}"
    if "." in shown:
        shown = shown.rstrip("0").rstrip(".")
    return shown.replace("-", "−") if float(shown) else "0"


def usual(point: PointReadings) -> str:
    """What healthy units read: `417 to 430 V`; empty where none was ever read.

    Where readings are too few for a range of their own, the lowest and the highest of them.
    """
    ends = point.seen
    if point.by == "readings" and point.low is not None and point.high is not None:
        ends = (point.low, point.high)
    if ends is None:
        return ""
    low, high = amount(point, ends[0]), measured(point, ends[1])
    return high if low == amount(point, ends[1]) else f"{low} to {high}"


def rests_on(point: PointReadings) -> str:
    """What the range of a point rests on."""
    if not point.count:
        return "not read in a healthy unit yet"
    many = wording.counted(point.count, "reading")
    return many if point.by == "readings" else f"only {many}"


def unusual(one: Unusual) -> str:
    """A reading that stood out: `Low as found: 417 V at 230 V mains`."""
    said = f"{one.side.capitalize()} {wording.words(one.when)}"
    if one.within_nominal:
        said += ", though within the tolerance"
    mains = "" if one.mains is None else f" at {one.mains:g}{KEPT}V mains"
    return f"{said}: {one.noted.replace('-', '−')}{mains}"


# ---------------------------------------------------------------- how good it has been


def said_range(low: float, high: float) -> str:
    """What was said: `20 to 30 %`."""
    return f"{100 * low:.0f} to {100 * high:.0f}{THIN}%"


def against(differences: Differences) -> str:
    """How much oftener the cause stood among the first three than with a simpler rule."""
    points = 100 * differences.top3
    low, high = (100 * end for end in differences.top3_interval)
    if not math.isfinite(low) or not math.isfinite(high):
        return f"{_points(points)} in a hundred: too few visits for a range"
    spread = f"95{THIN}% range {_points(low)} to {_points(high)}"
    if low > 0:
        return f"{points:.0f} more in a hundred ({spread}): better than chance explains"
    if high < 0:
        return f"{-points:.0f} fewer in a hundred ({spread}): worse than chance explains"
    return f"{_points(points)} in a hundred ({spread}): no more than chance can explain"


def surprise(differences: Differences) -> str:
    """Whether what came true was given more than by a simpler rule, in words."""
    low, high = differences.log_loss_interval
    if not math.isfinite(low) or not math.isfinite(high):
        return "of what it gave to the true cause too few visits tell"
    times = math.exp(abs(differences.log_loss))
    if high < 0:
        return f"it gave the true cause {figure(times)} times the probability, typically"
    if low > 0:
        return f"it gave the true cause only one {figure(times)}th of the probability, typically"
    return "what it gave to the true cause was about the same"


def _points(value: float) -> str:
    return f"{value:+.0f}".replace("-", "−")
