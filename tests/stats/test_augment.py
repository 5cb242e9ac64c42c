"""Augmentation, expected improvement and unbeaten blends against known optima and brute force."""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
import pytest
from scipy import integrate, stats

from pinscar.stats.blend_choice import (
    MOST,
    augment,
    candidate_blends,
    chance_unbeaten,
    d_efficiency,
    expected_improvement,
    grid_size,
    unbeaten,
)
from pinscar.stats.mixture_terms import scheffe_design, scheffe_terms


def test_a_two_level_factorial_is_fully_efficient_and_is_found():
    # 2^3 factorial for main effects and two-factor interactions: orthogonal, so D-efficiency 100 %
    # (NIST/SEMATECH e-Handbook, 5.5.2.1).
    def rows(points):
        x = np.asarray(points, dtype=float)
        return np.column_stack(
            [np.ones(len(x)), x, *(x[:, i] * x[:, j] for i, j in combinations(range(3), 2))]
        )

    factorial = rows(list(product((-1, 1), repeat=3)))
    assert d_efficiency(factorial) == pytest.approx(1.0, abs=1e-12)
    levels = list(product((-1, 0, 1), repeat=3))
    chosen = augment(np.zeros((0, 7)), rows(levels), 8)
    assert d_efficiency(rows(levels)[chosen]) == pytest.approx(1.0, abs=1e-12)
    assert {abs(x) for i in chosen for x in levels[i]} == {1}
    assert d_efficiency(rows(levels)) < 0.7


def test_the_simplex_lattice_is_found_and_fully_efficient():
    # Kiefer, Optimum designs in regression problems II, Ann. Math. Statist. 32 (1961) 298-325: the {3, 2}
    # simplex-lattice is D-optimal for Scheffé's quadratic model in three components.
    lattice = np.array([p for p in product((0, 0.5, 1.0), repeat=3) if sum(p) == 1.0])
    grid = np.array([p for p in product(np.arange(11) / 10, repeat=3) if abs(sum(p) - 1.0) < 1e-9])
    terms = scheffe_terms(3, 2)
    chosen = augment(np.zeros((0, 6)), scheffe_design(grid, terms), 6)
    best = scheffe_design(lattice, terms)
    assert d_efficiency(scheffe_design(grid[chosen], terms), best) == pytest.approx(1.0, abs=1e-9)
    assert {tuple(grid[i].round(6)) for i in chosen} == {tuple(row) for row in lattice}
    assert d_efficiency(best, best) == 1.0


def test_more_blends_than_can_be_looked_at_are_sampled_evenly():
    low, high, step = [0.0] * 30, [1.0, *[0.02] * 29], [0.1, *[0.0001] * 29]
    found = candidate_blends(low, high, step, 0)
    assert grid_size(low, high, step, 0) == pytest.approx(201.0**29)
    assert found.shape == (MOST, 30)
    assert found.sum(axis=1) == pytest.approx(1.0)
    assert np.allclose(np.rint(found[:, 1:] / 0.0001) * 0.0001, found[:, 1:])
    # every component is met at every height, and blends of few components beside those of many
    assert found[:, 1:].max(axis=0).min() > 0.0195
    inside = (found[:, 1:] > 0).sum(axis=1)
    assert inside.min() <= 2
    assert inside.max() >= 27
    assert np.array_equal(found, candidate_blends(low, high, step, 0))


@pytest.mark.parametrize("criterion", ["D", "I"])
def test_two_added_blends_are_the_best_of_all_pairs(criterion):
    rng = np.random.default_rng(4)
    terms = scheffe_terms(3, 1)
    tested = scheffe_design(rng.dirichlet(np.ones(3), 5), terms)
    candidates = scheffe_design(candidate_blends([0.0] * 3, [1.0, 0.6, 0.4], [0.1] * 3, 0), terms)
    moments = candidates.T @ candidates / len(candidates)

    def loss(pair):
        x = np.vstack([tested, candidates[list(pair)]])
        inner = x.T @ x
        return -np.linalg.slogdet(inner)[1] if criterion == "D" else np.trace(np.linalg.inv(inner) @ moments)

    chosen = augment(tested, candidates, 2, criterion)
    best = min(loss(pair) for pair in combinations(range(len(candidates)), 2))
    assert loss(chosen) == pytest.approx(best, rel=1e-9)


def test_candidates_keep_bounds_steps_and_the_sum():
    found = candidate_blends([0.9, 0.0, 0.0], [1.0, 0.03, 0.04], [0.1, 0.005, 0.01], 0)
    assert found.sum(axis=1) == pytest.approx(1.0)
    assert found[:, 0].min() >= 0.9 - 1e-12
    assert len(found) == 7 * 5
    tight = candidate_blends([0.95, 0.0, 0.0], [1.0, 0.03, 0.04], [0.1, 0.005, 0.01], 0)
    assert tight[:, 0].min() >= 0.95 - 1e-9
    for bad in (
        ([0.9, 0.0], [1.0, 0.1], [0.1, 0.0]),
        ([0.9, 0.2], [1.0, 0.1], [0.1, 0.1]),
        ([0.99, 0.2], [1.0, 0.3], [0.1, 0.1]),
        ([0.0, 0.0], [1.0, 1.0], [0.1, 1e-9]),
    ):
        with pytest.raises(ValueError):
            candidate_blends(*bad, 0)
    with pytest.raises(ValueError, match="are wanted"):
        augment(np.zeros((0, 1)), np.ones((1, 1)), 2)


@pytest.mark.parametrize(
    ("mean", "error", "best", "df"), [(1.0, 0.5, 1.2, 4), (0.0, 2.0, 3.0, 2), (2, 1, 0, 30)]
)
def test_expected_improvement_is_its_integral(mean, error, best, df):
    exact, _ = integrate.quad(
        lambda y: max(y - best, 0.0) * stats.t.pdf((y - mean) / error, df) / error, best, np.inf
    )
    assert float(expected_improvement(mean, error, best, df)) == pytest.approx(exact, rel=1e-5)
    assert float(expected_improvement(mean, 0.0, best, df)) == max(mean - best, 0.0)


def test_expected_improvement_needs_a_spread_that_is_known():
    with pytest.raises(ValueError, match="more than one"):
        expected_improvement(1.0, 1.0, 1.0, 1.0)


def test_unbeaten_by_comparing_every_pair():
    rng = np.random.default_rng(2)
    values = rng.integers(0, 4, (12, 3)).astype(float)
    way = np.array([True, False, True])
    turned = np.where(way, values, -values)
    slow = [
        not any((turned[j] >= turned[i]).all() and (turned[j] > turned[i]).any() for j in range(12))
        for i in range(12)
    ]
    assert unbeaten(values, way).tolist() == slow


def test_the_chance_of_the_better_of_two_is_that_of_a_t():
    # one respect: the blend with the larger mean is unbeaten with the chance that a t statistic gives
    df, error, gap = 6, 0.1, 0.15
    found = chance_unbeaten([[gap], [0.0]], [[error], [error]], [[1.0]], [df], [True], seed=3, draws=200_000)
    exact = stats.t.cdf(gap / (error * np.sqrt(2)), df)
    assert found.tolist() == pytest.approx([exact, 1 - exact], abs=0.004)


def test_a_known_price_keeps_the_cheapest_unbeaten():
    found = chance_unbeaten(
        [[1.0, 4.0], [1.2, 5.0]], [[0.3, 0.0], [0.3, 0.0]], np.eye(2), [5, np.inf], [True, False], seed=1
    )
    assert found[0] == 1.0
    assert 0.5 < found[1] < 0.9
