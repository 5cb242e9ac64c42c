"""Intervals for proportions, counts and ranks against printed examples and second libraries."""

import pytest
from scipy.stats import mannwhitneyu
from statsmodels.stats.proportion import proportion_confint

from pinscar.stats.intervals import clopper_pearson, poisson_interval, wilson
from pinscar.stats.ranks import brunner_munzel, hodges_lehmann, mann_whitney

# R. G. Newcombe, 1998, table I, 95 %: Wilson, then Clopper-Pearson (from memory, re-derived).
NEWCOMBE = {
    (81, 263): (0.2553, 0.3662, 0.2527, 0.3676),
    (15, 148): (0.0624, 0.1605, 0.0578, 0.1617),
    (0, 20): (0.0, 0.1611, 0.0, 0.1684),
    (1, 29): (0.0061, 0.1718, 0.0009, 0.1776),
}


@pytest.mark.parametrize("case", list(NEWCOMBE))
def test_newcombes_table(case):
    first, second = wilson(*case), clopper_pearson(*case)
    computed = [first.low, first.high, second.low, second.high]
    assert computed == pytest.approx(list(NEWCOMBE[case]), abs=5.1e-5)


@pytest.mark.parametrize("case", [(3, 5), (5, 5), (0, 4), (7, 31)])
@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.99])
def test_statsmodels_agrees(case, confidence):
    for ours, method in ((wilson, "wilson"), (clopper_pearson, "beta")):
        other = proportion_confint(*case, alpha=1 - confidence, method=method)
        result = ours(*case, confidence)
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
    """One-sided p 0.1272 and shift 0.305 are printed (from memory); the p here is two-sided, twice that."""
    assert mann_whitney(TERM, EARLY).p == pytest.approx(2 * 0.1272, abs=1.1e-4)
    assert hodges_lehmann(TERM, EARLY).estimate == pytest.approx(0.305, abs=5.1e-4)


def test_hodges_lehmann_limits_are_those_of_the_printed_example():
    """R wilcox.test(TERM, EARLY, conf.int = TRUE) prints -0.15 and 0.76 (from memory)."""
    result = hodges_lehmann(TERM, EARLY)
    assert (result.low, result.high) == pytest.approx((-0.15, 0.76), abs=5.1e-3)


@pytest.mark.parametrize(("x", "y"), [(TERM, EARLY), ([1.0, 2.5, 3.5], [2.0, 4.0, 5.0, 6.0])])
def test_scipy_agrees_on_the_exact_test(x, y):
    assert mann_whitney(x, y).p == pytest.approx(
        float(mannwhitneyu(x, y, method="exact").pvalue), rel=1e-9, abs=0
    )


def test_brunner_and_munzels_pain_scores():
    """Brunner and Munzel, 2000, example: pain scores after shoulder surgery; p 0.005786 (R lawstat)."""
    usual = [1, 2, 1, 1, 1, 1, 1, 1, 1, 1, 2, 4, 1, 1]
    new = [3, 3, 4, 3, 1, 2, 3, 1, 1, 5, 4]
    result = brunner_munzel(new, usual)
    assert result.p == pytest.approx(0.005786, abs=5.1e-7)
    assert result.superiority == pytest.approx(0.788961, abs=5.1e-7)
