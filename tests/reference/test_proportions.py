"""Intervals for proportions, counts and ranks against printed examples and second libraries."""

import pytest
from scipy.stats import mannwhitneyu
from statsmodels.stats.proportion import proportion_confint

from pinscar.stats.intervals import clopper_pearson, poisson_interval
from pinscar.stats.permutation import mann_whitney

# R. G. Newcombe, 1998, table I, 95 %, Clopper-Pearson (from memory, re-derived).
NEWCOMBE = {
    (81, 263): (0.2527, 0.3676),
    (15, 148): (0.0578, 0.1617),
    (0, 20): (0.0, 0.1684),
    (1, 29): (0.0009, 0.1776),
}


@pytest.mark.parametrize("case", list(NEWCOMBE))
def test_newcombes_table(case):
    """Clopper-Pearson limits are those of Newcombe's table."""
    found = clopper_pearson(*case)
    assert [found.low, found.high] == pytest.approx(list(NEWCOMBE[case]), abs=5.1e-5)


@pytest.mark.parametrize("case", [(3, 5), (5, 5), (0, 4), (7, 31)])
@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.99])
def test_statsmodels_agrees(case, confidence):
    other = proportion_confint(*case, alpha=1 - confidence, method="beta")
    result = clopper_pearson(*case, confidence)
    assert (result.low, result.high) == pytest.approx(tuple(map(float, other)), abs=1e-9)


@pytest.mark.parametrize(
    ("count", "low", "high"), [(0, 0.0, 3.689), (1, 0.0253, 5.572), (5, 1.623, 11.668), (10, 4.795, 18.390)]
)
def test_poisson_limits(count, low, high):
    """F. Garwood, 1936, 95 % limits (from memory, re-derived from the Poisson sums in the next test)."""
    result = poisson_interval(count)
    assert (result.low, result.high) == pytest.approx((low, high), abs=5.1e-4)


@pytest.mark.parametrize("count", [0, 1, 5, 10])
def test_poisson_limits_leave_two_and_a_half_percent_outside(count):
    from scipy.stats import poisson

    result = poisson_interval(count)
    assert poisson.cdf(count, result.high) == pytest.approx(0.025, rel=1e-9, abs=0)
    if count:
        assert poisson.sf(count - 1, result.low) == pytest.approx(0.025, rel=1e-9, abs=0)


# Hollander and Wolfe (1973), table 4.1: permeability of human chorioamnion, term and 12 to 26 weeks (from
# memory).
TERM = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
EARLY = [1.15, 0.88, 0.90, 0.74, 1.21]


def test_chorioamnion_permeability():
    """The one-sided p 0.1272 is printed (from memory); the p here is two-sided, twice that."""
    assert mann_whitney(TERM, EARLY).p == pytest.approx(2 * 0.1272, abs=1.1e-4)


@pytest.mark.parametrize(("x", "y"), [(TERM, EARLY), ([1.0, 2.5, 3.5], [2.0, 4.0, 5.0, 6.0])])
def test_scipy_agrees_on_the_exact_test(x, y):
    assert mann_whitney(x, y).p == pytest.approx(
        float(mannwhitneyu(x, y, method="exact").pvalue), rel=1e-9, abs=0
    )
