"""The posterior against a published Bayesian network, where independence holds and where not.

The chest clinic: S. L. Lauritzen & D. J. Spiegelhalter, Local computations with probabilities on
graphical structures and their application to expert systems, J. R. Statist. Soc. B 50 (1988)
157-224. Its tables as the package pgmpy 1.1.2 (MIT) carries them in
`utils/example_models/asia.bif.gz`; where that package is installed they are compared with it.

The cause is lung cancer, yes or no, and everything else is a check. Given the cause, smoking is
independent of the x-ray, and of a visit to Asia; the x-ray and shortness of breath are not.
"""

from __future__ import annotations

import gzip
import importlib.util
import re
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from kb.faults.counting import counts_of
from kb.faults.experience import Experience, experience_of
from kb.faults.fitting import fit
from kb.faults.ranking import rank
from kb.faults.strengths import BackOff, Strengths
from kb.values import Counts, Evidence, FaultRecord

# P(yes | parents), parents in the order given.
NETWORK: dict[str, tuple[tuple[str, ...], dict[tuple[int, ...], float]]] = {
    "asia": ((), {(): 0.01}),
    "tub": (("asia",), {(1,): 0.05, (0,): 0.01}),
    "smoke": ((), {(): 0.5}),
    "lung": (("smoke",), {(1,): 0.1, (0,): 0.01}),
    "bronc": (("smoke",), {(1,): 0.6, (0,): 0.3}),
    "either": (("lung", "tub"), {(1, 1): 1.0, (0, 1): 1.0, (1, 0): 1.0, (0, 0): 0.0}),
    "xray": (("either",), {(1,): 0.98, (0,): 0.05}),
    "dysp": (("bronc", "either"), {(1, 1): 0.9, (0, 1): 0.7, (1, 0): 0.8, (0, 0): 0.1}),
}
FINDINGS = ("asia", "smoke", "xray", "dysp")
NOTHING = 1e-13
PLAIN = Strengths(
    family=BackOff(NOTHING, 0.0), book=BackOff(NOTHING, 0.0), check=NOTHING, weight=1.0
)


def joint() -> dict[tuple[int, ...], float]:
    """Every state of all eight, in the order of NETWORK, with its probability."""
    found = {}
    for state in product((0, 1), repeat=len(NETWORK)):
        at = dict(zip(NETWORK, state, strict=True))
        p = 1.0
        for name, (parents, table) in NETWORK.items():
            yes = table[tuple(at[parent] for parent in parents)]
            p *= yes if at[name] else 1.0 - yes
        found[state] = p
    return found


JOINT = joint()
PLACE = {name: i for i, name in enumerate(NETWORK)}


def chance(**given: int) -> float:
    return sum(p for s, p in JOINT.items() if all(s[PLACE[n]] == v for n, v in given.items()))


def exact(shown: dict[str, int]) -> float:
    return chance(lung=1, **shown) / chance(**shown)


def endless_book() -> Experience:
    """Counts in the exact proportions of the network."""
    faults = {f"lung-{c}": 1e9 * chance(lung=c) for c in (0, 1)}
    checks = {
        name: {
            str(v): {f"lung-{c}": 1e9 * chance(lung=c, **{name: v}) for c in (0, 1)} for v in (0, 1)
        }
        for name in FINDINGS
    }
    return experience_of(Counts(faults={"clinic": faults}, checks=checks), {}, {}, PLAIN)


def said(book: Experience, shown: dict[str, int]) -> float:
    made = tuple((name, str(v)) for name, v in shown.items())
    answer = rank(book, Evidence("clinic", checks=made))
    found = {c.cause: c.probability for c in answer.causes}
    return found["lung-1"] / (1.0 - answer.unseen)


def errors(book: Experience, names: tuple[str, ...]) -> list[tuple[float, float]]:
    """How probable each state of these findings is, and how far the answer is off there."""
    states = [dict(zip(names, s, strict=True)) for s in product((0, 1), repeat=len(names))]
    return [(chance(**s), abs(said(book, s) - exact(s))) for s in states]


def test_the_network_has_the_published_marginals() -> None:
    """Lauritzen & Spiegelhalter 1988, as worked out from their table 1 (from memory)."""
    published = {"tub": 0.0104, "lung": 0.055, "bronc": 0.45, "either": 0.064828,
                 "xray": 0.11029, "dysp": 0.43597}  # fmt: skip
    for name, p in published.items():
        assert chance(**{name: 1}) == pytest.approx(p, abs=5e-6)


def test_the_tables_are_those_that_a_package_carries() -> None:
    spec = importlib.util.find_spec("pgmpy")
    if spec is None or spec.origin is None:
        pytest.skip("pgmpy is not installed")
    file = Path(spec.origin).parent / "utils" / "example_models" / "asia.bif.gz"
    text = gzip.decompress(file.read_bytes()).decode()
    blocks = re.findall(r"probability \( (\w+)(?: \| ([\w, ]+))? \) \{(.*?)\}", text, re.DOTALL)
    assert {name for name, _, _ in blocks} == set(NETWORK)
    for name, parents, body in blocks:
        assert tuple(parents.split(", ") if parents else ()) == NETWORK[name][0]
        rows = re.findall(r"(?:table|\(([^)]*)\)) ([\d.]+),", body)
        table = {tuple(int(v == "yes") for v in k.split(", ") if k): float(p) for k, p in rows}
        assert table == NETWORK[name][1]


@pytest.mark.parametrize("names", [("smoke", "xray"), ("asia", "smoke"), ("dysp",), ("xray",)])
def test_where_findings_are_independent_given_the_cause_the_posterior_is_exact(
    names: tuple[str, ...],
) -> None:
    assert max(error for _, error in errors(endless_book(), names)) < 1e-9


@pytest.mark.parametrize(
    ("names", "mean", "worst"),
    [
        (("xray", "dysp"), 0.0030, 0.032),
        (("smoke", "dysp"), 0.0108, 0.031),
        (("asia", "xray"), 0.0003, 0.117),
        (FINDINGS, 0.0051, 0.203),
    ],
)
def test_where_they_are_not_the_error_is_what_the_docs_say(
    names: tuple[str, ...], mean: float, worst: float
) -> None:
    found = errors(endless_book(), names)
    assert sum(p * error for p, error in found) == pytest.approx(mean, abs=1e-4)
    assert max(error for _, error in found) == pytest.approx(worst, abs=1e-3)


def drawn_book(patients: int) -> Experience:
    """Patients drawn from the network, strengths and weights fitted to them."""
    rng = np.random.default_rng(4)
    states = list(JOINT)
    drawn = rng.choice(len(states), size=patients, p=list(JOINT.values()))
    records = [
        FaultRecord(
            case=f"{i:05}",
            family="clinic",
            cause=f"lung-{states[s][PLACE['lung']]}",
            checks=tuple((name, str(states[s][PLACE[name]])) for name in FINDINGS),
            at_intake=len(FINDINGS),
        )
        for i, s in enumerate(drawn)
    ]
    return experience_of(counts_of(records), {}, {}, fit(records, {}, {}))


def test_with_weights_fitted_to_patients_it_is_no_further_off_on_average() -> None:
    found = errors(drawn_book(5000), FINDINGS)
    assert sum(p * error for p, error in found) < 0.01
