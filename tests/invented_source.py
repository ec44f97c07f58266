"""A small invented book as the site sees it, tame or with hostile text in every field.

Makers, models, owners and cases are invented. The stems here are a toy: the search box takes its
tables as they are.
"""

from __future__ import annotations

import datetime as dt
import struct
import wave
import zlib
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from invented_answers import (
    AGEING,
    CHARTS,
    COMEBACKS,
    DRAWER,
    NEW,
    READINGS,
    REPLAY,
    RISING,
    WHILE_OPEN,
)
from msgspec import Struct
from msgspec.structs import fields, replace

from kb.bench_tables import bench_tables, counted
from kb.faults.strengths import FIXED
from kb.intake import document_of
from kb.lexicon import symptom_names
from kb.notes.case import (
    Case,
    CheckMade,
    Fault,
    Offer,
    Part,
    Proof,
    Quantity,
    Reading,
    SafetyCheck,
)
from kb.notes.settings import Settings
from kb.notes.vocabulary import Cause, CheckTerm, Family, Nominal, Symptom, Vocabulary
from kb.owner_checks import habits
from kb.owner_sheets import OwnerSheets
from kb.search_tables import search_words
from kb.site import BenchTables, Cautions, SearchWords, Study
from kb.studying import study
from kb.text import Recogniser, TextIndex
from kb.values import Step, Trail
from kb.values_chart import Chart
from kb.values_history import Comebacks, Drawer, WhileOpen
from kb.values_readings import FamilyReadings
from kb.values_replay import Replay
from kb.values_weak import FamilyWeakPoints, Trend, WeakPoint, WeakPoints

HOSTILE = (
    '</title></script><script>window.__pwned=1</script>"><img src=x onerror="window.__pwned=1">'
    "'><svg onload=window.__pwned=1>{{ 7*7 }}{% raw %}${window.__pwned=1}"
    "[go](javascript:window.__pwned=1)![p](https://tracker.example/x.png)<!-- &amp; \u202e\u200f"
    "\x00\x07"
)

VOCABULARY = Vocabulary(
    families={
        "heron": Family(key="heron", label="Heron line", maker="Fenwick & Ash"),
        "heron-20": Family(
            key="heron-20",
            label="Heron 20",
            also=("the little Heron",),
            parent="heron",
            kind="valve instrument amplifier",
            made=(1992, 2003),
            has=("power-valve", "output-transformer"),
            nominal=(
                Nominal("first-filter", Quantity(312, "V"), Quantity(10, "%"), "idle"),
                Nominal("bias-supply", Quantity(-34, "V")),
            ),
            access={"tap-board": "live"},
            covers={"electrolytic-capacitor": "back panel, then the chassis"},
            hazards=("high-voltage", "hot-parts"),
        ),
        "kestrel-500": Family(
            key="kestrel-500",
            label="Kestrel 500",
            kind="bass head with switching supply",
            hazards=("mains", "stored-charge"),
        ),
        "no-visit-yet": Family(key="no-visit-yet", label="Plover rotary cabinet"),
    },
    symptoms={
        "noise": Symptom(key="noise", label="Unwanted noise"),
        "hum": Symptom(key="hum", label="Hum", also=("buzz at 100 Hz",), parent="noise"),
        "crackle-when-warm": Symptom(
            key="crackle-when-warm", label="Crackles once warm", parent="noise"
        ),
        "smell-of-burning": Symptom(
            key="smell-of-burning", label="Smell of burning", first=("look-inside",)
        ),
        "dead": Symptom(key="dead", label="Completely dead"),
    },
    causes={
        "capacitor/failed": Cause(key="capacitor/failed", label="Capacitor failed"),
        "electrolytic-capacitor/high-esr": Cause(
            key="electrolytic-capacitor/high-esr",
            label="Electrolytic capacitor, high series resistance",
            parent="capacitor/failed",
            also=("tired filter capacitor",),
            confirm="A good one clipped across it, power off and discharged, cures the ripple.",
            cover="chassis out",
            hazards=("stored-charge", "high-voltage"),
        ),
        "carbon-resistor/noisy": Cause(
            key="carbon-resistor/noisy",
            label="Carbon resistor, noisy",
            confirm="Freeze it: the noise changes.",
            hazards=("high-voltage",),
        ),
        "fuse/blown": Cause(key="fuse/blown", label="Fuse blown"),
        "socket/loose-contacts": Cause(
            key="socket/loose-contacts", label="Valve socket, loose contacts"
        ),
        "rectifier/shorted": Cause(key="rectifier/shorted", label="Rectifier, shorted"),
        "joint/cracked": Cause(key="joint/cracked", label="Soldered joint, cracked"),
    },
    checks={
        "look-inside": CheckTerm(
            key="look-inside",
            label="Look for burns and bulges",
            access="open",
            minutes=5,
            outcomes=("clean", "burnt-part", "bulging-can"),
            hazards=("stored-charge",),
            how="Unplug, discharge, then look:\n\n- resistors gone brown\n- cans with a raised vent",
        ),
        "tap-board": CheckTerm(
            key="tap-board",
            label="Tap the board with an insulated rod",
            access="live",
            minutes=8,
            outcomes=("fault-changes", "no-change"),
            hazards=("mains", "high-voltage"),
            disturbs=True,
            needs=("powered", "look-inside"),
        ),
        "ripple-first-filter": CheckTerm(
            key="ripple-first-filter",
            label="Ripple on the first filter",
            access="live",
            minutes=10,
            wait=5,
            outcomes=("normal", "high"),
            hazards=("high-voltage",),
        ),
        "swap-lead": CheckTerm(
            key="swap-lead",
            label="Try another mains lead",
            minutes=1,
            outcomes=("cured", "no-change"),
            owner_ok=True,
        ),
        "two-to-lift": CheckTerm(
            key="two-to-lift", label="Turn the cabinet over", access="outside", hazards=("heavy",)
        ),
    },
)

CAUTIONS = Cautions(
    access={
        "open": (
            "Unplug it. Discharge every filter section through an insulated, rated resistor.",
            "Prove the meter, prove the circuit dead, prove the meter again.",
        ),
        "live": ("Trained people only, and not alone.", "One hand, clip-on probes, no jewellery."),
    },
    hazards={
        "mains": "Mains voltage is inside even when the switch is off.",
        "high-voltage": "Several hundred volts: treat every node as live until it is proved dead.",
        "stored-charge": "Capacitors keep their charge and recover some of it.",
        "hot-parts": "Valves and power resistors burn the skin for minutes after switching off.",
        "heavy": "Two people or a trolley.",
    },
    topics={
        "valves": ("Never pull a power valve while it is energised.",),
        "load": ("A valve output stage is never driven without its load.",),
        "ramping-up": ("Reduced mains is not for switching supplies.",),
        "lifting": ("Two people or a trolley; cradle the chassis.",),
    },
)

CASES = (
    Case(
        case="2023-0871",
        family="heron-20",
        received=dt.date(2023, 10, 2),
        complaint="Hums loudly, worse since the summer",
        path="cases/2023/2023-0871.md",
        unit="HR20-51187",
        built="1996",
        modified=("solid-state-rectifier",),
        finished=dt.date(2023, 10, 9),
        closed_as="repaired",
        returned=dt.date(2023, 10, 12),
        faults=(
            Fault(
                symptom=("hum",),
                absent=("crackle-when-warm",),
                reproduced="yes",
                checks=(
                    CheckMade("swap-lead", "no-change", 1),
                    CheckMade("look-inside", "bulging-can", 6, "C1", "vent raised"),
                    CheckMade("ripple-first-filter", "high", 12, "C1", "18 V at 100 Hz"),
                ),
                root_cause="electrolytic-capacitor/high-esr",
                at="C1, first filter",
                confirmed_by="substitution",
                brought_on_by="ageing",
                took_with_it=("fuse/blown",),
                fix=("replace",),
                parts=(Part("47 µF 450 V", "2351"), Part("F 1 A fuse")),
                minutes=70,
            ),
        ),
        proved=Proof(Quantity(60, "min"), ("heat", "tap"), "held"),
        readings=(
            Reading("first-filter", Quantity(281, "V"), "as-found", "idle", Quantity(229, "V")),
            Reading("first-filter", Quantity(318, "V"), "as-left", "idle", Quantity(231, "V")),
            Reading("bias-supply", Quantity(-35.5, "V"), "as-left"),
        ),
        safety=SafetyCheck(
            (("earth-bond", Quantity(0.08, "Ω")), ("insulation", Quantity(200, "MΩ"))), "pass"
        ),
        offered=(
            Offer("Renew the remaining electrolytics", 90, "declined", "can-wait"),
            Offer("New mains lead", 12.5, "accepted", "now"),
        ),
        found_too=("socket/loose-contacts",),
        body="""# Hum at twice the mains frequency

The ripple on the first filter was eighteen volts; see the picture.

![The raised vent of C1](../../media/vent.png "C1 before it came out")

Listen to it: [hum before](../../media/hum.wav).

## What was measured

| point | before | after |
| --- | ---: | :--: |
| first filter | 281 V | 318 V |

##### Afterwards

Compare 2024-0117, and [the other one](../2024/2024-0117.md) of [this family](../../families/heron-20.md).
""",
    ),
    Case(
        case="2024-0117",
        family="heron-20",
        received=dt.date(2024, 3, 4),
        complaint="Crackles on and off once it has been on for a while",
        path="cases/2024/2024-0117.md",
        finished=dt.date(2024, 3, 11),
        closed_as="repaired",
        comeback_of="2023-0871",
        faults=(
            Fault(
                symptom=("crackle-when-warm",),
                seen=("noise",),
                reproduced="sometimes",
                onset=Quantity(12, "min"),
                every=Quantity(20, "min"),
                checks=(
                    CheckMade("look-inside", "clean", 5, serves=(1, 2)),
                    CheckMade("tap-board", "fault-changes", 10, "V2 anode resistor"),
                ),
                root_cause="carbon-resistor/noisy",
                at="V2 anode resistor",
                fix=("replace", "refit"),
                parts=(Part("100 kΩ 1 W metal film"),),
            ),
            Fault(
                symptom=("hum",),
                checks=(CheckMade("look-inside", "clean", 5, serves=(1, 2)),),
                root_cause="joint/cracked",
                fix=("repair",),
                minutes=15,
            ),
        ),
        body="Found by patience. The noise followed the freezer spray.",
    ),
    Case(
        case="2024-0230",
        family="kestrel-500",
        received=dt.date(2024, 6, 1),
        complaint="Went bang, smells",
        path="cases/2024/2024-0230.md",
        waiting="parts",
        unit="KS5-777",
        faults=(
            Fault(
                symptom=("dead", "smell-of-burning"),
                checks=(CheckMade("look-inside", "burnt-part", 4),),
            ),
        ),
    ),
    Case(
        case="2024-0231",
        family="kestrel-500",
        received=dt.date(2024, 6, 1),
        complaint="Cuts out at rehearsals",
        path="cases/2024/2024-0231.md",
        finished=dt.date(2024, 6, 20),
        closed_as="no-fault-found",
        faults=(Fault(reproduced="no", checks=(CheckMade("tap-board", "not-showing", 30),)),),
    ),
    Case(
        case="2024-0300",
        family="kestrel-500",
        received=dt.date(2024, 7, 2),
        complaint="Dead again",
        path="cases/2024/2024-0300.md",
        finished=dt.date(2024, 7, 3),
        closed_as="declined",
        faults=(Fault(symptom=("dead",), root_cause="rectifier/shorted", fix=("none",)),),
    ),
)

WRITEUP = """# Heron 20

A small amplifier that runs hot.

- The first filter ages early.
- Sockets loosen.

![chassis](../media/vent.png)
"""

WEAK_POINTS = WeakPoints(
    (
        FamilyWeakPoints(
            "heron-20",
            "Heron 20",
            19,
            (
                AGEING,
                WeakPoint(
                    cause="joint/cracked",
                    label="Soldered joint, cracked",
                    count=3,
                    share=3 / 19,
                    share_interval=(0.06, 0.38),
                    expected=2.1,
                    ratio=1.2,
                    ratio_low=0.5,
                    flag=False,
                    trend=Trend("steady", 0.7),
                    comebacks=0,
                    comparable_count=6,
                    comparable_cases=60,
                ),
                WeakPoint(
                    cause="carbon-resistor/noisy",
                    label="Carbon resistor, noisy",
                    count=1,
                    share=1 / 19,
                    share_interval=(0.01, 0.25),
                    expected=0.8,
                    ratio=1.0,
                    ratio_low=0.3,
                    flag=False,
                    trend=Trend("steady", 1.0),
                    comebacks=0,
                    comparable_count=0,
                    comparable_cases=0,
                ),
            ),
            visits={2021: 4, 2022: 3, 2023: 6, 2024: 6},
        ),
    ),
    groups=(
        FamilyWeakPoints(
            "heron",
            "Heron line",
            19,
            (AGEING,),
            sort="line",
            members=("heron-20",),
            visits={2021: 4, 2022: 3, 2023: 6, 2024: 6},
        ),
    ),
    since=dt.date(2023, 7, 20),
    new=NEW,
    rising=RISING,
)


class InventedSource:
    """Satisfies `kb.site.Source`; `hide` and the cases can be chosen."""

    def __init__(
        self,
        cases: Sequence[Case] = CASES,
        hide: Sequence[str] = ("unit",),
        media_folder: Path | None = None,
    ) -> None:
        self._cases = list(cases)
        self.hide = hide
        self.media_folder = media_folder
        self.title = "Weaver’s Yard service book"
        self.currency = "GBP"
        self.vocabulary = VOCABULARY
        self.cautions = CAUTIONS
        self._weak_points = WEAK_POINTS
        self._comebacks = COMEBACKS
        self._drawer = DRAWER
        self._readings = READINGS
        self._while_open = WHILE_OPEN
        self._replay = REPLAY
        self._charts = CHARTS
        self._writeup = WRITEUP

    stamp = b"invented"
    basis = "invented"
    asked = None
    replay_since = None

    def cases(self) -> Sequence[Case]:
        return self._cases

    def trail(self, case_number: str) -> Sequence[Trail]:
        case = next(case for case in self._cases if case.case == case_number)
        return [_trail(fault, self.vocabulary) for fault in case.faults]

    def weak_points(self, since: dt.date | None) -> WeakPoints:
        return self._weak_points

    def comebacks(self, family: str) -> Comebacks:
        return self._comebacks

    def drawer(self, family: str | None) -> Drawer:
        if family in (None, "heron-20"):
            return self._drawer
        return replace(self._drawer, repairs=0, without_parts=0, enough=0, spares=())

    def readings(self, family: str) -> FamilyReadings:
        return (
            self._readings
            if family == "heron-20"
            else FamilyReadings(family, family, 230.0, (), 0, (), ())
        )

    def while_open(self, family: str) -> WhileOpen:
        return self._while_open

    def replay(self) -> Replay:
        return self._replay

    def search_words(self, published: Sequence[Case]) -> SearchWords:
        names = Recogniser.prepare(symptom_names(self.vocabulary))
        with TemporaryDirectory() as folder:
            index = TextIndex.open(Path(folder) / "index")
            index.rebuild([document_of(case, self.vocabulary) for case in self._cases], "all")
            cases = {case.case: case for case in self._cases}
            words = search_words(index, cases, published, self.vocabulary, names)
            index.close()
        return words

    def bench_tables(self, published: Sequence[Case]) -> BenchTables:
        return bench_tables(published, self.vocabulary, FIXED)

    def fault_charts(self, published: Sequence[Case]) -> Sequence[Chart]:
        return self._charts

    def study(self, published: Sequence[Case]) -> Study:
        records = counted(published, self.vocabulary).records
        return study(published, records, self.vocabulary, FIXED)

    def owner_sheets(self, published: Sequence[Case]) -> OwnerSheets:
        settings = Settings(title=self.title, currency=self.currency, hide=tuple(self.hide))
        return OwnerSheets(settings, self.vocabulary, habits(published, self.vocabulary))

    def family_writeup(self, family: str) -> str | None:
        return self._writeup if family == "heron-20" else None


def hostile_source(media_folder: Path | None = None) -> InventedSource:
    """The same book with `HOSTILE` in every text that a person writes."""
    source = InventedSource(media_folder=media_folder)
    source.title = f"Book {HOSTILE}"
    source.currency = HOSTILE
    source._cases = [_poisoned(case) for case in CASES]
    source.vocabulary = Vocabulary(
        families={k: _poisoned(v) for k, v in VOCABULARY.families.items()},
        symptoms={k: _poisoned(v) for k, v in VOCABULARY.symptoms.items()},
        causes={k: _poisoned(v) for k, v in VOCABULARY.causes.items()},
        checks={k: _poisoned(v) for k, v in VOCABULARY.checks.items()},
    )
    source._weak_points = _poisoned(WEAK_POINTS)
    source._comebacks = _poisoned(COMEBACKS)
    source._drawer = _poisoned(DRAWER)
    source._readings = _poisoned(READINGS)
    source._while_open = _poisoned(WHILE_OPEN)
    source._replay = _poisoned(REPLAY)
    source._charts = _poisoned(CHARTS)
    source._writeup = f"# {HOSTILE}\n\n{HOSTILE}\n\n```{HOSTILE}\n{HOSTILE}\n```\n"
    return source


_KEYS = frozenset(
    """case family path comeback_of symptom seen absent root_cause took_with_it found_too check key
    parent first access hazards cause needs direction back_as likeliest cases end made""".split()
)


def _poisoned(value: Any, name: str = "") -> Any:
    if name in _KEYS:
        return value
    if isinstance(value, str):
        return f"{value} {HOSTILE}"
    if isinstance(value, dict):
        return {
            f"{key} {HOSTILE}" if name in ("covers", "brought_on") else key: _poisoned(item)
            for key, item in value.items()
        }
    if isinstance(value, tuple):
        return tuple(_poisoned(item) for item in value)
    if isinstance(value, Struct):
        changes = {f.name: _poisoned(getattr(value, f.name), f.name) for f in fields(value)}
        return replace(value, **changes)
    return value


def _trail(fault: Fault, vocabulary: Vocabulary) -> Trail:
    """Opinions made up by place, so that every part of a step has something to show."""
    others = [key for key in vocabulary.causes if key != fault.root_cause]
    right = [fault.root_cause] if fault.root_cause else []
    steps = []
    for place, made in enumerate(fault.checks):
        leading = [*right, *others][:3]
        term = vocabulary.checks[made.check]
        steps.append(
            Step(
                check=made.check,
                label=term.label,
                outcome=made.outcome,
                minutes=made.minutes,
                at=made.at,
                note=made.note,
                access=term.access,
                hazards=term.hazards,
                ruled_out=tuple(others[place : place + 1]),
                leading=tuple(zip(leading, (0.4 + 0.1 * place, 0.2, 0.004), strict=False)),
            )
        )
    return Trail(
        at_intake=tuple(zip(others[:3], (0.31, 0.2, 0.09), strict=False)), steps=tuple(steps)
    )


def make_media(book: Path) -> Path:
    """A media folder with a picture of one dot and a clip of silence."""
    media = book / "media"
    media.mkdir()
    (media / "vent.png").write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + _png_chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
        + _png_chunk(b"IDAT", zlib.compress(b"\x00\x00"))
        + _png_chunk(b"IEND", b"")
    )
    with wave.open(str(media / "hum.wav"), "wb") as clip:
        clip.setnchannels(1)
        clip.setsampwidth(1)
        clip.setframerate(8000)
        clip.writeframes(bytes(80))
    return media


def _png_chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
