"""Repairs per unit on the valve seats of 41 diesel engines, beside published and independent figures.

Data: W. Nelson, "Confidence limits for recurrence data, applied to cost or number of product
repairs", Technometrics 37 (1995) 147-157: days at which seats were replaced in the engines of a
fleet, and each engine's age at the end. 48 replacements, 41 engines; the R packages `reda`
(`valveSeats`, 89 rows) and `survival` (`valveSeat`) carry them. Read in the SAS/QC sample library,
example RELGS11; the last three ends (engines 420 to 422) are from memory.

Means and variances were computed once with surpyval 0.25 (`NonParametricCounting`), which gives the
robust variance of J. F. Lawless & C. Nadeau, Technometrics 37 (1995) 158-168.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.faults.recurrence import YEAR, mean_cumulative

REPLACED = {
    327: [98], 328: [326, 653, 653], 330: [84], 331: [87], 389: [646], 390: [92],
    392: [258, 328, 377, 621], 393: [61, 539], 394: [254, 276, 298, 640], 395: [76, 538], 396: [635],
    397: [349, 404, 561], 400: [120, 479], 401: [323, 449], 402: [139, 139], 404: [573],
    405: [165, 408, 604], 406: [249], 407: [344, 497], 408: [265, 586], 409: [166, 206, 348],
    411: [410, 581], 415: [367], 416: [202, 563, 570],
}  # fmt: skip
ENDS = {
    251: 761, 252: 759, 327: 667, 328: 667, 329: 665, 330: 667, 331: 663, 389: 653, 390: 653,
    391: 651, 392: 650, 393: 648, 394: 644, 395: 642, 396: 641, 397: 649, 398: 631, 399: 596,
    400: 614, 401: 582, 402: 589, 403: 593, 404: 589, 405: 606, 406: 594, 407: 613, 408: 595,
    409: 389, 410: 601, 411: 601, 412: 611, 413: 608, 414: 587, 415: 603, 416: 585, 417: 587,
    418: 578, 419: 578, 420: 586, 421: 585, 422: 582,
}  # fmt: skip
ENGINES = [
    (float(end), [float(d) for d in REPLACED.get(engine, [])]) for engine, end in ENDS.items()
]

# day: engines followed, mean, variance, from surpyval
THEIRS = {
    61: (41, 0.024390243902439025, 0.000580374631824843),
    139: (41, 0.2195121951219512, 0.005368465344379797),
    298: (41, 0.4634146341463415, 0.01201375487877425),
    404: (40, 0.6835365853658539, 0.018479400101202827),
    573: (40, 0.9585365853658542, 0.028546854369495514),
    604: (22, 1.059718684999966, 0.03424756932273414),
    640: (16, 1.2435427422144117, 0.05122274201508098),
    653: (9, 1.5426875135570297, 0.09712950892892841),
}
Z = 1.959963984540054


def test_the_data_are_those_of_the_paper() -> None:
    assert len(ENDS) == 41
    assert sum(map(len, REPLACED.values())) == 48


def test_means_followed_units_and_variances_are_those_of_an_independent_library() -> None:
    ours = {round(p.years * YEAR): p for p in mean_cumulative(ENGINES)}
    for day, (followed, mean, variance) in THEIRS.items():
        point = ours[day]
        assert point.at_risk == followed
        assert point.mean == pytest.approx(mean, rel=1e-7 if day != 640 else 1e-4)
        spread = np.exp(Z * np.sqrt(variance) / mean)
        assert point.interval == pytest.approx((mean / spread, mean * spread), rel=1e-4)


def plainly(units: list[tuple[float, list[float]]], day: float) -> tuple[float, float]:
    """The mean and its robust variance at a time, as the paper writes them: sums over units."""
    times = sorted({d for _, events in units for d in events if d <= day})
    mean, totals = 0.0, np.zeros(len(units))
    for time in times:
        at_risk = np.array([end >= time for end, _ in units], dtype=float)
        happened = np.array([events.count(time) for _, events in units], dtype=float)
        mean += happened.sum() / at_risk.sum()
        totals += at_risk / at_risk.sum() * (happened - happened.sum() / at_risk.sum())
    return mean, float((totals**2).sum())


@given(
    st.lists(
        st.tuples(st.integers(1, 30), st.lists(st.integers(0, 30), max_size=4)),
        min_size=1,
        max_size=8,
    )
)
def test_the_running_sums_are_the_sums_over_units(drawn) -> None:
    units = [(float(end), [float(d) for d in days if d <= end]) for end, days in drawn]
    for point in mean_cumulative(units):
        mean, variance = plainly(units, round(point.years * YEAR))
        assert point.mean == pytest.approx(mean)
        spread = np.exp(Z * np.sqrt(variance) / mean)
        assert point.interval == pytest.approx((mean / spread, mean * spread), rel=1e-5)


def test_five_machines_of_a_textbook_example() -> None:
    """The example data of the package `reliability` 0.9 (`MCF_nonparametric`), and its means."""
    times = [[5, 10, 15, 17], [6, 13, 17, 19], [12, 20, 25, 26], [13, 15, 24], [16, 22, 25, 28]]
    found = {
        round(p.years * YEAR): p.mean for p in mean_cumulative([(t[-1], t[:-1]) for t in times])
    }
    assert found[17] == pytest.approx(2.0)
    assert found[20] == pytest.approx(2.33333, abs=1e-5)
    assert found[25] == pytest.approx(3.66667, abs=1e-5)


def test_an_event_after_the_end_is_refused() -> None:
    with pytest.raises(ValueError, match="outside"):
        mean_cumulative([(5.0, [6.0])])
