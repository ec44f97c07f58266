"""Imports from Whoosh without the compiler's remarks on its source.

Whoosh 2.7.4 has string literals that Python 3.12 and later warn about when they are compiled for
the first time; nobody who uses this program can do anything about that.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet_import() -> Iterator[None]:
    """Import modules of Whoosh in here."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SyntaxWarning)
        warnings.simplefilter("ignore", DeprecationWarning)
        yield


with quiet_import():
    from whoosh.lang.porter2 import stem as whoosh_stem

__all__ = ["quiet_import", "whoosh_stem"]
