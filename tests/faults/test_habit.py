"""The shop's usual order, read from its notes."""

from __future__ import annotations

from kb.faults.habit import usual_order
from kb.faults.prior import Place
from kb.values import FaultRecord

LINEAGE = {
    "piper-8": Place(kind="combo"),
    "piper-30": Place(kind="combo"),
    "lark": Place(kind="echo"),
}


def fault(
    *checks: str, family: str = "piper-8", symptom: str = "hum", cause: str = "a"
) -> FaultRecord:
    return FaultRecord("1", family, cause, frozenset({symptom}), tuple((c, "yes") for c in checks))


def test_checks_stand_by_their_mean_place_among_those_made() -> None:
    faults = [fault("tap", "swap", "probe")] * 4 + [fault("swap", "tap"), fault("tap", "probe")]
    found = usual_order(faults, ("hum",), "piper-8", LINEAGE)
    assert found is not None
    assert (found.checks, found.faults, found.rests_on) == (
        ("tap", "swap", "probe"),
        6,
        "symptoms-and-kind",
    )


def test_what_is_rarely_made_is_no_habit() -> None:
    found = usual_order([fault("tap", "swap")] * 9 + [fault("odd", "tap")], ("hum",))
    assert found is not None
    assert found.checks == ("tap", "swap")


def test_with_few_such_faults_it_widens_to_the_symptom_the_kind_and_the_book() -> None:
    hums = [fault("tap", family="lark")] * 5 + [fault("tap")]
    others = [fault("swap", symptom="hiss", family="piper-30")] * 5
    book = [*hums, *others]

    def rests_on(symptom: str, family: str) -> str:
        found = usual_order(book, (symptom,), family, LINEAGE)
        assert found is not None
        return found.rests_on

    assert rests_on("hum", "lark") == "symptoms-and-kind"
    assert rests_on("hum", "piper-8") == "symptoms"
    assert rests_on("glow", "piper-8") == "kind"
    assert rests_on("glow", "unknown") == "book"


def test_open_faults_and_faults_without_checks_say_nothing() -> None:
    assert usual_order([fault("tap", cause="")] * 9 + [fault()] * 9, ("hum",)) is None
