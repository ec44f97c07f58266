"""The tables of the bench page packed into two files: what the page shows at once, and the rest.

A page that opens with an empty sheet needs neither the keys and counts of symptoms nor how a check
is made; those come when somebody turns to the sheet. `assets/bench-tables.js` unpacks both into
the tables of `bench_data`, row by row the same.

Columns are written one after the other: keys as words, whole numbers and halves in the digits of
`packing`. A page that its key leads to by the usual way is not written.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from kb.site.packing import packed

Tables = dict[str, Any]
"""as `bench_data` has them: kind -> rows"""
DECIMALS = 10_000
"""weights and minutes are written in parts of this, where that loses nothing"""
_MOST = 2**30 - 1


def first_and_later(tables: Tables) -> tuple[Tables, Tables]:
    """The two files' content, from the tables; nothing of them is lost or written twice."""
    families, symptoms, causes, checks = (
        list(zip(*tables[kind], strict=True)) or [()] * 16
        for kind in ("families", "symptoms", "causes", "checks")
    )
    outcomes = _Shared()
    came_out = [outcomes.taken(check) for check in checks[7]]
    plain = {
        name: tables[name]
        for name in (
            "figures", "levels", "hazards", "unknown", "access", "accessKeys", "notShowing",
            "basis",
        )
    }  # fmt: skip
    first = {
        **plain,
        "ordered": packed(tables["ordered"]),
        "outcomes": outcomes.words(),
        "families": [
            families[1], _lists(families[3]), _shifted(families[4]), _pairs(families[5]),
            packed(families[10]),
        ],
        "symptoms": [symptoms[1], _shifted(symptoms[4]), _lists(symptoms[5])],
        "causes": [
            _words(causes[0]), causes[1], _pages("causes", causes), packed(causes[3]),
            *_cases(causes[4]),
        ],
        "checks": [
            _words(checks[0]), checks[1], _pages("checks", checks), packed(checks[4]),
            _decimal(checks[5]), _decimal(checks[6]), _lists(came_out),
            _pairs(outcome[2] for check in checks[7] for outcome in check),
            _hazards(tables["hazards"], checks[8]),
            *(packed(checks[place]) for place in (10, 11, 12)), _lists(checks[13]),
            _decimal(checks[14]), _decimal(checks[15]), packed([bool(how) for how in checks[9]]),
        ],
    }  # fmt: skip
    later = {
        "kinds": tables["kinds"],
        "topics": tables["topics"],
        "families": [
            _words(families[0]), _pages("families", families),
            *(_lists(families[place]) for place in (6, 7)), families[8], families[9],
        ],
        "symptoms": [
            _words(symptoms[0]), _pages("symptoms", symptoms), symptoms[3], _pairs(symptoms[6]),
            *(_decimal(symptoms[place]) for place in range(7, 13)),
        ],
        "checks": [checks[3], checks[9]],
    }  # fmt: skip
    return first, later


class _Shared:
    """Outcomes of all checks, each word once; an outcome is its place and whether it clears."""

    def __init__(self) -> None:
        self._places: dict[tuple[str, str], int] = {}

    def taken(self, outcomes: Iterable[Sequence[Any]]) -> list[int]:
        return [
            2 * self._places.setdefault((key, said), len(self._places)) + clears
            for key, said, _, clears in outcomes
        ]

    def words(self) -> list[object]:
        """The key where it says what it is called, else the two."""
        return [key if said == _spoken(key) else [key, said] for key, said in self._places]


def _spoken(key: str) -> str:
    words = key.replace("-", " ")
    return words[:1].upper() + words[1:]


def _words(keys: Sequence[str]) -> str | Sequence[str]:
    joined = " ".join(keys)
    return joined if joined.split(" ") == list(keys) else keys


def _shifted(places: Iterable[int]) -> str:
    return packed([place + 1 for place in places])


def _hazards(known: Sequence[Sequence[str]], rows: Sequence[Sequence[str]]) -> object:
    """Hazards by their place among those that are spelt out; by name where one is not."""
    places = {row[0]: place for place, row in enumerate(known)}
    if all(hazard in places for row in rows for hazard in row):
        return _lists([[places[hazard] for hazard in row] for row in rows])
    return rows


def _lists(lists: Iterable[Sequence[int]]) -> str:
    return packed([number for own in lists for number in (len(own), *own)])


def _pairs(rows: Iterable[Sequence[float]]) -> str:
    """place, amount, … of each row, amounts in halves: faults count whole or half."""
    flat: list[int] = []
    for row in rows:
        flat.append(len(row) // 2)
        for place, amount in zip(row[::2], row[1::2], strict=True):
            flat += (int(place), int(2 * amount))
            if 2 * amount != flat[-1]:
                raise ValueError(f"{amount} is neither a whole nor a half fault")
    return packed(flat)


def _decimal(values: Sequence[float]) -> str | Sequence[float]:
    parts = [round(value * DECIMALS) for value in values]
    exact = all(
        0 <= part <= _MOST and part / DECIMALS == value
        for part, value in zip(parts, values, strict=True)
    )
    return packed(parts) if exact else values


def _pages(kind: str, columns: Sequence[Sequence[str]]) -> list[list[object]]:
    """Place and page of those that their key does not lead to."""
    return [
        [place, page]
        for place, (key, page) in enumerate(zip(columns[0], columns[2], strict=True))
        if page != f"{kind}/{key}.html"
    ]


def _cases(
    rows: Iterable[Sequence[str]],
) -> tuple[list[str | Sequence[str]], list[list[object]]]:
    """The numbers of the cases of each cause, and the pages that a number does not lead to."""
    numbers: list[str | Sequence[str]] = []
    other: list[list[object]] = []
    for at, row in enumerate(rows):
        numbers.append(_words(row[::2]))
        for place, (number, page) in enumerate(zip(row[::2], row[1::2], strict=True)):
            if page != f"cases/{number}.html":
                other.append([at, 2 * place + 1, page])
    return numbers, other
