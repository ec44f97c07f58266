"""The trend's p-value beside an enumeration of every outcome with SciPy's probabilities.

Source: `scipy.stats.multivariate_hypergeom`, which gives the probability of each way the cases can
fall on the years when they are dealt out to the visits at random.
"""

from itertools import product

import pytest
from scipy.stats import multivariate_hypergeom

from kb.faults.trend import trend


@pytest.mark.parametrize(
    ("visits", "found"),
    [
        ({2021: 3, 2022: 4, 2023: 5}, {2022: 1, 2023: 3}),
        ({2019: 2, 2020: 2, 2021: 2, 2022: 2, 2023: 2, 2024: 3}, {2022: 1, 2023: 1, 2024: 3}),
        ({2019: 6, 2020: 1, 2023: 9, 2024: 4}, {2019: 4, 2020: 1, 2023: 1}),
        ({2020: 7, 2024: 8}, {2020: 2, 2024: 5}),
        ({2018: 4, 2019: 4, 2020: 4, 2021: 4}, {2018: 4, 2019: 3}),
        ({2018: 4, 2019: 4, 2020: 4, 2021: 4}, {2018: 2, 2019: 2, 2020: 2, 2021: 2}),
    ],
)
def test_the_mid_p_value_agrees_with_every_outcome_weighed_by_scipy(
    visits: dict[int, int], found: dict[int, int]
) -> None:
    years = list(visits)
    cases = sum(found.values())
    intake = list(visits.values())
    observed = sum(year * n for year, n in found.items())
    below = above = equal = 0.0
    for counts in product(*(range(n + 1) for n in intake)):
        if sum(counts) == cases:
            p = float(multivariate_hypergeom.pmf(x=counts, m=intake, n=cases))
            at = sum(year * n for year, n in zip(years, counts, strict=True))
            below += p * (at < observed)
            above += p * (at > observed)
            equal += p * (at == observed)
    assert below + above + equal == pytest.approx(1.0)
    expected = 2 * min(below + equal / 2, above + equal / 2)
    answer = trend(visits, found)
    assert answer.p == pytest.approx(expected, rel=1e-9)
    if expected < 0.05:
        assert answer.direction == ("rising" if above < below else "falling")
