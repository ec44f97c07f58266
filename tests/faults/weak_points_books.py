"""Books of visits for the tests of the weak points."""

from __future__ import annotations

from collections.abc import Iterable

from hypothesis import strategies as st

from kb.values_weak import FamilyVisits, FamilyWeakPoints, WeakPoint, WeakPoints

YEARS = (2022, 2023, 2024)


def family(
    key: str,
    visits: int,
    found: dict[str, int],
    kind: str | None = "valve-amplifier",
    has: Iterable[str] = (),
    brought_on: dict[str, dict[str, int]] | None = None,
) -> FamilyVisits:
    """Make a family whose visits all fall into one year."""
    return FamilyVisits(
        family=key,
        label=key.title(),
        kind=kind,
        has=frozenset(has),
        visits={2024: visits},
        found={cause: {2024: count} for cause, count in found.items()},
        brought_on=brought_on or {},
    )


def of(answer: WeakPoints, key: str) -> FamilyWeakPoints:
    """Pick a family from the answer."""
    return next(f for f in answer.families if f.family == key)


def point(answer: WeakPoints, key: str, cause: str) -> WeakPoint:
    """Pick a family's cause from the answer."""
    return next(w for w in of(answer, key).causes if w.cause == cause)


def shop() -> list[FamilyVisits]:
    """A bench's book: two kinds, nine families, about 120 visits, a long tail of single cases.

    Six pairs stand out; `drover` and `switch/worn` look strong (3 of 12) and are only chance, as
    six of the comparable units had it too.
    """
    planted: dict[str, dict[str, int]] = {
        "drover": {"filter-capacitor/high-esr": 6, "switch/worn": 3},
        "heron": {"screen-resistor/open": 5, "filter-capacitor/high-esr": 1, "switch/worn": 2},
        "lapwing": {"output-transformer/open": 5, "switch/worn": 2, "screen-resistor/open": 1},
        "plover": {"input-socket/cracked": 6, "switch/worn": 1, "filter-capacitor/high-esr": 1},
        "rook": {"switch/worn": 1, "input-socket/cracked": 1, "output-transformer/open": 1},
        "barge": {"crossover/dry-joint": 5, "fan/noisy": 1},
        "coble": {"fan/noisy": 5, "surround/perished": 1},
        "dory": {"crossover/dry-joint": 1, "surround/perished": 2},
        "wherry": {"surround/perished": 2, "crossover/dry-joint": 1},
    }
    sizes = dict(zip(planted, (12, 13, 14, 15, 12, 13, 14, 12, 15), strict=True))
    books = []
    for i, (key, causes) in enumerate(planted.items()):
        found = dict(causes)
        # The tail: every visit left over has a cause that few or no other families show.
        for j in range(sizes[key] - sum(causes.values())):
            cause = f"part-{(7 * i + 5 * j) % 53:02}/failed"
            found[cause] = found.get(cause, 0) + 1
        kind = "valve-amplifier" if i < 5 else "loudspeaker"
        books.append(family(key, sizes[key], found, kind=kind))
    return books


STAND_OUT = {
    ("drover", "filter-capacitor/high-esr"),
    ("heron", "screen-resistor/open"),
    ("lapwing", "output-transformer/open"),
    ("plover", "input-socket/cracked"),
    ("barge", "crossover/dry-joint"),
    ("coble", "fan/noisy"),
}


@st.composite
def books(draw: st.DrawFn) -> list[FamilyVisits]:
    """Any small book whose counts do not contradict each other."""
    causes = ["valve/weak", "valve/microphonic", "belt/slack", "switch/worn", "fuse/blown"]
    made = []
    for i in range(draw(st.integers(1, 5))):
        visits = {year: draw(st.integers(0, 6)) for year in YEARS}
        found = {
            cause: {year: draw(st.integers(0, n)) for year, n in visits.items()}
            for cause in draw(st.lists(st.sampled_from(causes), unique=True))
        }
        brought_on = {
            cause: {"liquid": draw(st.integers(0, sum(by_year.values())))}
            for cause, by_year in found.items()
        }
        made.append(
            FamilyVisits(
                family=f"family-{i}",
                label=f"Family {i}",
                kind=draw(st.sampled_from(["amplifier", "echo", None])),
                has=frozenset(draw(st.lists(st.sampled_from(["valve", "belt"])))),
                visits=visits,
                found=found,
                brought_on=brought_on,
            )
        )
    return made
