"""Proportions, counts and ranks: coverage, relations and edges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from pinscar.stats.intervals import clopper_pearson, poisson_interval, wilson
from pinscar.stats.ranks import brunner_munzel, hodges_lehmann, mann_whitney, ordered_codes


@pytest.mark.parametrize("share", [0.05, 0.3, 0.5, 0.9])
def test_clopper_pearson_never_covers_less_than_it_says(share):
    n = 12
    intervals = [clopper_pearson(x, n) for x in range(n + 1)]
    inside = [interval.low <= share <= interval.high for interval in intervals]
    assert np.sum(binom.pmf(range(n + 1), n, share)[inside]) >= 0.95


def test_wilson_covers_near_its_level_on_average():
    n = 12
    intervals = [wilson(x, n) for x in range(n + 1)]
    shares = np.linspace(0.02, 0.98, 97)
    inside = np.array([[i.low <= s <= i.high for i in intervals] for s in shares])
    coverage = np.sum(inside * binom.pmf(np.arange(n + 1), n, shares[:, None]), axis=1)
    assert coverage.mean() == pytest.approx(0.95, abs=0.01)


@given(st.integers(1, 60), st.data())
def test_success_and_failure_mirror_each_other(n, data):
    x = data.draw(st.integers(0, n))
    for method in (wilson, clopper_pearson):
        one, other = method(x, n), method(n - x, n)
        assert one.low == pytest.approx(1 - other.high, abs=1e-12)
        assert 0.0 <= one.low <= one.estimate <= one.high <= 1.0


def test_rate_scales_with_exposure():
    one, other = poisson_interval(7), poisson_interval(7, 5.0)
    assert (other.low, other.estimate, other.high) == pytest.approx((one.low / 5, 1.4, one.high / 5))


small = st.lists(st.integers(0, 3).map(float), min_size=2, max_size=5)


@given(small, small)
def test_mann_whitney_is_symmetric_and_its_p_a_probability(x, y):
    one, other = mann_whitney(x, y), mann_whitney(y, x)
    assert one.p == pytest.approx(other.p)
    assert one.superiority == pytest.approx(1 - other.superiority)
    assert 0 < one.p <= 1


def test_mann_whitney_with_ties_agrees_with_a_permutation_test():
    from scipy.stats import permutation_test

    x, y = np.array([0, 1, 2, 2, 1.0]), np.array([0, 0, 1, 0, 0.0])

    def statistic(a, b):
        return abs(np.mean(np.sign(np.subtract.outer(a, b))))

    other = permutation_test((x, y), statistic, n_resamples=10_000, alternative="greater")
    assert mann_whitney(x, y).p == pytest.approx(float(other.pvalue), rel=1e-9, abs=0)


def test_many_values_take_seeded_random_splits():
    rng = np.random.default_rng(1)
    x, y = rng.standard_normal(12), rng.standard_normal(12) + 0.8
    from scipy.stats import mannwhitneyu

    result = mann_whitney(x, y, seed=7)
    assert "seed 7" in result.method
    assert result.p == mann_whitney(x, y, seed=7).p
    assert result.p == pytest.approx(float(mannwhitneyu(x, y, method="exact").pvalue), abs=0.004)


def test_groups_that_do_not_overlap_have_no_brunner_munzel_p():
    result = brunner_munzel([3.0, 4.0, 5.0], [0.0, 1.0, 2.0])
    assert (result.p, result.superiority) == (None, 1.0)
    assert "do not overlap" in result.note


def test_shift_limits_invert_the_exact_test():
    """Just inside the limits the exact test does not reject, just outside it does."""
    x, y = np.array([3.1, 4.7, 5.2, 6.9, 8.3]), np.array([1.0, 2.6, 2.9, 4.4, 5.05, 6.3])
    result = hodges_lehmann(x, y)
    for limit, outward in ((result.low, -1), (result.high, 1)):
        assert mann_whitney(x - limit - outward * 1e-6, y).p < 0.05
        assert mann_whitney(x - limit + outward * 1e-6, y).p > 0.05
    assert result.attained >= 0.95


def test_too_few_values_have_no_shift_interval():
    result = hodges_lehmann([1.0, 2.0, 3.0], [4.0, 5.0, 6.0])
    assert (result.low, result.high, result.attained) == (None, None, None)
    assert "too few" in result.note


def test_attained_confidence_of_the_smallest_groups_that_have_one():
    """Four against four has 70 splits; the two extreme ones leave 1 - 2/70."""
    result = hodges_lehmann([1.0, 2.0, 3.0, 4.5], [4.0, 5.0, 6.0, 7.0])
    assert result.attained == pytest.approx(1 - 2 / 70)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: wilson(3, 2), "3 of 2"),
        (lambda: wilson(0, 0), "at least one run"),
        (lambda: clopper_pearson(1, 2, 0.0), "confidence"),
        (lambda: poisson_interval(-1), "out of range"),
        (lambda: poisson_interval(1, 0.0), "out of range"),
        (lambda: mann_whitney([], [1.0]), "values"),
        (lambda: hodges_lehmann([1.0], [np.nan]), "reference"),
        (lambda: hodges_lehmann([1.0], [2.0], 1.5), "confidence"),
        (lambda: ordered_codes(["dense"], ["none", "light"]), "dense"),
    ],
)
def test_misuse_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
