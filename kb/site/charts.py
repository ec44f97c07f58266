"""Where the marks of the weak-point chart stand, in per cent of its width."""

from __future__ import annotations

from msgspec import Struct

from kb.values_weak import WeakPoint

_ENDS = (0.2, 0.4, 0.6, 0.8, 1.0)


class Scale(Struct, frozen=True):
    """A scale of shares from nought to `end`, with four ticks to write at."""

    end: float

    def at(self, share: float) -> str:
        """The place of a share along the scale, as an SVG percentage."""
        return f"{min(share / self.end, 1) * 100:.2f}%"

    @property
    def ticks(self) -> tuple[float, ...]:
        """The shares to write beside the scale, both ends included."""
        return tuple(self.end * step / 4 for step in range(5))


class Bar(Struct, frozen=True):
    """One cause of a family: its bar, the whiskers of its interval, and the comparable share."""

    share: str
    low: str
    high: str
    comparable: str | None


def scale_for(causes: list[WeakPoint]) -> Scale:
    """The shortest even scale that holds every interval."""
    reach = max((cause.share_interval[1] for cause in causes), default=0)
    return Scale(next((end for end in _ENDS if reach <= end), 1.0))


def bar(cause: WeakPoint, scale: Scale) -> Bar:
    """The marks of one cause on a scale."""
    low, high = cause.share_interval
    comparable = None
    if cause.comparable_cases:
        comparable = scale.at(cause.comparable_count / cause.comparable_cases)
    return Bar(scale.at(cause.share), scale.at(low), scale.at(high), comparable)
