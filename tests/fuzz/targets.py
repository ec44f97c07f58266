"""Every target, by its name."""

from __future__ import annotations

from fuzz import asking, publishing, reading

TARGETS = {t.name: t for t in (*reading.TARGETS, *asking.TARGETS, *publishing.TARGETS)}
