"""The share of repairs that still hold beside lifelines, an independent library.

Source: `lifelines.KaplanMeierFitter` (Greenwood's interval on the scale log(-log), its default), on
drawn data and on the 6-mercaptopurine arm of E. J. Freireich et al., Blood 21 (1963) 699-716, as
reprinted in D. R. Cox & D. Oakes, Analysis of Survival Data (1984), table 1.1; typed from memory.
"""

import warnings

import numpy as np
import pytest

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from lifelines import KaplanMeierFitter

from kb.faults.survival import product_limit

WEEKS = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
RELAPSED = [1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0]


def beside_lifelines(days: list[int], failed: list[bool]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = KaplanMeierFitter().fit(days, failed)
    steps = product_limit(zip(days, failed, strict=True))
    assert [s.days for s in steps] == sorted({d for d, f in zip(days, failed, strict=True) if f})
    for step in steps:
        assert step.share == pytest.approx(theirs.survival_function_at_times(step.days).iloc[0])
        assert step.at_risk == theirs.event_table.loc[step.days, "at_risk"]
        if step.share:
            low, high = theirs.confidence_interval_.loc[step.days]
            assert step.interval == pytest.approx((low, high), rel=1e-9)


def test_on_the_leukaemia_trial() -> None:
    beside_lifelines(WEEKS, [bool(r) for r in RELAPSED])
    # The published share without relapse at 6, 10 and 23 weeks: 0.857, 0.753, 0.448.
    share = {s.days: s.share for s in product_limit(zip(WEEKS, map(bool, RELAPSED), strict=True))}
    assert [round(share[week], 3) for week in (6, 10, 23)] == [0.857, 0.753, 0.448]


@pytest.mark.parametrize("seed", range(5))
def test_on_drawn_repairs(seed: int) -> None:
    draw = np.random.default_rng(seed)
    days = draw.integers(0 if seed else 1, 120, 60).tolist()
    beside_lifelines([int(d) + 1 for d in days], [bool(f) for f in draw.random(60) < 0.4])


def test_nothing_failed_and_everything_failed() -> None:
    assert product_limit([(5, False), (9, False)]) == ()
    assert product_limit([(5, True), (5, True)])[-1].interval == (0.0, 0.0)
    with pytest.raises(ValueError, match="before"):
        product_limit([(-1, True)])
