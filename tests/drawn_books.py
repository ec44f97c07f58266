"""Small books for the tests of the ranking: counted from records, drawn by Hypothesis."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

from hypothesis import strategies as st

from kb.faults.prior import Place
from kb.values import Counts, Evidence, FaultRecord

FAMILIES = ("piper-8", "piper-30", "finch-bass", "lark-echo")
LINEAGE = {
    "piper-8": Place(lines=("piper",), kind="valve-combo"),
    "piper-30": Place(lines=("piper",), kind="valve-combo"),
    "finch-bass": Place(kind="bass-head"),
}
PARENTS = {"hum-with-light": "hum", "hum": "noise", "crackle": "noise"}
SYMPTOMS = ("noise", "hum", "hum-with-light", "crackle", "no-sound")
CAUSES = tuple(f"part-{i}/worn" for i in range(6))
OUTCOMES = {"tap": ("stops", "stays"), "look": ("burnt", "loose", "clean"), "swap": ("good", "bad")}
Choice = TypeVar("Choice")
WORDS = ("loud", "old", "warm", "rain")


def closed(symptoms: Iterable[str]) -> frozenset[str]:
    """The symptoms with everything that they are a kind of, as counts hold them."""
    found: set[str] = set()
    for symptom in symptoms:
        here: str | None = symptom
        while here is not None:
            found.add(here)
            here = PARENTS.get(here)
    return frozenset(found)


def tally(records: Iterable[FaultRecord]) -> Counts:
    """Count the records, as the store would."""
    faults: dict[str, dict[str, float]] = {}
    symptoms: dict[str, dict[str, float]] = {}
    checks: dict[str, dict[str, dict[str, float]]] = {}
    words: dict[str, dict[str, float]] = {}
    cases: dict[str, tuple[str, ...]] = {}

    def more(row: dict[str, float], cause: str) -> None:
        row[cause] = row.get(cause, 0.0) + record.weight

    for record in records:
        more(faults.setdefault(record.family, {}), record.cause)
        for symptom in record.symptoms:
            more(symptoms.setdefault(symptom, {}), record.cause)
        for check, outcome in set(record.checks):
            more(checks.setdefault(check, {}).setdefault(outcome, {}), record.cause)
        for word in record.words:
            more(words.setdefault(word, {}), record.cause)
        cases[record.cause] = (record.case, *cases.get(record.cause, ()))
    return Counts(faults=faults, symptoms=symptoms, checks=checks, words=words, cases=cases)


def fault(number: int, digits: int) -> FaultRecord:
    """A fault from the digits of one number: drawing whole records is many times slower."""

    def take(options: Sequence[Choice]) -> Choice:
        nonlocal digits
        digits, at = divmod(digits, len(options))
        return options[at]

    return FaultRecord(
        case=f"2021-{number:03}",
        family=take(FAMILIES),
        cause=take(CAUSES),
        symptoms=closed(noted := {take(SYMPTOMS), take(SYMPTOMS)} - {take((*SYMPTOMS, ""))}),
        checks=tuple((c, o) for c in OUTCOMES if (o := take(("", *OUTCOMES[c])))),
        words=frozenset({take(WORDS), take(WORDS)} - {take(WORDS)}),
        absent=frozenset({take(("", *SYMPTOMS))} - {""}),
        weight=take((1.0, 1.0, 0.5)),
        at_counter=tuple(sorted(noted))[: take((0, 1, 2))],
        denied=(take(SYMPTOMS),) if take((True, False)) else (),
    )


def records(least: int = 0) -> st.SearchStrategy[list[FaultRecord]]:
    """Up to two dozen faults."""
    digits = st.lists(
        st.integers(0, 4 * 6 * 5 * 5 * 6 * 3 * 4 * 3 * 4**3 * 6 * 3 * 3 * 5 * 2),
        min_size=least,
        max_size=24,
    )
    return digits.map(lambda drawn: [fault(i, d) for i, d in enumerate(drawn)])


@st.composite
def evidences(draw: st.DrawFn) -> Evidence:
    """What a customer and a first look may bring, things nobody has noted before among it."""
    named = st.lists(st.sampled_from((*SYMPTOMS, "glows")), max_size=3, unique=True)
    checks = draw(st.lists(st.sampled_from(sorted(OUTCOMES)), unique=True))
    return Evidence(
        family=draw(st.sampled_from((None, *FAMILIES, "new-family"))),
        symptoms=tuple(draw(named)),
        absent=tuple(draw(named)),
        checks=tuple((c, draw(st.sampled_from((*OUTCOMES[c], "odd")))) for c in checks),
        words=tuple(draw(st.lists(st.sampled_from((*WORDS, "zebra")), max_size=3, unique=True))),
    )
