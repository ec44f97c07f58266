"""benchbook: a service-history knowledge base for a small repair bench.

`Book` is the one public door; everything it returns is a plain typed value from `kb.values`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kb.version import __version__

if TYPE_CHECKING:
    from kb.book import Book

__all__ = ["Book", "__version__"]


def __getattr__(name: str) -> Any:
    # Book draws in the database library; `benchbook --help` should not wait for it.
    if name == "Book":
        from kb.book import Book

        return Book
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
