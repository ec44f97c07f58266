"""The expected bits of a check against scikit-learn and SciPy, on the full joint table."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import entropy
from sklearn.metrics import mutual_info_score

from kb.faults.experience import experience_of
from kb.faults.information import Beliefs, expect
from kb.faults.likelihood import rate
from kb.faults.ranking import rank
from kb.faults.strengths import Strengths
from kb.values import Counts, Evidence


def drawn(seed: int) -> Counts:
    rng = np.random.default_rng(seed)
    causes = [f"cause-{i}" for i in range(8)]

    def row(share: float) -> dict[str, float]:
        return {c: float(n) for c in causes if rng.random() < share and (n := rng.integers(1, 9))}

    return Counts(
        faults={"drum": {c: float(rng.integers(1, 9)) for c in causes}},
        checks={f"check-{i}": {f"o{j}": row(0.6) for j in range(2 + i % 3)} for i in range(6)},
    )


@pytest.mark.parametrize("seed", range(6))
def test_bits_are_the_mutual_information_of_cause_and_outcome(seed: int) -> None:
    book = experience_of(drawn(seed), {}, {}, Strengths(weight=1.0))
    ranking = rank(book, Evidence(family="drum", checks=(("check-0", "o0"),)))
    beliefs = Beliefs.of(ranking)
    p = np.array([*(c.probability for c in ranking.causes), ranking.unseen])
    for check in ("check-1", "check-2", "check-3", "check-4", "check-5"):
        rates = book.check_rates(check)
        given = np.array(
            [
                [rate(row.of(c.cause)) for c in ranking.causes] + [row.of_unseen(1.0)]
                for row in rates.values()
            ]
        )
        joint = given * p
        found = expect(book, beliefs, check)
        assert joint.sum() == pytest.approx(1.0, abs=1e-12)
        assert list(found.outcomes.values()) == pytest.approx(list(joint.sum(axis=1)), abs=1e-12)
        # scikit-learn takes whole numbers of cases: a thousand million of them.
        cases = np.rint(joint * 1e9).astype(np.int64)
        in_bits = mutual_info_score(None, None, contingency=cases) / np.log(2)
        assert found.bits == pytest.approx(in_bits, abs=1e-6)
        left = sum(row.sum() * entropy(row, base=2) for row in joint)
        assert found.bits == pytest.approx(entropy(p, base=2) - left, abs=1e-10)
