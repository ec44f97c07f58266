"""What is new among the weak points since a date, told in the terminal."""

from __future__ import annotations

import datetime as dt

from kb.cli.output import heading, say, wrapped
from kb.cli.weak_causes import beside, course
from kb.values_weak import NewTrend, NewWeakPoint, WeakPoints


def show_news(answer: WeakPoints, since: dt.date) -> None:
    """What stands out or comes more often now, and did not then; each cause once."""
    date = f"{since.day} {since:%B %Y}"
    began = {_key(one) for one in answer.rising}
    told = {_key(one) for one in answer.new}
    others = [one for one in answer.rising if _key(one) not in told]
    if answer.new:
        heading(f"What stands out now and did not on {date}")
        for one in answer.new:
            _tell_new(one, _key(one) in began)
    else:
        say(f"Nothing stands out that did not on {date} already.")
    if others:
        heading(f"What is coming more often now and was not on {date}")
        for rising in others:
            _tell_rising(rising)
    elif not answer.rising:
        if answer.new:
            say()
        say("Nothing is coming more often that was not then.")


def _key(one: NewWeakPoint | NewTrend) -> tuple[str, str, str]:
    return one.sort, one.family, one.point.cause


def _tell_new(new: NewWeakPoint, began: bool) -> None:
    _name(new)
    now = f"about {new.point.ratio:.1f} times as often, at least {new.point.ratio_low:.1f}"
    then = "not found yet"
    if new.then_low is not None:
        then = f"{new.then_count} of {new.then_cases}, at least {new.then_low:.1f} times"
    wrapped(f"Now {now} times; then {then}.", "    ")
    if began:
        wrapped(f"{course(new.point.trend)} This is new too.", "    ")


def _tell_rising(new: NewTrend) -> None:
    _name(new)
    wrapped(f"{course(new.point.trend)} {_then(new)}", "    ")


def _then(new: NewTrend) -> str:
    if new.then_trend is None:
        return "Then it had not been found yet."
    counted = f"Then it was {new.then_count} of {new.then_cases}"
    if new.then_trend.direction == "falling":
        return f"{counted}, and coming less often."
    return f"{counted}, and no trend could be seen."


def _name(new: NewWeakPoint | NewTrend) -> None:
    sort = "" if new.sort == "family" else f"{new.sort} "
    label = new.family_label.removesuffix(f" ({new.sort})")
    say()
    wrapped(
        f"{label} ({sort}{new.family}): {new.point.label}, {beside(new.cases, new.point)}",
        "    ",
        "  ",
    )
