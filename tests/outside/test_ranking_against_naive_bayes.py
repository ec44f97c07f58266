"""The posterior against a worked example in a textbook and an independent implementation.

Weather data and the worked example: Witten & Frank, Data Mining, 2nd ed. 2005, section 4.2
(sunny, cool, high, windy: 20.5 % yes, 79.5 % no, without smoothing).
Independent implementation: scikit-learn's CategoricalNB.
"""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.naive_bayes import CategoricalNB

from kb.faults.experience import Experience, experience_of
from kb.faults.ranking import rank
from kb.faults.strengths import BackOff, Strengths
from kb.values import Counts, Evidence

# outlook, temperature, humidity, windy, play
WEATHER = [
    row.split()
    for row in """
    sunny hot high false no
    sunny hot high true no
    overcast hot high false yes
    rainy mild high false yes
    rainy cool normal false yes
    rainy cool normal true no
    overcast cool normal true yes
    sunny mild high false no
    sunny cool normal false yes
    rainy mild normal false yes
    sunny mild normal true yes
    overcast mild high true yes
    overcast hot normal false yes
    rainy mild high true no
    """.strip().splitlines()
]
FEATURES = ("outlook", "temperature", "humidity", "windy")
NOTHING = 1e-13
NO_BACK_OFF = BackOff(theta=NOTHING, discount=0.0)
"""The strengths at which the models coincide: no shrinkage, full weight, nothing unseen."""
PLAIN = Strengths(
    family=NO_BACK_OFF, book=NO_BACK_OFF, symptom=NOTHING, check=NOTHING, word=NOTHING, weight=1.0
)


def counted(rows: list[list[str]], features: tuple[str, ...], strengths: Strengths) -> Experience:
    """Each row as a fault: every feature a check with its outcome, the last column the cause."""
    faults: dict[str, float] = {}
    checks: dict[str, dict[str, dict[str, float]]] = {feature: {} for feature in features}
    for *values, cause in rows:
        faults[cause] = faults.get(cause, 0.0) + 1.0
        for feature, value in zip(features, values, strict=True):
            row = checks[feature].setdefault(value, {})
            row[cause] = row.get(cause, 0.0) + 1.0
    return experience_of(Counts(faults={"day": faults}, checks=checks), {}, {}, strengths)


def posterior(book: Experience, features: tuple[str, ...], values: list[str]) -> dict[str, float]:
    """The probabilities of the known causes alone."""
    made = tuple(zip(features, values, strict=True))
    ranking = rank(book, Evidence(family="day", checks=made))
    seen = 1.0 - ranking.unseen
    return {c.cause: c.probability / seen for c in ranking.causes}


def test_the_worked_weather_example_of_witten_and_frank() -> None:
    found = posterior(
        counted(WEATHER, FEATURES, PLAIN), FEATURES, ["sunny", "cool", "high", "true"]
    )
    assert round(100 * found["yes"], 1) == 20.5
    assert round(100 * found["no"], 1) == 79.5
    likelihood = {
        "yes": 2 / 9 * 3 / 9 * 3 / 9 * 3 / 9 * 9 / 14,
        "no": 3 / 5 / 5 * 4 / 5 * 3 / 5 * 5 / 14,
    }
    assert found["yes"] == pytest.approx(likelihood["yes"] / sum(likelihood.values()), abs=1e-11)


def test_every_weather_day_agrees_with_scikit_learn() -> None:
    coded = np.array(
        [[sorted({r[i] for r in WEATHER}).index(row[i]) for i in range(4)] for row in WEATHER]
    )
    play = np.array([row[4] for row in WEATHER])
    # Without smoothing "overcast" never goes with "no": both sides get the same small floor.
    peer = CategoricalNB(alpha=1e-10).fit(coded, play)
    book = counted(WEATHER, FEATURES, PLAIN)
    for row, expected in zip(WEATHER, peer.predict_proba(coded), strict=True):
        found = posterior(book, FEATURES, row[:4])
        assert [found["no"], found["yes"]] == pytest.approx(list(expected), abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_random_data_agrees_with_scikit_learn(seed: int) -> None:
    rng = np.random.default_rng(seed)
    features = tuple(f"check-{i}" for i in range(6))
    causes = rng.choice(5, size=400, p=[0.4, 0.3, 0.15, 0.1, 0.05])
    coded = np.array(
        [
            [rng.choice(3, p=np.roll([0.6, 0.25, 0.15], c * (i % 3))) for i in range(6)]
            for c in causes
        ]
    )
    peer = CategoricalNB(alpha=1e-10).fit(coded, causes)
    rows = [[str(v) for v in row] + [str(c)] for row, c in zip(coded, causes, strict=True)]
    book = counted(rows, features, PLAIN)
    asked = rng.integers(0, 3, size=(50, 6))
    for question, expected in zip(asked, peer.predict_proba(asked), strict=True):
        found = posterior(book, features, [str(v) for v in question])
        assert [found[str(c)] for c in range(5)] == pytest.approx(list(expected), abs=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_shrunk_rates_agree_with_scikit_learn_given_the_same_pseudo_cases(seed: int) -> None:
    """Shrinkage by `a` faults is the same as `a` pseudo-cases at the base rate for every cause."""
    rng = np.random.default_rng(100 + seed)
    strength, size = 1.5, 60
    causes = rng.choice(4, size=size)
    check = rng.integers(0, 3, size=size)
    symptom = rng.integers(0, 2, size=size)
    # Base rates worked out here once more, with NumPy.
    of_cause = np.array([[np.mean(check[causes == c] == o) for o in range(3)] for c in range(4)])
    pool = np.array([np.mean(check == o) for o in range(3)])
    typical = 4 * np.median(of_cause, axis=0) + pool
    typical /= typical.sum()
    noted = (symptom.sum() + 0.5) / (size + 1)

    cells = [(o, s) for o in range(3) for s in (0, 1)]
    pseudo = np.array([(o, s, c) for c in range(4) for o, s in cells])
    weight = [strength * typical[o] * (noted if s else 1 - noted) for o, s, _ in pseudo]
    peer = CategoricalNB(alpha=1e-10, class_prior=np.full(4, 0.25)).fit(
        np.vstack([np.column_stack([check, symptom]), pseudo[:, :2]]),
        np.concatenate([causes, pseudo[:, 2]]),
        sample_weight=np.concatenate([np.ones(size), weight]),
    )

    def by_cause(mask: np.ndarray) -> dict[str, float]:
        return {str(c): float(np.sum(causes[mask] == c)) for c in range(4) if c in causes[mask]}

    counts = Counts(
        faults={"day": by_cause(np.full(size, True))},
        checks={"check": {str(o): by_cause(check == o) for o in range(3)}},
        symptoms={"noted": by_cause(symptom == 1)},
    )
    strengths = Strengths(symptom=strength, check=strength, weight=1.0)
    book = experience_of(counts, {}, {}, strengths)
    prior = book.prior("day").causes
    for outcome, present in cells:
        ranking = rank(
            book,
            Evidence(
                family="day",
                symptoms=("noted",) if present else (),
                absent=() if present else ("noted",),
                checks=(("check", str(outcome)),),
            ),
        )
        # The peer's prior is flat: take ours out before comparing.
        flat = {c.cause: c.probability / prior[c.cause] for c in ranking.causes}
        expected = peer.predict_proba([[outcome, present]])[0]
        found = [flat[str(c)] / sum(flat.values()) for c in range(4)]
        assert found == pytest.approx(list(expected), abs=1e-9)
