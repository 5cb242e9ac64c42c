"""Simulated power: the exact one for one candidate, seeded, and by the method that will judge for several."""

from __future__ import annotations

import math

import pytest
from statsmodels.stats.power import TTestIndPower

from pinscar.stats.simulated_power import simulated_ratio_power


def test_one_candidate_has_the_power_of_the_t_test() -> None:
    """Pooled and Welch tests are near alike for equal runs: 3 standard errors of 1000, and 2 points."""
    exact = TTestIndPower().power(math.log(1.25) / 0.12, 6, 0.05)
    assert abs(simulated_ratio_power(6, 1.25, 0.12) - exact) < 3.0 * math.sqrt(0.25 / 1000) + 0.02


def test_the_seed_decides_and_more_candidates_cost_power() -> None:
    one = simulated_ratio_power(5, 1.25, 0.12, n_simulations=200, seed=3)
    simulated_ratio_power.cache_clear()
    assert simulated_ratio_power(5, 1.25, 0.12, n_simulations=200, seed=3) == one
    several = simulated_ratio_power(5, 1.25, 0.12, comparisons=3, n_simulations=200, seed=3)
    assert several < one


def test_what_cannot_be_simulated_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 2"):
        simulated_ratio_power(1, 1.25, 0.12)
