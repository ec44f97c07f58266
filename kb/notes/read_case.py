"""Reading one case note: bytes in, a `Case` or its faults with their places out."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TypeVar

import yaml
from msgspec import Struct
from msgspec.structs import replace

from kb.notes import nodes
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
from kb.notes.frontmatter import SplitNote, compose, decode, split
from kb.notes.limits import LARGEST_BODY
from kb.notes.links import check_links
from kb.notes.problems import Log, Problem, shorten
from kb.notes.vocabulary import NOT_SHOWING, Vocabulary

CASE_NUMBER = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_DEVICES = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9])(?:\..*)?", re.I)

MOST_FAULTS = 50
CLOSED_AS = ("repaired", "no-fault-found", "declined", "beyond-repair", "referred")
CONFIRMED_BY = ("substitution", "measurement", "inspection", "operation", "assumed")
BROUGHT_ON_BY = (
    "ageing", "wear", "misuse", "mishandling", "manufacture", "design", "earlier-repair",
    "liquid", "transport",
)  # fmt: skip
FIXES = ("replace", "repair", "modify", "adjust", "refit", "service", "overhaul", "none")

_VISIT_KEYS = (
    "case", "family", "received", "complaint", "unit", "built", "modified", "waiting", "finished",
    "closed_as", "proved", "readings", "safety", "offered", "found_too", "returned", "comeback_of",
    "private", "checks",
)  # fmt: skip
_FAULT_KEYS = (
    "symptom", "seen", "absent", "reproduced", "onset", "every", "checks", "root_cause", "at",
    "confirmed_by", "brought_on_by", "took_with_it", "fix", "parts", "minutes",
)  # fmt: skip
_ONE_FAULT = (*dict.fromkeys((*_VISIT_KEYS, *_FAULT_KEYS)), "faults")
_MIXED = {
    key: f"'{key}' belongs inside an entry of 'faults' when a visit has several faults"
    for key in _FAULT_KEYS
    if key != "checks"
}

Fields = Mapping[str, yaml.Node]
T = TypeVar("T")


class NoteRead(Struct, frozen=True):
    """What one note gave. `case` is None if it has an error; `number_at` is where it stands."""

    file: str
    case: Case | None
    problems: tuple[Problem, ...]
    number_at: tuple[int, int] = (1, 1)
    comeback_at: tuple[int, int] = (1, 1)


def read_case(
    file: str, data: bytes, vocabulary: Vocabulary, book_folder: Path | None = None
) -> NoteRead:
    """Read the note at `file` (path inside the book, with `/`).

    `book_folder` is where media links are looked up; without it they are not checked on disk.
    Never raises for anything a note can contain.
    """
    log = Log(file)
    text = decode(data, log)
    parts = split(text, log) if text is not None else None
    if parts is None:
        return NoteRead(file, None, tuple(log.problems))
    if len(parts.body) > LARGEST_BODY:
        log.at(parts.body_line, 1, f"the text has more than {LARGEST_BODY:,} characters: too long")
        return NoteRead(file, None, tuple(log.problems))
    log.first_line = parts.yaml_line
    root = compose(parts.yaml, log)
    if root is None:
        if not log.failed:
            log.at(parts.yaml_line, 1, "the front matter has no keys")
        return NoteRead(file, None, tuple(log.problems))
    nodes.warn_lost_comments(parts.yaml, root, log)
    reader = _Reader(log, vocabulary)
    case = reader.visit(root, file, parts)
    check_links(file, parts.body, parts.body_line, log, book_folder)
    return NoteRead(
        file,
        None if log.failed else case,
        tuple(log.problems),
        reader.number_at,
        reader.comeback_at,
    )


class _Reader:
    """Turns the nodes of one note into values; the schema is the code, in the order of the docs."""

    def __init__(self, log: Log, vocabulary: Vocabulary) -> None:
        self.log = log
        self.vocabulary = vocabulary
        self.number_at = self.comeback_at = (log.first_line, 1)

    # ------------------------------------------------------------ the visit

    def visit(self, root: yaml.Node, file: str, parts: SplitNote) -> Case | None:
        log = self.log
        several = _has_key(root, "faults")
        known = (*_VISIT_KEYS, "faults") if several else _ONE_FAULT
        found = nodes.fields(root, log, "the note", known, _MIXED if several else {})
        if not isinstance(root, yaml.MappingNode):
            return None
        for key in ("case", "family", "received", "complaint"):
            if key not in found:
                log.at(log.first_line, 1, f"the needed key '{key}' is missing")
        number = self._number(found)
        family = self._term(found, "family", "family", self.vocabulary.families)
        received = self._get(found, "received", nodes.date)
        complaint = self._get(found, "complaint", nodes.text)
        faults = self._faults(found) if several else (self._fault(found),)
        if "private" in found and not isinstance(found["private"], yaml.MappingNode):
            log.error(found["private"].start_mark, "'private' must be a mapping (key: value)")
        if "comeback_of" in found:
            self.comeback_at = self._place(found["comeback_of"])
        case = Case(
            case=number or "",
            family=family or "",
            received=received or dt.date.min,
            complaint=complaint or "",
            path=file,
            faults=faults,
            unit=self._get(found, "unit", nodes.text),
            built=self._get(found, "built", nodes.year_or_date),
            modified=self._many(found, "modified", nodes.text),
            waiting=self._choice(found, "waiting", ("parts", "owner", "time")),
            finished=self._get(found, "finished", nodes.date),
            closed_as=self._choice(found, "closed_as", CLOSED_AS),
            proved=self._get(found, "proved", self._proof),
            readings=nodes.items(found["readings"], log, "'readings'", self._reading)
            if "readings" in found
            else (),
            safety=self._get(found, "safety", self._safety),
            offered=nodes.items(found["offered"], log, "'offered'", self._offer)
            if "offered" in found
            else (),
            found_too=self._terms(found, "found_too", "cause", self.vocabulary.causes),
            returned=self._get(found, "returned", nodes.date),
            comeback_of=self._get(found, "comeback_of", nodes.text),
            body=parts.body.strip("\n"),
        )
        self._check_dates(case, found)
        return self._closed(case, found)

    def _number(self, found: Fields) -> str | None:
        number = self._get(found, "case", nodes.text)
        if number is None:
            return None
        node = found["case"]
        self.number_at = self._place(node)
        if not CASE_NUMBER.fullmatch(number) or number.endswith(".") or len(number) > 64:
            self.log.error(
                node.start_mark,
                f"'{shorten(number)}' is no case number: letters, digits, '.', '_' and '-', "
                "starting with a letter or digit, not ending in a dot, at most 64",
            )
            return None
        if _DEVICES.fullmatch(number):
            self.log.error(
                node.start_mark, f"'{number}' cannot be a file name on every system: choose another"
            )
            return None
        return number

    def _check_dates(self, case: Case, found: Fields) -> None:
        if case.received != dt.date.min:
            if case.finished and case.finished < case.received:
                self.log.error(found["finished"].start_mark, "finished before it was received")
            if case.built and case.built[:4] > f"{case.received.year:04d}":
                self.log.error(found["built"].start_mark, "built after it was received")
        if case.returned:
            if case.finished is None and "finished" not in found:
                self.log.error(found["returned"].start_mark, "returned, but 'finished' is missing")
            elif case.finished and case.returned < case.finished:
                self.log.error(found["returned"].start_mark, "returned before it was finished")

    def _closed(self, case: Case, found: Fields) -> Case:
        """Check what closing needs; `closed_as` follows from a root cause if it is not given."""
        log = self.log
        if case.finished is None:
            if case.closed_as:
                log.error(found["closed_as"].start_mark, "closed, but 'finished' is missing")
            return case
        if case.waiting:
            log.error(found["waiting"].start_mark, "a finished case waits for nothing")
        if case.closed_as is None and case.root_causes:
            case = replace(case, closed_as="repaired")
        mark = found["finished"].start_mark
        if case.closed_as is None and "closed_as" not in found and not log.failed:
            log.error(mark, "finished, but neither 'root_cause' and 'fix' nor 'closed_as' is given")
        if case.closed_as == "repaired":
            known = [f for f in case.faults if f.root_cause]
            if not known and not log.failed:
                log.error(mark, "repaired, but 'root_cause' is missing")
            if any(not f.fix for f in known) and not log.failed:
                log.error(mark, "repaired, but 'fix' is missing")
        return case

    # ------------------------------------------------------------ faults

    def _faults(self, found: Fields) -> tuple[Fault, ...]:
        if "faults" not in found:
            self.log.at(self.log.first_line, 1, "'faults' is empty")
            return ()
        node = found["faults"]
        faults = nodes.items(node, self.log, "'faults'", self._fault_entry)
        if isinstance(node, yaml.SequenceNode) and not 1 <= len(node.value) <= MOST_FAULTS:
            self.log.error(node.start_mark, f"'faults' takes 1 to {MOST_FAULTS} faults")
        shared = self._checks(found, several=len(faults)) if "checks" in found else ()
        return tuple(
            replace(fault, checks=(*(c for c in shared if i in c.serves), *fault.checks))
            for i, fault in enumerate(faults, 1)
        )

    def _fault_entry(self, node: yaml.Node, log: Log) -> Fault | None:
        return self._fault(nodes.fields(node, log, "a fault", _FAULT_KEYS))

    def _fault(self, found: Fields) -> Fault:
        words = self.vocabulary
        minutes_of = nodes.quantity("s")
        return Fault(
            symptom=self._terms(found, "symptom", "symptom", words.symptoms),
            seen=self._terms(found, "seen", "symptom", words.symptoms),
            absent=self._terms(found, "absent", "symptom", words.symptoms),
            reproduced=self._choice(found, "reproduced", ("yes", "sometimes", "no")),
            onset=self._get(found, "onset", minutes_of),
            every=self._get(found, "every", minutes_of),
            checks=self._checks(found, several=0) if "checks" in found else (),
            root_cause=self._term(found, "root_cause", "cause", words.causes),
            at=self._get(found, "at", nodes.text),
            confirmed_by=self._choice(found, "confirmed_by", CONFIRMED_BY),
            brought_on_by=self._choice(found, "brought_on_by", BROUGHT_ON_BY),
            took_with_it=self._terms(found, "took_with_it", "cause", words.causes),
            fix=self._many(found, "fix", nodes.choice("fix", FIXES)),
            parts=self._many(found, "parts", self._part),
            minutes=self._get(found, "minutes", nodes.number),
        )

    def _checks(self, found: Fields, several: int) -> tuple[CheckMade, ...]:
        """Checks of one fault, or with `several` faults those at the top that served some."""

        def read(node: yaml.Node, log: Log) -> CheckMade | None:
            known = ("check", "outcome", "minutes", "at", "note")
            only_shared = {"for": "'for' stands only on checks beside a 'faults' list"}
            own = nodes.fields(
                node, log, "a check", (*known, "for") if several else known,
                {} if several else only_shared,
            )  # fmt: skip
            check = self._term(own, "check", "check", self.vocabulary.checks)
            outcome = self._outcome(own, check)
            serves = self._serves(node, own, several) if several else ()
            for key in ("check", "outcome"):
                if key not in own and isinstance(node, yaml.MappingNode):
                    log.error(node.start_mark, f"this check has no '{key}'")
            if check is None or outcome is None:
                return None
            return CheckMade(
                check=check,
                outcome=outcome,
                minutes=self._get(own, "minutes", nodes.number),
                at=self._get(own, "at", nodes.text),
                note=self._get(own, "note", nodes.text),
                serves=serves,
            )

        return nodes.items(found["checks"], self.log, "'checks'", read)

    def _outcome(self, own: Fields, check: str | None) -> str | None:
        outcome = self._get(own, "outcome", nodes.key)
        if outcome is None or check is None or outcome == NOT_SHOWING:
            return outcome
        possible = self.vocabulary.checks[check].outcomes
        if possible and outcome not in possible:
            self.log.unknown(
                own["outcome"].start_mark,
                "outcome",
                outcome,
                (*possible, NOT_SHOWING),
            )
            return None
        return outcome

    def _serves(self, node: yaml.Node, own: Fields, several: int) -> tuple[int, ...]:
        if "for" not in own:
            self.log.error(
                node.start_mark, "a check beside 'faults' needs 'for', such as for: [1, 2]"
            )
            return ()
        numbers = tuple(int(n) for n in nodes.many(own["for"], self.log, nodes.number))
        if any(not 1 <= n <= several for n in numbers):
            self.log.error(own["for"].start_mark, f"'for' counts the faults from 1 to {several}")
        return numbers

    # ------------------------------------------------------------ smaller structures

    def _part(self, node: yaml.Node, log: Log) -> Part | None:
        if isinstance(node, yaml.ScalarNode):
            name = nodes.text(node, log)
            return Part(name) if name else None
        found = nodes.fields(node, log, "a part", ("part", "batch"))
        name = self._needed(node, found, "part", "a part", nodes.text)
        return Part(name, self._get(found, "batch", nodes.text)) if name else None

    def _reading(self, node: yaml.Node, log: Log) -> Reading | None:
        found = nodes.fields(node, log, "a reading", ("at", "value", "when", "state", "mains"))
        at = self._needed(node, found, "at", "a reading", nodes.text)
        value: Quantity | None = self._needed(node, found, "value", "a reading", nodes.quantity())
        if at is None or value is None:
            return None
        return Reading(
            at=at,
            value=value,
            when=self._choice(found, "when", ("as-found", "as-left")),
            state=self._get(found, "state", nodes.text),
            mains=self._get(found, "mains", nodes.quantity("V")),
        )

    def _proof(self, node: yaml.Node, log: Log) -> Proof | None:
        found = nodes.fields(node, log, "'proved'", ("run", "with", "result"))
        return Proof(
            run=self._get(found, "run", nodes.quantity("s")),
            under=self._many(found, "with", nodes.text),
            result=self._get(found, "result", nodes.text),
        )

    def _safety(self, node: yaml.Node, log: Log) -> SafetyCheck | None:
        measured: list[tuple[str, Quantity]] = []
        result: str | None = None
        for key, _, value in nodes.pairs(node, log, "'safety'"):
            if key == "result":
                result = nodes.choice("result", ("pass", "fail"))(value, log)
            elif not nodes.is_blank(value):
                quantity = nodes.quantity()(value, log)
                if quantity:
                    measured.append((key, quantity))
        return SafetyCheck(tuple(measured), result)

    def _offer(self, node: yaml.Node, log: Log) -> Offer | None:
        found = nodes.fields(node, log, "an offer", ("do", "price", "owner", "urgency"))
        do = self._needed(node, found, "do", "an offer", nodes.text)
        if do is None:
            return None
        return Offer(
            do=do,
            price=self._get(found, "price", nodes.number),
            owner=self._choice(found, "owner", ("accepted", "declined", "asked")),
            urgency=self._choice(found, "urgency", ("now", "soon", "can-wait")),
        )

    # ------------------------------------------------------------ getting a field

    def _get(self, found: Fields, key: str, read: nodes.Read[T]) -> T | None:
        return read(found[key], self.log) if key in found else None

    def _needed(
        self, node: yaml.Node, found: Fields, key: str, what: str, read: nodes.Read[T]
    ) -> T | None:
        if key not in found and isinstance(node, yaml.MappingNode):
            self.log.error(node.start_mark, f"{what} needs '{key}'")
        return self._get(found, key, read)

    def _many(self, found: Fields, key: str, read: nodes.Read[T]) -> tuple[T, ...]:
        return nodes.many(found[key], self.log, read) if key in found else ()

    def _choice(self, found: Fields, key: str, options: tuple[str, ...]) -> str | None:
        return self._get(found, key, nodes.choice(f"value of '{key}'", options))

    def _term(self, found: Fields, key: str, what: str, known: Mapping[str, object]) -> str | None:
        return self._get(found, key, nodes.choice(what, known.keys()))

    def _terms(
        self, found: Fields, key: str, what: str, known: Mapping[str, object]
    ) -> tuple[str, ...]:
        return tuple(dict.fromkeys(self._many(found, key, nodes.choice(what, known.keys()))))

    def _place(self, node: yaml.Node) -> tuple[int, int]:
        mark = node.start_mark
        return mark.line + self.log.first_line, mark.column + 1


def _has_key(root: yaml.Node, key: str) -> bool:
    return isinstance(root, yaml.MappingNode) and any(
        isinstance(k, yaml.ScalarNode) and k.value == key for k, _ in root.value
    )
