"""The share's interval beside statsmodels, an independent library.

Source: `statsmodels.stats.proportion.proportion_confint(method="wilson")`.
"""

import pytest
from statsmodels.stats.proportion import proportion_confint

from kb.faults.proportions import wilson


@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
@pytest.mark.parametrize("total", [1, 2, 7, 19, 60, 1000])
def test_the_interval_agrees_with_statsmodels(total: int, level: float) -> None:
    for count in {0, 1, total // 3, total // 2, total - 1, total}:
        theirs = proportion_confint(count, total, alpha=1 - level, method="wilson")
        assert wilson(count, total, level) == pytest.approx(theirs, abs=1e-12)
