"""What `book.yaml` says."""

from __future__ import annotations

from msgspec import Struct


class Settings(Struct, frozen=True):
    """The settings of a book. Mains in V and Hz; `hide` are keys that are never published."""

    title: str = "Service book"
    mains_voltage: float = 230.0
    mains_frequency: float = 50.0
    currency: str = ""
    comeback_days: int = 90
    hide: tuple[str, ...] = ()
