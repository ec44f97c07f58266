"""What a healthy unit measures: read from the database, judged, and named by the vocabulary."""

from __future__ import annotations

from msgspec import Struct

from kb import cautions
from kb.errors import QuestionError
from kb.faults.reading_checks import OfReadings, as_checks, check_key, told_by
from kb.faults.readings import family_readings
from kb.faults.standards import Judged, Standard, Standards, standards
from kb.faults.test_points import Point, Rated, rated
from kb.indexing import Index
from kb.notes.case import Reading
from kb.notes.reading_text import ReadingTextError, read_reading
from kb.notes.vocabulary import Vocabulary
from kb.store import readings as stored
from kb.store.database import Connection
from kb.terms import with_kinds
from kb.values_readings import FamilyReadings, Taken


class Measured(Struct, frozen=True):
    """The readings of a book, what each family should read, and what readings told."""

    taken: list[Taken]
    causes: dict[str, dict[str, float]]
    of_families: dict[str, dict[Point, Standard]]
    told: OfReadings


class Placed(Struct, frozen=True):
    """A reading of a unit on the bench: the check that it is, and how it came out.

    `judged` is None where nothing can be said, and `why` then says why.
    """

    check: str
    standard: Standard | None
    judged: Judged | None
    why: str = ""


def measured(connection: Connection, words: Vocabulary, mains: float) -> Measured:
    """Everything that was measured in the book; `mains` is its nominal voltage in V."""
    taken, causes = stored.taken(connection), stored.causes(connection)
    of_families = standards(taken, _rated(words), mains)
    return Measured(taken, causes, of_families, as_checks(taken, of_families, causes, mains))


def readings(index: Index, words: Vocabulary, family: str, mains: float) -> FamilyReadings:
    """What a healthy unit of a family reads at each test point, and what stood out.

    `mains` is the nominal voltage in V. Raises QuestionError for an unknown family.
    """
    with index.store.reading() as connection:
        known = measured(connection, words, mains)
        return of_family(connection, known, words, family, mains)


def of_family(
    connection: Connection, known: Measured, words: Vocabulary, family: str, mains: float
) -> FamilyReadings:
    """The same, where what was measured is known already."""
    kinds = with_kinds("family", family, words.families)
    labels = {c.key: c.label for c in words.causes.values()}
    theirs: Standards = known.of_families.get(family, {})
    own = [one for one in known.taken if one.family == family]
    return FamilyReadings(
        family=family,
        label=words.families[family].label,
        mains=mains,
        points=family_readings(theirs, own, known.causes, known.told, labels, mains),
        unsaid=stored.unsaid(connection, family),
        families=kinds[1:],
        cautions=cautions.for_step("live", words.hazards_of(family) or cautions.WORST),
    )


def placed(known: Measured, family: str, text: str, mains: float) -> Placed:
    """Hold `first-filter=291 V @ 221 V, idle` against healthy units of the family.

    Raises QuestionError for a text that is no reading.
    """
    try:
        reading: Reading = read_reading(text)
    except ReadingTextError as fault:
        hint = f"did you mean {fault.suggestion}?" if fault.suggestion else fault.shape
        raise QuestionError(fault.reason, hint) from fault
    of_family: Standards = known.of_families.get(family, {})
    where, standard, judged = told_by(reading, of_family, mains)
    why = "" if judged else _why(where, standard, of_family)
    return Placed(check_key(where), standard, judged, why)


def _why(where: Point, standard: Standard | None, of_family: Standards) -> str:
    """Why nothing can be said of a reading, as a sentence."""
    if standard is None:
        alike = sorted(
            f"{s.at} ({s.state or 'no state'}, {s.unit})"
            for p, s in of_family.items()
            if p.at == where.at
        )
        if alike:
            return f"this family's notes have it only as {', '.join(alike)}"
        return "no note and no nominal value of this family names such a point"
    if standard.scale is None:
        return f"only {standard.count} healthy readings, and no nominal value with a tolerance"
    return "the mains voltage is too far from the book's to compare"


def _rated(words: Vocabulary) -> dict[str, dict[Point, Rated]]:
    """Family -> point -> what the vocabulary says it reads, its own before that of its line."""
    return {
        key: points
        for key in words.families
        if (points := rated(one for f in words.family_chain(key) for one in f.nominal))
    }
