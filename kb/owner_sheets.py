"""The owner's sheet: a case told to the person whose unit it is, with what is hidden taken out.

It is made from the published part of one note and the vocabulary. Of other cases only one thing is
asked: which harmless checks were made on such symptoms. Never on it: the note's body, remarks
beside checks, batches, readings, minutes, other cases, and how often something fails.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

from msgspec.structs import replace

from kb import cautions
from kb import owner_words as said
from kb.errors import BenchbookError
from kb.indexing import Index
from kb.notes.case import Case, Fault, Offer, Proof
from kb.notes.settings import Settings
from kb.notes.vocabulary import CheckTerm, Term, Vocabulary
from kb.owner_checks import Habits, dangers, fitting, habits
from kb.site import HideError
from kb.site.markdown import Prose
from kb.site.media import Media
from kb.site.names import Names
from kb.site.redaction import without
from kb.store import reading
from kb.values_owner import (
    Explained,
    OwnerSheet,
    SheetCheck,
    SheetFault,
    SheetMeasured,
    SheetOffer,
)

MOST_TERMS = 6
"""a sheet is one page"""
_SAFETY_WORK = re.compile(rf"\b(?:{said.SAFETY_WORK})\b", re.IGNORECASE)
_GLOSSARY = {
    word: Explained(term, meaning)
    for words, term, meaning in said.GLOSSARY
    for word in words.split()
}
_WORD = re.compile(r"[\w#]+")
_DIGITS = re.compile(r"\d+")
_ORDER = ("now", "soon", None)


def owner_sheet(index: Index, words: Vocabulary, settings: Settings, case: Case) -> OwnerSheet:
    """The sheet of a case of this book. Raises BenchbookError where `publish.hide` forbids one."""
    if "finished" in settings.hide:
        # Without it nobody could tell a unit that is done from one on the bench.
        raise _needs("finished")
    try:
        published = without(case, settings.hide)
        symptoms = dict.fromkeys(
            above for key in published.symptoms for above in words.symptom_ancestors(key)
        )
        with index.store.reading() as connection:
            numbers = (
                reading.filtered_numbers(connection, symptoms=tuple(symptoms)) if symptoms else ()
            )
            alike = reading.all_cases(connection, numbers)
        known = habits((without(one, settings.hide) for one in alike), words)
    except HideError as fault:
        raise _needs(fault.key) from fault
    return OwnerSheets(settings, words, known).of(published)


class OwnerSheets:
    """Makes the sheets of a book; `known` are the checks that are made on its symptoms."""

    def __init__(self, settings: Settings, words: Vocabulary, known: Habits) -> None:
        self._settings = settings
        self._words = words
        self._known = known
        self._safety_hidden = not {"safety", "result"}.isdisjoint(settings.hide)
        self._prose = Prose(Names(words, ()), Media(None))
        self._told: dict[str, SheetCheck] = {}
        self._fit: dict[tuple[str, tuple[str, ...]], tuple[CheckTerm, ...]] = {}

    def of(self, case: Case) -> OwnerSheet:
        """The sheet of a case from which everything hidden has been taken out."""
        words = self._words
        family = words.families.get(case.family)
        offers = [_offer(offer) for offer in case.offered if offer.do]
        offers.sort(key=lambda one: _ORDER.index(one.urgency) if one.urgency in _ORDER else 3)
        declined = [one for one in offers if one.owner == "declined"]
        standing = [one for one in offers if one.owner != "declined"]
        keep_off = () if case.is_open else tuple(self._keep_off(case, declined))
        checks, checks_said = ((), "") if case.is_open else self._checks(case, bool(keep_off))
        faults = tuple(self._fault(fault, case) for fault in case.faults)
        safety = case.safety
        made = OwnerSheet(
            case=case.case,
            book=self._settings.title,
            family=family.label if family else _plain(case.family),
            kind=_plain(words.kind_of(case.family) or ""),
            received=case.received,
            open=case.is_open,
            state=_state(case),
            currency=self._settings.currency,
            unit=case.unit,
            built=case.built,
            finished=case.finished,
            returned=case.returned,
            complaint=case.complaint,
            faults=faults,
            found_too=self._explained(case.found_too),
            proved=_proved(case.proved),
            recommended=tuple(one for one in standing if one.urgency != "can-wait"),
            can_wait=tuple(one for one in standing if one.urgency == "can-wait"),
            declined=tuple(one for one in declined if not one.for_safety),
            declined_safety=tuple(one for one in declined if one.for_safety),
            safety=tuple(
                SheetMeasured(said.MEASURED.get(what, _sentence(_plain(what))), str(value))
                for what, value in (safety.measured if safety else ())
                if what not in self._settings.hide
            ),
            safety_result=safety.result if safety else None,
            safety_said=self._safety_said(case),
            keep_off=keep_off,
            checks=checks,
            checks_said=checks_said,
            keep_closed=() if case.is_open else tuple(self._keep_closed(case)),
        )
        return _with_glossary(made)

    def rests_on(self, case: Case) -> tuple[str, ...]:
        """The checks that other cases propose for the sheet of this one."""
        return tuple(check.key for check in self._fitting(case))

    def _fitting(self, case: Case) -> tuple[CheckTerm, ...]:
        """The checks for its owner, which are the same for all cases with these symptoms."""
        of = case.family, case.symptoms
        if of not in self._fit:
            self._fit[of] = fitting(*of, self._known, self._words)
        return self._fit[of]

    def _fault(self, fault: Fault, case: Case) -> SheetFault:
        symptoms = self._words.symptoms
        return SheetFault(
            symptoms=tuple(
                dict.fromkeys(_label(symptoms, key) for key in (*fault.symptom, *fault.seen))
            ),
            cause=next(iter(self._explained(filter(None, (fault.root_cause,)))), None),
            place=fault.at or "",
            brought_on_by=said.BROUGHT_ON_BY.get(fault.brought_on_by or "", ""),
            damage=self._explained(fault.took_with_it),
            done=_done(fault, case.is_open),
            parts=tuple(part.part for part in fault.parts if part.part),
            confirmed=said.CONFIRMED_BY.get(fault.confirmed_by or "", ""),
        )

    def _explained(self, causes: Iterable[str]) -> tuple[Explained, ...]:
        return tuple(
            Explained(_label(self._words.causes, key), explanation(key, self._words))
            for key in dict.fromkeys(causes)
        )

    def _safety_said(self, case: Case) -> str:
        if case.safety and case.safety.result:
            return said.RESULT.get(case.safety.result, f"Result: {case.safety.result}.")
        # What is hidden may well have been measured: then nothing is said about it.
        if case.is_open or self._safety_hidden:
            return ""
        if case.safety and case.safety.measured:
            return "Nobody noted whether it passed: ask us before you use it."
        return "No safety measurement was noted for this visit: ask us about it."

    def _keep_off(self, case: Case, declined: Sequence[SheetOffer]) -> Iterator[str]:
        """Why it must not be plugged in, as far as the note says."""
        passed = case.safety is not None and case.safety.result == "pass"
        danger = bool(dangers(case, self._words))
        if case.safety and case.safety.result == "fail":
            yield "It did not pass our safety measurements."
        if case.closed_as in ("declined", "beyond-repair", "referred"):
            if danger:
                yield "It came in with a sign of danger, and that has not been put right."
            elif not passed:
                unsure = "" if self._safety_hidden else ", and it was not measured as safe"
                yield f"The fault has not been put right{unsure}."
        elif case.closed_as == "no-fault-found" and danger and not passed:
            yield "It came in with a sign of danger, for which no reason was found."
        if any(one.urgency == "now" for one in declined):
            yield "Work that it needs before it is used was declined."

    def _checks(self, case: Case, keep_off: bool) -> tuple[tuple[SheetCheck, ...], str]:
        if keep_off:
            return (), "Nothing: leave it unplugged."
        if dangers(case, self._words):
            return (), (
                "Nothing: what it came in for can be a sign of danger. If it shows again, go by "
                "what stands under “What you must not do”."
            )
        fit = self._fitting(case)
        if not fit:
            return (), "Nothing from outside tells more here. If it does it again, ask us."
        return tuple(map(self._check, fit)), "If it does it again, with everything left closed:"

    def _check(self, check: CheckTerm) -> SheetCheck:
        if check.key not in self._told:
            self._told[check.key] = self._worded(check)
        return self._told[check.key]

    def _worded(self, check: CheckTerm) -> SheetCheck:
        return SheetCheck(
            check=check.key,
            label=check.label,
            how=self._prose.plain(check.how) if check.how else "",
            cautions=tuple(
                said.BESIDE_A_CHECK[hazard]
                for hazard in check.hazards
                if hazard in said.BESIDE_A_CHECK
            ),
        )

    def _keep_closed(self, case: Case) -> Iterator[str]:
        hazards = self._words.hazards_of(case.family) or cautions.WORST
        # A unit whose hazards are noted in part still hangs on the mains and keeps a charge.
        named = [key for key in said.INSIDE if key in hazards or key in ("mains", "stored-charge")]
        inside = "; ".join(said.INSIDE[key] for key in named)
        yield said.KEEP_CLOSED.format(inside=inside)
        yield said.SAME_FUSE
        yield said.DANGER_AGAIN
        yield cautions.LOCAL_CODES


def explanation(cause: str, words: Vocabulary) -> str:
    """What a cause, or what it is a kind of, means in plain words; empty if nobody wrote it."""
    seen: set[str] = set()
    key: str | None = cause
    while key and key not in seen:
        seen.add(key)
        item, _, mechanism = key.partition("/")
        if item in said.ITEMS and mechanism in said.MECHANISMS:
            return f"{said.ITEMS[item]}. {_sentence(said.MECHANISMS[mechanism])}."
        key = words.causes[key].parent if key in words.causes else None
    return ""


def _needs(key: str) -> BenchbookError:
    return BenchbookError(
        f"publish.hide: an owner's sheet cannot be written without `{key}`", "see book.yaml"
    )


def _state(case: Case) -> str:
    if case.is_open:
        return " ".join(filter(None, ("Still on the bench.", said.WAITING.get(case.waiting or ""))))
    return said.CLOSED_AS.get(case.closed_as or "", "Finished.")


def _done(fault: Fault, is_open: bool) -> str:
    if fault.fix == ("none",):
        return "" if is_open else "We did nothing to it."
    done = [said.FIX[fix] for fix in fault.fix if fix in said.FIX]
    return f"We {', '.join(done[:-1])}{' and ' if done[1:] else ''}{done[-1]}." if done else ""


def _proved(proof: Proof | None) -> str:
    if proof is None or not (proof.run or proof.under or proof.result):
        return ""
    run = f"Afterwards it ran for {proof.run}" if proof.run else "Afterwards it was tried"
    under = ", ".join(said.UNDER.get(key, key) for key in proof.under)
    held, _, more = (proof.result or "").partition(", ")
    if held == "held":
        result = f", and the fault stayed away{f': {more}' if more else ''}"
    else:
        result = f"; result: {proof.result}" if proof.result else ""
    return f"{run}{f' ({under})' if under else ''}{result}."


def _offer(offer: Offer) -> SheetOffer:
    urgency = said.URGENCY.get(offer.urgency or "", "")
    return SheetOffer(
        do=_sentence(offer.do),
        price=offer.price,
        urgency=offer.urgency,
        owner=offer.owner,
        said=" ".join(filter(None, (urgency, said.ANSWER.get(offer.owner or "", "")))),
        for_safety=offer.urgency == "now" or bool(_SAFETY_WORK.search(offer.do)),
    )


def _with_glossary(sheet: OwnerSheet) -> OwnerSheet:
    """The sheet with the terms that occur on it and are explained nowhere else on it."""
    causes = [*sheet.found_too]
    for fault in sheet.faults:
        causes += [*filter(None, (fault.cause,)), *fault.damage]
    explained = _terms(one.label for one in causes if one.words)
    found = _terms(
        chain(
            *((*fault.symptoms, fault.place, *fault.parts) for fault in sheet.faults),
            (one.label for one in causes if not one.words),
            (one.do for one in _offers(sheet)),
            (text for one in sheet.checks for text in (one.label, one.how)),
            (one.value for one in sheet.safety),
        )
    )
    new = [term for term in found if term not in explained]
    return replace(sheet, glossary=tuple(new[:MOST_TERMS]))


def _terms(texts: Iterable[str]) -> dict[Explained, None]:
    """The terms of the glossary in these texts, in the order they come up."""
    words = _WORD.findall(_DIGITS.sub("#", " ".join(texts).lower()))
    return dict.fromkeys(_GLOSSARY[word] for word in words if word in _GLOSSARY)


def _offers(sheet: OwnerSheet) -> tuple[SheetOffer, ...]:
    return (*sheet.recommended, *sheet.can_wait, *sheet.declined, *sheet.declined_safety)


def _label(terms: Mapping[str, Term], key: str) -> str:
    return terms[key].label if key in terms else _plain(key)


def _plain(key: str) -> str:
    return key.replace("-", " ")


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
