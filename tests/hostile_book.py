"""A whole book on the disk that attacks whoever reads its site, in every field that takes a text.

What the note format refuses, such as a control character, stands in no field here: other tests see
to it. Keys and numbers of cases are what a script would mistake for its own properties.
"""

from __future__ import annotations

import json
from pathlib import Path
from urllib.parse import quote

from kb.notes.limits import LARGEST_BODY

ATTACKS = (
    "</title></script><script>window.__pwned=1</script>",
    '"><img src=x onerror="window.__pwned=1">',
    "'><svg onload=window.__pwned=1><animate onbegin=window.__pwned=1>",
    '"onmouseover="window.__pwned=1" autofocus onfocus="window.__pwned=1',
    "<details open ontoggle=window.__pwned=1><iframe srcdoc='<script>parent.__pwned=1</script>'>",
    "{{ 7*7 }}{% for x in range(9) %}x{% endfor %}{{ cycler.__init__.__globals__ }}${window.__pwned=1}",
    "[go](javascript:window.__pwned=1)![p](https://tracker.example/x.png)<https://tracker.example>",
    "[d](data:text/html,<script>window.__pwned=1</script>)[v](vbscript:x)[w](//tracker.example/w)",
    "<base href=https://tracker.example><meta http-equiv=refresh content=0;url=https://tracker.example>",
    "<!-- --!> <![CDATA[ ]]> &lt;script&gt; &#60;b&#62; \\u003cscript\\u003e </textarea></style>",
    "__proto__ constructor hasOwnProperty ../../etc/passwd %2e%2e%2f C:\\nul",
    "\u202edesrever\u2069\u202c \u200f\u2067 עברית العربية",
    "W" * 199,
    "\u0301" * 40 + "\u200b\u200d\ufeff\u00ad" + "\U0001f3f4\U000e0067",
)
EVERYTHING = " ".join(ATTACKS)
FILE = "\"><img src=x onerror=alert(1)> & ' {{7}}.png"

_FAMILY, _CAUSE = "constructor", "constructor/valueof"


def _yaml(value: object) -> str:
    """JSON is YAML, and quotes everything."""
    return json.dumps(value, ensure_ascii=False)


def _label(place: int) -> str:
    """A name holds 200 characters: one attack each."""
    return ATTACKS[place % len(ATTACKS)][:200]


def _vocabulary() -> dict[str, dict[str, object]]:
    also = [attack[:200] for attack in ATTACKS[:-2]]

    def others(first: int) -> dict[str, dict[str, object]]:
        return {f"other-{place}": {"label": _label(first + place)} for place in range(1, 5)}

    return {
        "families": {
            "tostring": {"label": _label(5), "maker": _label(1)},
            _FAMILY: {
                "label": _label(0), "also": also, "maker": _label(2), "kind": "valueof", "parent": "tostring",
                "has": ["constructor"], "access": {"constructor": "live"}, "hazards": ["mains", "high-voltage"],
                "covers": {"constructor": _label(3)},
                "nominal": [{"at": EVERYTHING, "value": "312 V", "tolerance": "10 %", "state": EVERYTHING}],
            },
            **others(0),
        },
        "symptoms": {
            "constructor": {"label": _label(1), "also": also, "first": ["constructor"]},
            "valueof": {"label": _label(11), "parent": "constructor"}, **others(4),
        },
        "causes": {
            _CAUSE: {"label": _label(2), "also": also, "confirm": EVERYTHING, "cover": _label(3), "hazards": ["mains"]},
            **{f"constructor/{key}": value for key, value in others(8).items()},
        },
        "checks": {
            "constructor": {
                "label": _label(3), "also": also, "access": "open", "minutes": 3, "how": EVERYTHING,
                "outcomes": ["constructor", "valueof"], "hazards": ["mains"],
            },
            "valueof": {"label": _label(6), "outcomes": ["constructor"], "owner_ok": True, "how": EVERYTHING}, **others(12),
        },
    }  # fmt: skip


def _front_matter(number: str, attack: str, day: int, finished: bool) -> dict[str, object]:
    checks = [
        {"check": "constructor", "outcome": "valueof", "minutes": 3, "at": attack, "note": attack},
        {"check": "valueof", "outcome": "constructor", "at": attack, "note": attack},
    ]
    note: dict[str, object] = {
        "case": number, "family": _FAMILY, "received": f"2024-03-{day:02}", "complaint": attack, "unit": attack,
        "built": 1996, "modified": [attack, "solid-state-rectifier"], "symptom": ["constructor"], "seen": ["valueof"],
        "checks": checks, "comeback_of": "toString",
        "readings": [
            {"at": attack, "value": "318 V", "when": "as-left", "state": attack, "mains": "231 V"},
            {"at": attack, "value": "31 V", "when": "as-found", "state": attack},
        ],
        "offered": [{"do": attack, "price": 90, "owner": "declined", "urgency": "now"}],
        "private": {"owner": attack},
    }  # fmt: skip
    if finished:
        note |= {
            "finished": f"2024-03-{day:02}", "returned": f"2024-03-{day:02}", "root_cause": _CAUSE, "at": attack,
            "took_with_it": ["constructor/other-1"], "fix": ["replace"], "found_too": ["constructor/other-2"],
            "parts": [attack, {"part": attack, "batch": attack}], "brought_on_by": "ageing",
            "proved": {"run": "60 min", "with": [attack], "result": attack},
            "safety": {"earth-bond": "0.08 Ω", "result": "pass"},
        }  # fmt: skip
    return note


def _body(attack: str) -> str:
    picture = f'![{attack}](<../../media/{quote(FILE)}> "x")'
    table = f"| {attack.replace('|', '')} | b |\n| --- | --- |\n| {attack.replace('|', '')} | c |"
    whole = f"# {attack}\n\n{attack}\n\n{picture}\n\n> {attack}\n\n```{attack}\n{attack}\n```\n\n{table}\n"
    assert len(whole) < LARGEST_BODY
    return whole


def make_hostile_book(folder: Path) -> Path:
    """Write the book into a new folder."""
    for name in ("vocabulary", "cases/2024", "families", "media"):
        (folder / name).mkdir(parents=True)
    settings = {"title": EVERYTHING, "currency": "GBP", "publish": {"hide": ["batch"]}}
    (folder / "book.yaml").write_text(_yaml(settings), "utf-8")
    for name, terms in _vocabulary().items():
        (folder / "vocabulary" / f"{name}.yaml").write_text(_yaml(terms), "utf-8")
    (folder / "families" / f"{_FAMILY}.md").write_text(_body(EVERYTHING), "utf-8")
    (folder / "media" / FILE).write_bytes(b"not a picture")
    numbers = ("valueOf", "constructor", "toString", "hasOwnProperty", "watch")
    attacks = (EVERYTHING, *(" ".join(ATTACKS[place::4]) for place in range(4)))
    for place, (number, attack) in enumerate(zip(numbers, attacks, strict=True)):
        note = _front_matter(number, attack, 1 + place, finished=place != 3)
        text = f"---\n{_yaml(note)}\n---\n{_body(attack)}"
        (folder / "cases" / "2024" / f"{number}.md").write_text(text, "utf-8")
    return folder
