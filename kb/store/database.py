"""Opening the database: pragmas, the stamp that says what it was made by, and damage."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, insert, select
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.pool import NullPool

from kb.store.schema import SCHEMA, meta, metadata

__all__ = [
    "Connection",
    "Store",
    "StoreBusyError",
    "StoreDamagedError",
    "StoreMovedError",
    "get_meta",
    "metas",
    "set_meta",
]

BUSY_MS = 60_000


class StoreDamagedError(Exception):
    """The database cannot be used as it is: truncated, corrupt, or of another version."""


class StoreBusyError(Exception):
    """Somebody else has been writing for longer than anybody should."""


class StoreMovedError(Exception):
    """The database is no longer in the state that the rest of the index is in."""


class Store:
    """One SQLite file. Its journal is rolled back, so that it is one file when nobody writes.

    A transaction is written at its end in one go; readers wait for that, and for nothing else.
    """

    def __init__(self, file: Path, made_by: str) -> None:
        self._file = file
        self._made_by = made_by
        self._engine = _engine(file)

    @classmethod
    def open(cls, file: Path, program: str) -> Store:
        """Open or create the database at `file`.

        `program` is the version of the program; a database that another version or schema made
        raises StoreDamagedError, as does one that SQLite cannot read.
        """
        store = cls(file, f"{SCHEMA}/{program}")
        if not file.exists():
            with store.anew():
                pass
        with store.reading() as connection:
            found = get_meta(connection, "made_by")
        if found != store._made_by:
            raise StoreDamagedError(f"made by {found}, not by {store._made_by}")
        return store

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees one state throughout. Raises StoreDamagedError, StoreBusyError."""
        with _worded(), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: everything in it is kept, or nothing. Raises as `reading`."""
        with _worded(), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def anew(self) -> Iterator[Connection]:
        """A new database, which takes the place of this one at the end, or not at all."""
        new = self._file.with_name(self._file.name + ".new")
        for name in (new.name, f"{new.name}-journal"):
            new.with_name(name).unlink(missing_ok=True)
        engine = _engine(new, synchronous="OFF")  # written out as a whole before it takes its place
        try:
            with _worded(), engine.begin() as connection:
                metadata.create_all(connection)
                set_meta(connection, "made_by", self._made_by)
                yield connection
        finally:
            engine.dispose()
        with new.open("rb+") as written:
            os.fsync(written.fileno())
        new.replace(self._file)

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()


def _engine(file: Path, synchronous: str = "NORMAL") -> Engine:
    engine = create_engine(URL.create("sqlite", database=str(file)), poolclass=NullPool)

    def set_pragmas(connection: Any, _record: Any) -> None:
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute(f"PRAGMA synchronous = {synchronous}")
        cursor.execute("PRAGMA cache_spill = OFF")
        cursor.close()

    event.listen(engine, "connect", set_pragmas)
    return engine


@contextmanager
def _worded() -> Iterator[None]:
    try:
        yield
    except OperationalError as fault:
        said = str(fault.orig)
        if "locked" in said or "busy" in said:
            raise StoreBusyError(said) from fault
        if any(word in said for word in ("readonly", "is full")):
            raise OSError(said) from fault
        raise StoreDamagedError(said) from fault
    except DatabaseError as fault:
        raise StoreDamagedError(str(fault)) from fault


def metas(connection: Connection) -> dict[str, str]:
    """All values that are kept with the index."""
    return {key: value for key, value in connection.execute(select(meta.c.key, meta.c.value))}  # noqa: C416


def get_meta(connection: Connection, key: str) -> str | None:
    """A value that was kept with the index, such as the stamp of its text part."""
    return connection.scalar(select(meta.c.value).where(meta.c.key == key))


def set_meta(connection: Connection, key: str, value: str) -> None:
    """Keep a value with the index."""
    connection.execute(meta.delete().where(meta.c.key == key))
    connection.execute(insert(meta).values(key=key, value=value))
