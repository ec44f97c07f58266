"""How much of a book is read at most; what people write is far below it."""

from __future__ import annotations

LARGEST_NOTE = 1_000_000
"""bytes of a file"""
LARGEST_FRONT_MATTER = 100_000
LARGEST_BODY = 100_000
"""characters"""
DEEPEST_YAML = 16
DEEPEST_FOLDER = 8
