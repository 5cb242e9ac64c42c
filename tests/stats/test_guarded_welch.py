"""The guarded critical value holds its error for every ratio of the spreads, and costs little width."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pinscar.stats.power import welch_power
from pinscar.stats.two_groups import guarded_critical, largest_error, outward_factor

PAIRS = [(1.0, 1.0), (1.0, 4.0), (2.0, 2.0), (2.0, 7.0), (3.0, 3.0), (7.0, 7.0)]


@pytest.mark.parametrize("dfs", PAIRS)
def test_no_ratio_of_the_spreads_passes_the_error(dfs: tuple[float, float]) -> None:
    """Drawn campaigns, 60,000 a ratio; the bound is three standard errors above 5 %."""
    rng, n = np.random.default_rng([1, *map(int, dfs)]), 60_000
    outward = outward_factor(dfs, 0.05)
    for share in (0.02, 0.2, 0.5, 0.8, 0.95, 0.99, 0.998):
        v1 = share * rng.chisquare(dfs[0], n) / dfs[0]
        v2 = (1 - share) * rng.chisquare(dfs[1], n) / dfs[1]
        c = guarded_critical(v1 / (v1 + v2), dfs, 0.05, outward)
        wrong = np.mean(np.abs(rng.standard_normal(n)) > c * np.sqrt(v1 + v2))
        assert wrong <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / n)


def test_welch_alone_passes_it() -> None:
    """The known excess of Welch's approximation for few runs, in the same quadrature."""
    assert largest_error((2.0, 2.0), 0.05, 0.0) > 0.057
    assert largest_error((2.0, 7.0), 0.05, 0.0) > 0.065


def test_the_guard_vanishes_with_many_runs_and_at_the_edges_it_is_students_t() -> None:
    assert outward_factor((300.0, 300.0), 0.05) == 0.0
    assert outward_factor((60.0, 60.0), 0.05) <= 0.02
    edges = guarded_critical([0.0, 1.0], (3.0, 6.0), 0.05, 0.4)
    assert edges == pytest.approx(stats.t.ppf(0.975, [6, 3]), rel=1e-9, abs=0)


def test_the_guard_costs_little_width_where_spreads_are_alike() -> None:
    """Against Welch: 9 % at three runs, 1 % at six, on average over campaigns of like spreads."""
    rng = np.random.default_rng(3)
    for n, most in ((3, 1.10), (4, 1.04), (6, 1.015)):
        df = n - 1.0
        v = rng.chisquare(df, (2, 20_000)) / df
        share, error = v[0] / v.sum(axis=0), np.sqrt(v.sum(axis=0))
        ours = guarded_critical(share, (df, df), 0.05, outward_factor((df, df), 0.05)) * error
        welch = guarded_critical(share, (df, df), 0.05, 0.0) * error
        assert 1.0 <= ours.mean() / welch.mean() < most


def test_planned_power_is_that_of_the_guarded_test() -> None:
    rng, n, delta = np.random.default_rng(4), 4, 2.5
    x, y = rng.standard_normal((2, 40_000, n))
    x += delta * np.sqrt(2.0 / n)
    v = x.var(axis=1, ddof=1) / n, y.var(axis=1, ddof=1) / n
    dfs = (n - 1.0, n - 1.0)
    c = guarded_critical(v[0] / (v[0] + v[1]), dfs, 0.05, outward_factor(dfs, 0.05))
    found = np.mean(np.abs(x.mean(axis=1) - y.mean(axis=1)) > c * np.sqrt(v[0] + v[1]))
    assert found == pytest.approx(float(welch_power(n, delta)), abs=0.0075)  # three standard errors
