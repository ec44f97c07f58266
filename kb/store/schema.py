"""The tables. Everything in them is derived from the notes and can be deleted at any time."""

from __future__ import annotations

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    UniqueConstraint,
)

SCHEMA = 5
"""Raised whenever a table changes: an index with another number is rebuilt."""

metadata = MetaData()


def _to(target: str) -> ForeignKey:
    return ForeignKey(target, ondelete="CASCADE")


meta = Table(
    "meta",
    metadata,
    Column("key", String, primary_key=True),
    Column("value", String, nullable=False),
)

note = Table(
    "note",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("path", String, nullable=False, unique=True),
    Column("case_key", String, index=True),  # casefolded number; null where the note is refused
    Column("number", String),  # the same as it is written
    Column("document", LargeBinary),  # the case, packed; null where the note is refused
    Column("visit", LargeBinary),  # what the history of units needs of the case, packed
    Column("records", LargeBinary),  # its faults as the statistics keep them, packed
    Column("known", Integer),  # how many of them have a known cause
    Column("learnt", LargeBinary),  # stands for what the ranking is fitted to
    CheckConstraint("(case_key IS NULL) = (document IS NULL)", name="readable_or_not"),
)

family = Table(
    "family",
    metadata,
    Column("key", String, primary_key=True),
    Column("label", String, nullable=False),
    Column("parent", String, ForeignKey("family.key", deferrable=True, initially="DEFERRED")),
    Column("maker", String),
    Column("kind", String),
)
symptom = Table(
    "symptom",
    metadata,
    Column("key", String, primary_key=True),
    Column("label", String, nullable=False),
)
symptom_ancestor = Table(
    "symptom_ancestor",
    metadata,
    Column("symptom", String, _to("symptom.key"), primary_key=True),
    Column("ancestor", String, _to("symptom.key"), primary_key=True),
)
cause = Table(
    "cause",
    metadata,
    Column("key", String, primary_key=True),
    Column("label", String, nullable=False),
    Column("item", String, nullable=False),
)
case = Table(
    "bench_case",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("number", String, nullable=False, unique=True),
    Column("number_key", String, nullable=False, unique=True),
    Column("note_id", Integer, _to("note.id"), nullable=False, unique=True),
    Column("family", String, _to("family.key"), nullable=False, index=True),
    Column("received", String(10), nullable=False, index=True),
    Column("finished", String(10)),
    Column("closed_as", String),
    Column("unit", String, index=True),
    Column("comeback_of", String, index=True),
    CheckConstraint(
        "closed_as IN ('repaired', 'no-fault-found', 'declined', 'beyond-repair', 'referred')",
        name="closed_as_known",
    ),
    CheckConstraint("finished IS NULL OR finished >= received", name="dates_in_order"),
)

fault = Table(
    "fault",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("case_id", Integer, _to("bench_case.id"), nullable=False),
    Column("position", Integer, nullable=False),
    Column("root_cause", String, _to("cause.key"), index=True),
    Column("at", String),
    Column("confirmed_by", String),
    Column("brought_on_by", String),
    Column("reproduced", String),
    Column("onset_minutes", Float),
    Column("every_minutes", Float),
    Column("minutes", Float),
    UniqueConstraint("case_id", "position"),
    CheckConstraint("minutes IS NULL OR minutes >= 0", name="minutes_not_negative"),
)

fault_symptom = Table(
    "fault_symptom",
    metadata,
    Column("fault_id", Integer, _to("fault.id"), primary_key=True),
    Column("symptom", String, _to("symptom.key"), primary_key=True),
    Column("how", String, primary_key=True),
    CheckConstraint("how IN ('counter', 'seen', 'absent')", name="how_known"),
    Index("fault_symptom_by_symptom", "symptom"),
)

fault_damage = Table(
    "fault_damage",
    metadata,
    Column("fault_id", Integer, _to("fault.id"), primary_key=True),
    Column("cause", String, _to("cause.key"), primary_key=True),
)

fault_part = Table(
    "fault_part",
    metadata,
    Column("fault_id", Integer, _to("fault.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("part", String, nullable=False, index=True),
    Column("batch", String),
)

fault_fix = Table(
    "fault_fix",
    metadata,
    Column("fault_id", Integer, _to("fault.id"), primary_key=True),
    Column("fix", String, primary_key=True),
)

case_found_too = Table(
    "case_found_too",
    metadata,
    Column("case_id", Integer, _to("bench_case.id"), primary_key=True),
    Column("cause", String, _to("cause.key"), primary_key=True),
)

case_modified = Table(
    "case_modified",
    metadata,
    Column("case_id", Integer, _to("bench_case.id"), primary_key=True),
    Column("change", String, primary_key=True),
)

reading = Table(
    "reading",
    metadata,
    Column("case_id", Integer, _to("bench_case.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("at", String, nullable=False),
    Column("value", Float, nullable=False),
    Column("unit", String, nullable=False),
    Column("taken", String),
    Column("state", String),
    Column("mains", Float),
    CheckConstraint("taken IN ('as-found', 'as-left')", name="taken_known"),
)

offer = Table(
    "offer",
    metadata,
    Column("case_id", Integer, _to("bench_case.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("work", String, nullable=False),
    Column("price", Float),
    Column("owner", String),
    Column("urgency", String),
)

remembered = Table(
    "remembered",
    metadata,
    Column("key", String, primary_key=True),
    Column("data", LargeBinary, nullable=False),  # ten thousand small things, packed as one
)

tally = Table(
    "tally",
    metadata,
    Column("kind", String, primary_key=True),
    Column("key", String, primary_key=True),
    Column("amounts", LargeBinary, nullable=False),  # what -> how much, packed
    sqlite_with_rowid=False,
)
