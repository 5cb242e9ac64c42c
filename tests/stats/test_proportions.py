"""Proportions, counts and ranks: coverage, relations and edges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, mannwhitneyu

from pinscar.stats.intervals import clopper_pearson, poisson_interval
from pinscar.stats.permutation import mann_whitney, ordered_codes


@pytest.mark.parametrize("share", [0.05, 0.3, 0.5, 0.9])
def test_clopper_pearson_never_covers_less_than_it_says(share):
    n = 12
    intervals = [clopper_pearson(x, n) for x in range(n + 1)]
    inside = [interval.low <= share <= interval.high for interval in intervals]
    assert np.sum(binom.pmf(range(n + 1), n, share)[inside]) >= 0.95


@given(st.integers(1, 60), st.data())
def test_success_and_failure_mirror_each_other(n, data):
    x = data.draw(st.integers(0, n))
    one, other = clopper_pearson(x, n), clopper_pearson(n - x, n)
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


@pytest.mark.parametrize("shift", [0.0, 0.2, 0.3, 0.35])
def test_of_many_distinct_values_the_normal_approximation_is_near_the_exact_test(shift):
    rng = np.random.default_rng(3)
    x, y = rng.normal(shift, 1.0, 110), rng.normal(0.0, 1.0, 100)
    result = mann_whitney(x, y)
    assert result.method == "Mann-Whitney test, normal approximation"
    # Recursion over all splits (Mann and Whitney, 1947), as SciPy has it for values without ties.
    exact = float(mannwhitneyu(x, y, method="exact").pvalue)
    assert exact > 0.005
    # 3 % at p = 0.01: what 100 000 random splits leave open, too.
    assert result.p == pytest.approx(exact, rel=0.035, abs=0)
    assert mann_whitney(x[:49], y).method.startswith("Mann-Whitney test, 100000 random splits")


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
    result = mann_whitney(x, y, seed=7)
    assert "seed 7" in result.method
    assert result.p == mann_whitney(x, y, seed=7).p
    assert result.p == pytest.approx(float(mannwhitneyu(x, y, method="exact").pvalue), abs=0.004)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: clopper_pearson(3, 2), "3 of 2"),
        (lambda: clopper_pearson(0, 0), "at least one run"),
        (lambda: clopper_pearson(1, 2, 0.0), "confidence"),
        (lambda: poisson_interval(-1), "out of range"),
        (lambda: poisson_interval(1, 0.0), "out of range"),
        (lambda: mann_whitney([], [1.0]), "values"),
        (lambda: mann_whitney([1.0], [np.nan]), "reference"),
        (lambda: ordered_codes(["dense"], ["none", "light"]), "dense"),
    ],
)
def test_misuse_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
