"""Opening the database: pragmas, the stamp that says what it was made by, and damage."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, insert, select
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.pool import NullPool

from kb.store.schema import SCHEMA, meta, metadata

__all__ = ["Connection", "Store", "StoreDamagedError", "get_meta", "set_meta"]


class StoreDamagedError(Exception):
    """The database cannot be used as it is: truncated, corrupt, or of another version."""


class Store:
    """One SQLite file. Readers see the last committed state and never wait for the writer."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    @classmethod
    def open(cls, file: Path, program: str) -> Store:
        """Open or create the database at `file`.

        `program` is the version of the program; a database that another version or schema made
        raises StoreDamagedError, as does one that SQLite cannot read.
        """
        engine = create_engine(URL.create("sqlite", database=str(file)), poolclass=NullPool)
        event.listen(engine, "connect", _set_pragmas)
        store = cls(engine)
        made_by = f"{SCHEMA}/{program}"
        try:
            with engine.begin() as connection:
                metadata.create_all(connection)
                found = connection.scalar(select(meta.c.value).where(meta.c.key == "made_by"))
                if found is None:
                    connection.execute(insert(meta).values(key="made_by", value=made_by))
        except OperationalError as fault:
            if "locked" in str(fault) or "readonly" in str(fault):
                raise
            raise StoreDamagedError(str(fault)) from fault
        except DatabaseError as fault:
            raise StoreDamagedError(str(fault)) from fault
        if found not in (None, made_by):
            raise StoreDamagedError(f"made by {found}, not by {made_by}")
        return store

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees one state throughout."""
        try:
            with self._engine.begin() as connection:
                yield connection
        except DatabaseError as fault:
            raise StoreDamagedError(str(fault)) from fault

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: everything in it is kept, or nothing."""
        try:
            with self._engine.begin() as connection:
                yield connection
        except DatabaseError as fault:
            raise StoreDamagedError(str(fault)) from fault

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()


def _set_pragmas(connection: Any, _record: Any) -> None:
    cursor = connection.cursor()
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = NORMAL")
    cursor.execute("PRAGMA busy_timeout = 5000")
    cursor.close()


def get_meta(connection: Connection, key: str) -> str | None:
    """A value that was kept with the index, such as the stamp of its text part."""
    return connection.scalar(select(meta.c.value).where(meta.c.key == key))


def set_meta(connection: Connection, key: str, value: str) -> None:
    """Keep a value with the index."""
    connection.execute(meta.delete().where(meta.c.key == key))
    connection.execute(insert(meta).values(key=key, value=value))
