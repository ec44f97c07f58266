"""What can go wrong in a way that a person can mend. The command line words them in one place."""

from __future__ import annotations


class BenchbookError(Exception):
    """A fault that ends the command. `message` says what is wrong, `hint` what to do about it."""

    def __init__(self, message: str, hint: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint


class NoBookError(BenchbookError):
    """There is no book where one was looked for."""


class CacheError(BenchbookError):
    """The cache folder cannot be used."""


class CacheReadOnlyError(CacheError):
    """The cache folder cannot be written."""


class QuestionError(BenchbookError):
    """The question names something that the book does not know, or cannot be asked so."""
