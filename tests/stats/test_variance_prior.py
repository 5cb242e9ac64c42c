"""The prior of a variance: its moments against quadrature, likelihood and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, special, stats

from pinscar.stats.estimates import (
    compare_scatter,
    fit_variance_prior,
    geometric_mean,
    moderated,
    scaled_f_moments,
    tempered,
    trigamma_inverse,
)
from pinscar.stats.two_groups import own_spreads_t


@pytest.mark.parametrize("y", [1e-4, 0.03, 0.5, 1.0, 7.3, 400.0, 1e6])
def test_the_inverse_of_the_trigamma_function(y: float) -> None:
    assert trigamma_inverse(float(special.polygamma(1, y))) == pytest.approx(y, rel=1e-6, abs=0)


def test_the_fitted_distribution_has_the_moments_of_the_logarithms() -> None:
    """Mean and variance of ln s2 under the fitted scaled F, by numerical integration, are the sample's."""
    s2 = np.array([0.8, 2.5, 0.3, 6.0, 1.1, 0.15, 3.3])
    d0, scale = scaled_f_moments(s2, np.full(7, 3.0))
    fitted = stats.f(3.0, d0, scale=scale)
    mean = fitted.expect(np.log, epsabs=1e-12, limit=400)
    variance = fitted.expect(lambda x: (np.log(x) - mean) ** 2, epsabs=1e-12, limit=400)
    assert mean == pytest.approx(np.mean(np.log(s2)), rel=1e-5, abs=1e-6)
    assert variance == pytest.approx(np.var(np.log(s2), ddof=1), rel=1e-4, abs=0)


def test_many_groups_give_what_the_likelihood_gives() -> None:
    """Three thousand variances with d0 = 6 and s0 = 0.2: moments, maximum likelihood and truth agree."""
    rng = np.random.default_rng(8)
    d, true_df, true_s2 = 4.0, 6.0, 0.04
    s2 = true_s2 * stats.f.rvs(d, true_df, size=3000, random_state=rng)
    d0, s0_2 = scaled_f_moments(s2, np.full(3000, d))

    def lack(logs: np.ndarray) -> float:
        return -float(np.sum(stats.f.logpdf(s2, d, np.exp(logs[0]), scale=np.exp(logs[1]))))

    best = np.exp(optimize.minimize(lack, [math.log(4.0), math.log(0.1)], method="Nelder-Mead").x)
    assert d0 == pytest.approx(best[0], rel=0.12)  # moments lose some efficiency to likelihood
    assert s0_2 == pytest.approx(best[1], rel=0.03)
    assert (d0, s0_2) == pytest.approx((true_df, true_s2), rel=0.15)


def test_few_groups_that_agree_are_not_worth_more_than_they_know() -> None:
    """Smyth's d0 is infinite here; four groups of two degrees of freedom can't be worth more than eight."""
    assert scaled_f_moments([1.0, 1.05, 0.95, 1.0], [2, 2, 2, 2])[0] == math.inf
    assert fit_variance_prior([1.0, 1.05, 0.95, 1.0], [2, 2, 2, 2]).df < 8.0
    many = fit_variance_prior(np.full(200, 1.0), np.full(200, 2.0))
    assert 150 < many.df < 400


def test_the_unit_scales_the_variance_and_nothing_else() -> None:
    s2, d = [0.8, 2.5, 0.3, 6.0], [2, 3, 4, 2]
    one, other = fit_variance_prior(s2, d), fit_variance_prior(np.multiply(s2, 7.0), d)
    assert (other.df, other.variance) == pytest.approx((one.df, 7.0 * one.variance), rel=1e-12, abs=0)


def test_misuse_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 3"):
        fit_variance_prior([1.0, 2.0], [2, 2])
    with pytest.raises(ValueError, match="positive"):
        scaled_f_moments([1.0, 0.0], [2, 2])
    with pytest.raises(ValueError, match="two or more"):
        scaled_f_moments([1.0, 2.0], [2])
    with pytest.raises(ValueError, match="positive"):
        trigamma_inverse(0.0)


RUNS, CELLS, CAMPAIGNS = 3, 8, 2500


def shares(history: float, differing: float | None = None, seed: int = 3) -> dict[str, float]:
    """Simulate earlier and present runs; history is the earlier standard deviation over the present one."""
    rng = np.random.default_rng(seed)

    def spreads(n: int) -> np.ndarray:
        return np.ones(n) if differing is None else np.sqrt(differing / rng.chisquare(differing, n))

    held = compared = used = narrower = 0.0
    for _ in range(CAMPAIGNS):
        earlier = history * spreads(CELLS)[:, None] * rng.normal(size=(CELLS, RUNS))
        found = fit_variance_prior(earlier.var(axis=1, ddof=1), np.full(CELLS, RUNS - 1.0))
        present = spreads(2)[:, None] * rng.normal(size=(2, RUNS))
        pooled = float(present.var(axis=1, ddof=1).mean())
        prior = tempered(found, pooled, compare_scatter(pooled, 2 * (RUNS - 1), found))
        one = geometric_mean(np.exp(present[0]), 0.95, 0.0, prior)
        held += one.low <= 1.0 <= one.high
        both = own_spreads_t(present[0], present[1], 0.95, 0.0, prior)
        compared += both.low <= 0.0 <= both.high
        used += prior is not None
        alone = geometric_mean(np.exp(present[0]), 0.95)
        narrower += math.log(one.high / one.low) < math.log(alone.high / alone.low)
    names = ("held", "compared", "used", "narrower")
    return {n: x / CAMPAIGNS for n, x in zip(names, (held, compared, used, narrower), strict=True)}


CHANCE = 3.0 * math.sqrt(0.95 * 0.05 / CAMPAIGNS)


@pytest.mark.parametrize("differing", [None, 10.0])
def test_coverage_holds_where_history_is_right(differing: float | None) -> None:
    found = shares(1.0, differing)
    assert found["held"] >= 0.95 - CHANCE
    assert found["compared"] >= 0.95 - CHANCE
    assert found["used"] > 0.6
    assert found["narrower"] > 0.55


def test_coverage_where_history_is_wrong_by_a_factor_of_two() -> None:
    """Its weight falls with the chance of a scatter as wide as the present one, so nothing is lost."""
    for history in (0.35, 0.5, 0.7, 2.0):
        found = shares(history)
        assert min(found["held"], found["compared"]) >= 0.95 - CHANCE


def test_a_moderated_interval_by_hand() -> None:
    logs = np.log([100.0, 110.0, 125.0])
    prior = fit_variance_prior([0.01, 0.02, 0.012, 0.015], [2, 2, 3, 3])
    variance = (prior.df * prior.variance + 2 * logs.var(ddof=1)) / (prior.df + 2)
    reach = stats.t.ppf(0.975, prior.df + 2) * math.sqrt(variance / 3)
    found = geometric_mean([100.0, 110.0, 125.0], 0.95, 0.0, prior)
    assert (found.low, found.high) == pytest.approx(
        (math.exp(logs.mean() - reach), math.exp(logs.mean() + reach)), rel=1e-12, abs=0
    )
    assert found.df == pytest.approx(moderated(1.0, 2.0, prior)[1])
