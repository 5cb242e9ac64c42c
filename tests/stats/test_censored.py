"""Censored medians: relations, edge cases and a second library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from pinscar.stats.censored import (
    fit_left_censored,
    fit_one_group,
    left_censored_median,
    profile_deviance,
    profile_limit,
    right_censored_median,
)
from pinscar.stats.estimates import geometric_mean


def sample(seed: int, n: int = 8, censored: int = 3):
    rng = np.random.default_rng(seed)
    values = np.exp(rng.normal(4.7, 0.2, n))
    return values, np.isin(np.arange(n), rng.choice(n, censored, replace=False))


@pytest.mark.parametrize("seed", range(6))
def test_the_fit_agrees_with_scipys_censored_normal(seed: int) -> None:
    values, mask = sample(seed)
    data = stats.CensoredData(uncensored=np.log(values[~mask]), left=np.log(values[mask]))
    location, scale = stats.norm.fit(data)
    fit = fit_one_group(np.log(values), mask)
    assert fit.coefficients[0] == pytest.approx(location, abs=1e-4)
    assert fit.sigma == pytest.approx(scale, rel=2e-3, abs=0)  # its simplex stops at 1e-4 of either parameter
    observed = stats.norm.logpdf(np.log(values[~mask]), fit.coefficients[0], fit.sigma).sum()
    hidden = stats.norm.logcdf(np.log(values[mask]), fit.coefficients[0], fit.sigma).sum()
    assert fit.log_likelihood == pytest.approx(observed + hidden, rel=1e-11, abs=0)


@pytest.mark.parametrize("seed", range(6))
def test_the_profile_agrees_with_a_general_minimiser(seed: int) -> None:
    values, mask = sample(seed)
    logs = np.log(values)
    fit = fit_one_group(logs, mask)
    held = fit.coefficients[0] - 0.7 * fit.sigma

    def cost(log_sigma: float) -> float:
        sigma = np.exp(log_sigma)
        density = stats.norm.logpdf(logs[~mask], held, sigma).sum()
        return -density - stats.norm.logcdf(logs[mask], held, sigma).sum()

    best = optimize.minimize_scalar(cost, bracket=(-3, 0), tol=1e-12)
    expected = 2 * (fit.log_likelihood + best.fun)
    assert profile_deviance(logs, mask, held, fit) == pytest.approx(expected, rel=1e-8, abs=0)


@pytest.mark.parametrize("seed", range(6))
def test_the_plain_limits_lie_where_the_deviance_meets_the_chi_square_quantile(seed: int) -> None:
    values, mask = sample(seed, n=5, censored=2)
    result = left_censored_median(values, mask, 0.9)
    logs = np.log(values)
    fit = fit_one_group(logs, mask)
    for limit in (result.profile_low, result.profile_high):
        assert profile_deviance(logs, mask, np.log(limit), fit) == pytest.approx(2.705543454, rel=1e-8, abs=0)
    student = 5 * np.log1p(stats.t.ppf(0.95, 4) ** 2 / 4)
    shifted = (np.sqrt(student) + 6 * (2 / 5) ** 2 / np.sqrt(5)) ** 2
    for limit, cut in ((result.low, shifted), (result.high, student)):
        assert profile_deviance(logs, mask, np.log(limit), fit) == pytest.approx(cut, rel=1e-8, abs=0)


@given(st.integers(0, 10_000), st.floats(1e-9, 1e9))
@settings(max_examples=40, deadline=None)
def test_a_change_of_unit_changes_nothing_else(seed: int, factor: float) -> None:
    values, mask = sample(seed)
    first, second = left_censored_median(values, mask), left_censored_median(values * factor, mask)
    expected = [factor * x for x in (first.estimate, first.low, first.high)]
    assert [second.estimate, second.low, second.high] == pytest.approx(expected, rel=1e-7, abs=0)


@given(st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_right_censoring_is_left_censoring_of_the_reciprocals(seed: int) -> None:
    values, mask = sample(seed)
    left, right = left_censored_median(1 / values, mask), right_censored_median(values, mask)
    expected = [1 / left.estimate, 1 / left.high, 1 / left.low]
    assert [right.estimate, right.low, right.high] == pytest.approx(expected, rel=1e-9, abs=0)
    assert "right censoring" in right.method


@given(st.integers(0, 10_000), st.permutations(range(8)))
@settings(max_examples=20, deadline=None)
def test_the_order_of_the_runs_does_not_matter(seed: int, order: list[int]) -> None:
    values, mask = sample(seed)
    first, second = left_censored_median(values, mask), left_censored_median(values[order], mask[order])
    assert second.low == pytest.approx(first.low, rel=1e-9, abs=0)


def test_a_censored_run_far_above_the_others_adds_nothing() -> None:
    values, none = np.array([95.0, 102.0, 110.0, 121.0]), np.zeros(4, dtype=bool)
    with_it = left_censored_median([*values, 1e6], [*none, True])
    fit = fit_one_group(np.log(values), none)
    assert with_it.estimate == pytest.approx(np.exp(fit.coefficients[0]), rel=1e-9, abs=0)
    assert with_it.sd == pytest.approx(fit.sigma, rel=1e-9, abs=0)


def test_a_censored_run_far_below_pulls_the_median_down() -> None:
    plain = left_censored_median([95.0, 102.0, 110.0, 121.0, 121.0], [False] * 4 + [True])
    pulled = left_censored_median([95.0, 102.0, 110.0, 121.0, 70.0], [False] * 4 + [True])
    assert pulled.estimate < 0.95 * plain.estimate


def test_without_censoring_it_is_the_t_interval() -> None:
    values = [95.0, 102.0, 110.0]
    assert left_censored_median(values, [False] * 3) == geometric_mean(values)
    assert right_censored_median(values, [False] * 3) == geometric_mean(values)
    assert left_censored_median([95.0], [False]).method == "single run, no interval"


@pytest.mark.parametrize(("n", "own"), [(1, 0.5), (3, 0.875), (5, 0.96875)])
def test_all_censored_gives_a_bound_with_its_own_confidence(n: int, own: float) -> None:
    values = 100.0 + np.arange(n)
    left, right = (f(values, np.ones(n, dtype=bool)) for f in (left_censored_median, right_censored_median))
    assert (left.estimate, left.low, left.high) == (None, None, 99.0 + n)
    assert (right.estimate, right.low, right.high) == (None, 100.0, None)
    assert left.confidence == right.confidence == own
    assert ("less than the 0.95 asked for" in left.note) == (n < 5)


def test_the_sign_test_bound_has_the_confidence_it_states() -> None:
    rng = np.random.default_rng(7)
    draws = rng.normal(size=(20_000, 4))
    held = np.mean(draws.max(axis=1) >= 0)  # recorded limits can only lie higher
    assert held == pytest.approx(1 - 0.5**4, abs=4 * np.sqrt(0.0586 / 20_000))


@pytest.mark.parametrize(
    ("values", "mask", "reason"),
    [
        ([90.0, 100.0, 120.0], [False, True, True], "only one run"),
        ([90.0, 90.0, 120.0], [False, False, True], "same value"),
    ],
)
def test_a_degenerate_likelihood_gives_a_bound_and_the_reason(values, mask, reason) -> None:
    result = left_censored_median(values, mask)
    assert (result.estimate, result.low, result.high) == (None, None, 120.0)
    assert reason in result.note
    assert result.method.startswith("bound only")


@pytest.mark.parametrize(
    ("values", "mask", "word"),
    [
        ([], [], "at least one"),
        ([1.0, -1.0], [True, False], "positive"),
        ([1.0, 2.0], [True], "one entry per value"),
        ([1.0, 2.0], [1, 0], "True or False"),
    ],
)
def test_misuse_is_refused(values, mask, word) -> None:
    with pytest.raises(ValueError, match=word):
        left_censored_median(values, mask)


def test_two_observed_of_eight_still_gives_both_limits() -> None:
    result = left_censored_median([100, 101, 90, 80, 70, 60, 88, 99], [False] * 2 + [True] * 6)
    assert result.low < result.estimate < 80 < result.high


def test_a_profile_that_never_rises_has_no_limit() -> None:
    assert profile_limit(lambda x: 1 - np.exp(-abs(x)), 0.0, 1.0, 3.84) is None


def test_equal_observed_values_do_not_converge() -> None:
    fit = fit_left_censored(np.zeros(3), np.zeros(3, dtype=bool), np.ones((3, 1)))
    assert not fit.converged
