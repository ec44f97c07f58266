"""The page of a case: the job card, and how the cause was found."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import partial
from itertools import chain

from msgspec import Struct

from kb.notes.case import Case, Fault, Offer, Quantity
from kb.notes.vocabulary import Nominal
from kb.site import wording
from kb.site.addresses import case_page, sheet_page
from kb.site.material import Caution, Material, title_of
from kb.site.names import Link
from kb.site.pages import how_good, study
from kb.site.published_texts import private_looking_in
from kb.site.render import Page
from kb.values import Step, Trail


class Lead(Struct, frozen=True):
    """A cause that the book leaned to at some point; `right` if it was the root cause."""

    cause: Link
    probability: str
    level: str
    right: bool


class StepWarning(Struct, frozen=True):
    """The dangers of one step: spelt out where they are new, named where the page did before."""

    spelt_out: tuple[Caution, ...]
    named: tuple[Caution, ...]
    access: str
    access_is_new: bool


class StepView(Struct, frozen=True):
    """One check on the way to the cause; `moved` if the book leaned otherwise after it."""

    check: Link
    step: Step
    outcome: str
    warning: StepWarning
    ruled_out: tuple[Link, ...]
    leading: tuple[Lead, ...]
    moved: bool


class FaultView(Struct, frozen=True):
    """One fault of the visit, from its symptoms to its fix."""

    fault: Fault
    symptom: tuple[Link, ...]
    seen: tuple[Link, ...]
    absent: tuple[Link, ...]
    at_intake: tuple[Lead, ...]
    steps: tuple[StepView, ...]
    root_cause: Link | None
    confirm: str | None
    cover: str | None
    warning: StepWarning
    took_with_it: tuple[Link, ...]


class ReadingView(Struct, frozen=True):
    """A measured value beside what the family's data say it should be."""

    at: str
    value: Quantity
    when: str
    under: str
    nominal: str


class OfferView(Struct, frozen=True):
    """Work offered to the owner, with the price in words."""

    offer: Offer
    price: str


def pages(material: Material) -> Iterator[Page]:
    """One page per case."""
    for case in material.ledger.cases:
        family = material.names.term("family", case.family).text
        yield Page(
            path=case_page(case.case),
            template="case.html",
            title=f"{title_of(case)}, {case.case}",
            description=f"{family}, received {wording.day(case.received)}: {case.complaint}",
            section="cases",
            values=partial(_values, material, case),
            basis=partial(_basis, material, case),
            looks_private=partial(private_looking_in, case),
        )


def _basis(material: Material, case: Case) -> object:
    later = material.ledger.comebacks.get(case.case, ())
    earlier = material.names.case(case.comeback_of) if case.comeback_of else None
    studied = study.address(material, case.case)
    return case, earlier, material.rows(later), material.prose.basis(case.body), studied


def _values(material: Material, case: Case) -> Mapping[str, object]:
    trails = material.trails(case.case)
    told: set[str] = set()
    page = case_page(case.case)
    return {
        "case": case,
        "heading": title_of(case),
        "state": wording.state(case),
        "family": material.names.term("family", case.family),
        "maker": material.vocabulary.maker_of(case.family),
        "kind": material.vocabulary.kind_of(case.family),
        "symptom": _symptoms(material, (f.symptom for f in case.faults)),
        "seen": _symptoms(material, (f.seen for f in case.faults)),
        "faults": [
            _fault(material, case, fault, trail, told)
            for fault, trail in zip(case.faults, trails, strict=True)
        ],
        "readings": [_reading(material, case, place) for place in range(len(case.readings))],
        "offers": [_offer(offer, material.currency) for offer in case.offered],
        "found_too": material.links("cause", case.found_too),
        "comeback_of": material.names.case(case.comeback_of) if case.comeback_of else None,
        "comebacks": material.rows(material.ledger.comebacks[case.case]),
        "sheet_page": "" if case.is_open else sheet_page(case.case),
        "study_page": study.address(material, case.case),
        "asked": material.asked,
        "how_good_page": how_good.PAGE if material.tells_how_good else "",
        "body": material.prose.html(case.body, case.path, page, title=case.title),
    }


def _symptoms(material: Material, noted: Iterable[tuple[str, ...]]) -> tuple[Link, ...]:
    return material.links("symptom", dict.fromkeys(chain.from_iterable(noted)))


def _fault(material: Material, case: Case, fault: Fault, trail: Trail, told: set[str]) -> FaultView:
    cause = material.vocabulary.causes.get(fault.root_cause or "")
    at_intake = _leads(material, trail.at_intake, fault.root_cause)
    return FaultView(
        fault=fault,
        symptom=material.links("symptom", fault.symptom),
        seen=material.links("symptom", fault.seen),
        absent=material.links("symptom", fault.absent),
        at_intake=at_intake,
        steps=tuple(_steps(material, trail.steps, fault.root_cause, at_intake, told)),
        root_cause=material.names.term("cause", fault.root_cause) if fault.root_cause else None,
        confirm=cause.confirm if cause else None,
        cover=material.vocabulary.cover_of(cause.key, case.family) if cause else None,
        warning=_warning(material, "outside", cause.hazards if cause else (), told),
        took_with_it=material.links("cause", fault.took_with_it),
    )


def _steps(
    material: Material,
    steps: Iterable[Step],
    root_cause: str | None,
    before: tuple[Lead, ...],
    told: set[str],
) -> Iterator[StepView]:
    for step in steps:
        leading = _leads(material, step.leading, root_cause)
        yield StepView(
            check=material.names.term("check", step.check),
            step=step,
            outcome=wording.sentence(wording.words(step.outcome)),
            warning=_warning(material, step.access, step.hazards, told),
            ruled_out=material.links("cause", step.ruled_out),
            leading=leading,
            moved=leading != before[: len(leading)],
        )
        before = leading


def _warning(
    material: Material, access: str, hazards: tuple[str, ...], told: set[str]
) -> StepWarning:
    """The dangers of a step; `told` is what the page has spelt out above, and grows.

    The same six sentences at every step would not be read at any.
    """
    cautions = material.hazard_cautions(hazards)
    made = StepWarning(
        spelt_out=tuple(caution for caution in cautions if caution.key not in told),
        named=tuple(caution for caution in cautions if caution.key in told),
        access=access,
        access_is_new=access not in told,
    )
    told.update([access, *hazards])
    return made


def _leads(
    material: Material, leading: tuple[tuple[str, float], ...], root_cause: str | None
) -> tuple[Lead, ...]:
    return tuple(
        Lead(
            cause=material.names.term("cause", cause),
            probability=wording.percent(probability),
            level=f"{probability * 100:.0f}%",
            right=cause == root_cause,
        )
        for cause, probability in leading
    )


def _reading(material: Material, case: Case, place: int) -> ReadingView:
    reading = case.readings[place]
    state = wording.words(reading.state) if reading.state else ""
    mains = f"mains {wording.quantity(reading.mains)}" if reading.mains else ""
    nominal = _nominal_of(material, case.family, reading.at, reading.state)
    return ReadingView(
        at=reading.at,
        value=reading.value,
        when=wording.words(reading.when) if reading.when else "",
        under=", ".join(filter(None, (state, mains))),
        nominal=wording.nominal(nominal) if nominal else "",
    )


def _nominal_of(material: Material, family: str, at: str, state: str | None) -> Nominal | None:
    """What the point should read in this state, from the family or its nearest line."""
    for term in material.vocabulary.family_chain(family):
        for entry in term.nominal:
            if entry.at == at and entry.state in (None, state):
                return entry
    return None


def _offer(offer: Offer, currency: str) -> OfferView:
    price = wording.price(offer.price, currency) if offer.price is not None else ""
    return OfferView(offer=offer, price=price)
