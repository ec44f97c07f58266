"""A change of share, and the ratio to comparable units, beside SciPy and a published example.

Sources: `scipy.stats.contingency.relative_risk`, whose interval is that of Katz and others 1978.
The example is rifabutin and uveitis in S. J. W. Evans, P. C. Waller and S. Davis, "Use of
proportional reporting ratios (PRRs) for signal generation from spontaneous adverse drug reaction
reports", Pharmacoepidemiology and Drug Safety 10 (2001), 483-486. The counts were confirmed in a
handbook chapter on the method (its table 20.2; from memory: R. D. Mann and E. B. Andrews, eds.,
Pharmacovigilance, 2002), which gives 41/55 with the drug, 754 and 591 958 with all others, and the
ratio as 586.
"""

import pytest
from scipy.stats import chi2_contingency
from scipy.stats.contingency import relative_risk

from kb.faults.trend import History, change
from kb.faults.weak_points import weak_points
from kb.values_weak import FamilyVisits

UVEITIS, DRUG = 41, 55
OTHERS, WITHOUT = 754, 591_958
ELSEWHERE = OTHERS + WITHOUT


@pytest.mark.parametrize(
    ("before", "visits_before", "after", "visits_after"),
    [(1, 9, 5, 9), (4, 40, 3, 10), (7, 7, 6, 9), (12, 30, 12, 30), (1, 100, 1, 4)],
)
def test_times_and_interval_are_those_of_scipy(
    before: int, visits_before: int, after: int, visits_after: int
) -> None:
    theirs = relative_risk(after, visits_after, before, visits_before)
    found = change(
        [History({2021: visits_before, 2022: visits_after}, {2021: before, 2022: after})]
    )
    assert found is not None
    assert (found.since, found.before, found.after) == (
        2022, (before, visits_before), (after, visits_after)
    )  # fmt: skip
    assert found.times == pytest.approx(theirs.relative_risk, rel=1e-12)
    assert found.interval == pytest.approx(theirs.confidence_interval(0.95), rel=1e-9)


def test_the_published_ratio_of_rifabutin_and_uveitis_comes_out_as_a_change() -> None:
    found = change([History({2000: ELSEWHERE, 2001: DRUG}, {2000: OTHERS, 2001: UVEITIS})])
    assert found is not None
    assert round(found.times or 0.0) == 586
    theirs = relative_risk(UVEITIS, DRUG, OTHERS, ELSEWHERE)
    assert found.interval == pytest.approx(theirs.confidence_interval(0.95), rel=1e-9)


def test_the_published_table_is_the_one_that_was_used() -> None:
    """The chapter gives chi-square as 22 736; with the table as written it is 22 739.5."""
    table = [[UVEITIS, DRUG - UVEITIS], [OTHERS, WITHOUT]]
    assert float(chi2_contingency(table, correction=False)[0]) == pytest.approx(22_736, rel=3e-4)


def test_observed_over_expected_is_the_published_ratio_where_much_is_known() -> None:
    """What few comparable units are given extra does not show against 592 712."""

    def drug(key: str, reports: int, cases: int) -> FamilyVisits:
        return FamilyVisits(
            key, key, "drug", frozenset(), {2001: reports}, {"eye/uveitis": {2001: cases}}
        )

    book = [drug("rifabutin", DRUG, UVEITIS), drug("others", ELSEWHERE, OTHERS)]
    answer = weak_points(book, {}, only={"rifabutin"}).families[0].causes[0]
    assert (answer.comparable_count, answer.comparable_cases) == (OTHERS, ELSEWHERE)
    assert answer.own / answer.expected == pytest.approx(586, abs=1)
    assert answer.flag
    assert 300 < answer.ratio < 586  # drawn towards 1, and 41 cases are many
