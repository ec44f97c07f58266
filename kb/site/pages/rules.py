"""The rules that stand on a page before work that takes the cover off or power on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec import Struct

from kb import cautions
from kb.notes.vocabulary import ACCESS, CheckTerm, Vocabulary
from kb.site import wording
from kb.site.material import Material
from kb.site.names import Link


class Topic(Struct, frozen=True):
    """A subject such as valves or lifting; without paragraphs it is only linked to.

    `inside` says that it holds only where the cover is off, on a check that leaves it on elsewhere.
    """

    key: str
    name: str
    paragraphs: tuple[str, ...]
    inside: bool = False


class Rules(Struct, frozen=True):
    """What to do before work of one access; `families` are those it is needed for, () all.

    `above` says that the rules of a lower level, told higher up, hold here too.
    """

    access: str
    families: tuple[Link, ...]
    levels: tuple[tuple[str, tuple[str, ...]], ...]
    above: bool = False


def levels_of(access: str) -> tuple[str, ...]:
    """The levels whose rules apply: work on a live chassis is work on an open one too."""
    return ACCESS[1 : ACCESS.index(access) + 1] if access in ACCESS else ()


def levels_for(hazards: Iterable[str]) -> tuple[str, ...]:
    """The levels whose rules to read before whatever can be behind these hazards is reached for.

    A charge is met with the plug out; what kills while it is energised may have to be measured.
    """
    named = set(hazards)
    if named & {"mains", "high-voltage", "live-chassis"}:
        return levels_of("live")
    return levels_of("open") if "stored-charge" in named else ()


def rules_of(material: Material, check: CheckTerm) -> Iterator[Rules]:
    """The rules of a check, and then those that hold only where a family needs more for it."""
    told: set[str] = set()
    for access in ACCESS[1:]:
        if access == check.access:
            families: tuple[Link, ...] = ()
        elif not (families := stricter(material, check, access)):
            continue
        above = bool(told)
        new = [level for level in levels_of(access) if level not in told]
        told.update(new)
        texts = tuple((level, material.cautions.access.get(level, ())) for level in new)
        yield Rules(access, families, texts, above)


def stricter(material: Material, check: CheckTerm, *access: str) -> tuple[Link, ...]:
    """The families in which a check needs more than elsewhere, of these levels if any is given."""
    return material.links(
        "family",
        sorted(
            key
            for key, family in material.vocabulary.families.items()
            if (level := family.access.get(check.key))
            and ACCESS.index(level) > ACCESS.index(check.access)
            and level in (access or ACCESS)
        ),
    )


def topics_of(material: Material, check: CheckTerm) -> list[Topic]:
    """The topics of the book, with their texts where this check can meet what they are about."""
    always = {"lifting"} if "heavy" in check.hazards else set()
    applies = always | _applying(material.vocabulary, check)
    return [
        Topic(
            key,
            wording.words(key),
            tuple(texts) if key in applies else (),
            inside=check.access == "outside" and key not in always,
        )
        for key, texts in material.cautions.topics.items()
    ]


def _applying(vocabulary: Vocabulary, check: CheckTerm) -> set[str]:
    found: set[str] = set()
    # A line has what its families have in common, and no unit of its own.
    lines = {family.parent for family in vocabulary.families.values()}
    families: list[str | None] = [key for key in vocabulary.families if key not in lines]
    for key in families or [None]:
        access = vocabulary.access_needed(check.key, key)
        items = vocabulary.items_of(key) if key else frozenset()
        hazards = vocabulary.hazards_of(key) if key else ()
        found |= _topics(cautions.topics_for(access, items, (*hazards, *check.hazards)))
    return found


def _topics(texts: Iterable[str]) -> set[str]:
    told = set(texts)
    return {key for key, own in cautions.TOPICS.items() if told.issuperset(own)}
