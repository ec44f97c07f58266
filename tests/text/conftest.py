"""Hypothesis without a time limit per example: a busy machine is no fault of the program."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("no deadline", deadline=None)
settings.load_profile("no deadline")
