"""Visits as the history of units needs them."""

from __future__ import annotations

from sqlalchemy import Connection, select

from kb.store import schema as t
from kb.store.packed import unpack_visit
from kb.values_history import Visit


def visits(connection: Connection) -> list[Visit]:
    """Every visit, in the order of receipt and number."""
    query = select(t.note.c.visit).join(t.case, t.case.c.note_id == t.note.c.id)
    return [
        unpack_visit(packed)
        for (packed,) in connection.execute(query.order_by(t.case.c.received, t.case.c.number))
    ]
