"""The trend's p-value beside an enumeration of every outcome with SciPy's probabilities.

Source: `scipy.stats.multivariate_hypergeom`, which gives the probability of each way the cases can
fall on the years when they are dealt out to the visits at random.
"""

from itertools import product

import pytest
from scipy.stats import multivariate_hypergeom

from kb.faults.trend import History, joint_trend, trend


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


@pytest.mark.parametrize(
    "families",
    [
        [({2021: 3, 2022: 4}, {2022: 2}), ({2020: 2, 2021: 1, 2022: 3}, {2021: 1, 2022: 2})],
        [({2019: 6, 2022: 2}, {2019: 1, 2022: 2}), ({2018: 3, 2022: 3}, {2022: 1})],
        [({2020: 4}, {2020: 2}), ({2020: 2, 2021: 5}, {2021: 3}), ({2021: 3}, {})],
    ],
)
def test_families_together_agree_with_every_outcome_of_each_weighed_by_scipy(families) -> None:
    outcomes: dict[int, float] = {0: 1.0}
    for visits, found in families:
        years, intake = list(visits), list(visits.values())
        after: dict[int, float] = {}
        for counts in product(*(range(n + 1) for n in intake)):
            if sum(counts) == sum(found.values()):
                p = float(multivariate_hypergeom.pmf(x=counts, m=intake, n=sum(counts)))
                at = sum(year * n for year, n in zip(years, counts, strict=True))
                for sum_so_far, chance in outcomes.items():
                    after[sum_so_far + at] = after.get(sum_so_far + at, 0.0) + p * chance
        outcomes = after
    observed = sum(year * n for _, found in families for year, n in found.items())
    below = sum(p for at, p in outcomes.items() if at < observed)
    above = sum(p for at, p in outcomes.items() if at > observed)
    expected = 2 * min(below, above) + outcomes[observed]
    answer = joint_trend([History(*f) for f in families])
    assert answer.p == pytest.approx(expected, rel=1e-9)
