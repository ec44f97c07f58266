"""A reading as it is typed at the bench."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kb.notes.case import Quantity, Reading
from kb.notes.reading_text import ReadingTextError, read_reading
from kb.notes.units import UNITS


@pytest.mark.parametrize(
    ("text", "reading"),
    [
        (
            "first-filter=291 V @ 221 V, idle",
            Reading("first-filter", Quantity(291, "V"), "as-found", "idle", Quantity(221, "V")),
        ),
        ("first-filter=291V", Reading("first-filter", Quantity(291, "V"), "as-found")),
        (
            " V2  anode = 180 V , idle, 40 min ",
            Reading("V2 anode", Quantity(180, "V"), "as-found", "idle, 40 min"),
        ),
        (
            "bias-line=-3.5e1 V@0.23 kV",
            Reading("bias-line", Quantity(-35, "V"), "as-found", None, Quantity(0.23, "kV")),
        ),
        ("harp=1.6 kohm,cold", Reading("harp", Quantity(1.6, "kΩ"), "as-found", "cold")),
        ("x=1 V,", Reading("x", Quantity(1, "V"), "as-found")),
    ],
)
def test_point_value_mains_and_state_are_read(text, reading):
    assert read_reading(text) == reading


@pytest.mark.parametrize(
    ("text", "reason", "suggestion"),
    [
        ("291 V", "does not say what was read where", None),
        ("=291 V", "does not say what was read where", None),
        ("", "does not say what was read where", None),
        ("x=", "not a number with a unit", None),
        ("x=291", "has no unit", None),
        ("x=3,3 kΩ, idle", "has a comma", "x=3.3 kΩ, idle"),
        ("x=291 vv", "is no unit", None),
        ("x=5 kohn", "is no unit", "x=5 kohm"),
        ("x=291 V @ 221", "the mains in", None),
        ("x=291 V @ 221 mA", "not in V", None),
        ("x=291 V @ 0 V", "must be above 0", None),
        ("x=291 V @ -230 V", "must be above 0", None),
        ("x=291 V @ 221 V @ 230 V", "more than one '@'", None),
        ("x=291 V, idle @ 221 V", "mains come first", "x=291 V @ 221 V, idle"),
        ("x=1e400 V", "too large", None),
        ("x=" + "9" * 500 + " V", "far too long", None),
    ],
)
def test_what_is_no_reading_is_refused_with_a_reason(text, reason, suggestion):
    with pytest.raises(ReadingTextError, match=reason.replace("(", r"\(")) as refused:
        read_reading(text)
    if suggestion is not None:
        assert refused.value.suggestion == suggestion
        read_reading(suggestion)


@given(st.text(max_size=80) | st.from_regex(r"[a-z -]{0,9}=[-0-9.,e]{0,9} ?[VmAΩ@, a-z0-9]{0,20}"))
@example("=@,")
@example("a=1 V @")
@example("a=1 V @,x")
@example("a=1,1,1 V")
def test_any_text_is_a_reading_or_is_refused_with_a_suggestion_that_is_one(text):
    try:
        found = read_reading(text)
    except ReadingTextError as refused:
        assert refused.reason
        return
    assert found.at
    assert found.value.unit in UNITS
    assert found.mains is None or found.mains.value > 0


names = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9 -]{0,20}[A-Za-z0-9]", fullmatch=True)


@given(
    names,
    st.floats(-1e6, 1e6, allow_nan=False).map(lambda v: float(f"{v:.6g}")),
    st.sampled_from(sorted(UNITS)),
    st.none() | st.integers(1, 400),
    st.none() | names,
)
def test_what_is_written_is_read_back(at, value, unit, mains, state):
    written = f"{at}={value!r} {unit}"
    written += "" if mains is None else f" @ {mains} V"
    written += "" if state is None else f", {state}"
    one_space = " ".join(state.split()) if state else None
    assert read_reading(written) == Reading(
        " ".join(at.split()), Quantity(value, unit), "as-found", one_space,
        None if mains is None else Quantity(mains, "V"),
    )  # fmt: skip
