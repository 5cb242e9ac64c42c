"""Censored runs in random blocks: brute-force integrals, a second library, relations, and coverage."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import integrate, stats

from pinscar.stats.censored import left_censored_median
from pinscar.stats.censored_blocks import median_in_blocks, ratios_in_blocks, why_not_in_blocks
from pinscar.stats.censored_groups import fit_censored_groups
from pinscar.stats.random_blocks import BlockedRuns, fit_in_blocks, likelihood_of_means

DAYS = list("aabbcc")
VALUES = np.array([118.0, 121.0, 96.0, 103.0, 131.0, 127.0])
MASK = np.array([False, False, False, True, False, False])


def sample(seed: int, per_day: int = 4) -> BlockedRuns:
    rng = np.random.default_rng(seed)
    blocks = np.repeat(np.arange(3), per_day)
    logs = rng.normal(size=blocks.size) + rng.normal(size=3)[blocks]
    group = np.arange(blocks.size) % 2
    design = np.stack([group == 0, group == 1], axis=1).astype(float)
    return BlockedRuns(logs, rng.random(blocks.size) < 0.4, design, blocks)


def integrated(runs: BlockedRuns, coefficients: np.ndarray, sigma: float, block_sigma: float) -> float:
    """The same likelihood by a general quadrature over each block's effect."""
    total = 0.0
    for block in np.unique(runs.blocks):
        mine = runs.blocks == block
        y, mask, centre = runs.logs[mine], runs.left_censored[mine], (runs.design @ coefficients)[mine]

        def integrand(z: float, y=y, mask=mask, centre=centre) -> float:
            at = (y - centre - block_sigma * z) / sigma
            terms = np.where(mask, stats.norm.cdf(at), stats.norm.pdf(at) / sigma)
            return float(np.prod(terms) * stats.norm.pdf(z))

        total += np.log(integrate.quad(integrand, -9, 9, epsabs=0, epsrel=1e-10, limit=400)[0])
    return total


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("sigma", "block_sigma"), [(1.0, 0.01), (0.8, 0.6), (0.7, 1.5)])
def test_the_likelihood_is_the_integral(seed: int, sigma: float, block_sigma: float) -> None:
    runs, coefficients = sample(seed), np.array([0.1, -0.2])
    ours, _ = likelihood_of_means(runs, runs.design @ coefficients, np.log(sigma), block_sigma)
    assert ours == pytest.approx(integrated(runs, coefficients, sigma, block_sigma), abs=2e-4)


def test_without_censoring_it_is_the_mixed_model_of_statsmodels() -> None:
    runs = sample(5)
    complete = BlockedRuns(runs.logs, np.zeros(12, dtype=bool), runs.design, runs.blocks)
    fit = fit_in_blocks(complete)
    other = sm.MixedLM(runs.logs, runs.design, groups=runs.blocks).fit(reml=False)
    assert fit.log_likelihood == pytest.approx(other.llf, abs=1e-6)
    assert fit.coefficients == pytest.approx(other.fe_params, abs=1e-4)
    assert fit.sigma**2 == pytest.approx(other.scale, rel=2e-3)


def test_no_spread_between_blocks_gives_the_fit_without_them() -> None:
    logs = np.array([0.0, 1.0, 0.1, 0.9, 0.2, 0.8])
    runs = BlockedRuns(logs, np.zeros(6, dtype=bool), np.ones((6, 1)), np.array([0, 0, 1, 1, 2, 2]))
    fit = fit_in_blocks(runs)
    assert fit.block_sigma == 0.0
    assert fit.coefficients[0] == pytest.approx(logs.mean())


def test_right_censoring_is_left_censoring_of_the_reciprocals() -> None:
    left = median_in_blocks(VALUES, MASK, DAYS)
    right = median_in_blocks(1 / VALUES, MASK, DAYS, side="right")
    assert [1 / right.estimate, 1 / right.high, 1 / right.low] == pytest.approx(
        [left.estimate, left.low, left.high], rel=1e-5
    )


def test_a_change_of_unit_and_of_order_changes_nothing_else() -> None:
    first = median_in_blocks(VALUES, MASK, DAYS)
    order = np.array([4, 1, 5, 0, 3, 2])
    second = median_in_blocks(1e6 * VALUES[order], MASK[order], [DAYS[i] for i in order])
    expected = [1e6 * x for x in (first.estimate, first.low, first.high)]
    assert [second.estimate, second.low, second.high] == pytest.approx(expected, rel=1e-5)


def test_days_that_differ_widen_the_median() -> None:
    plain, blocked = left_censored_median(VALUES, MASK), median_in_blocks(VALUES, MASK, DAYS)
    assert blocked.high / blocked.low > 1.3 * plain.high / plain.low
    assert "3 blocks" in blocked.method


def test_the_p_of_a_ratio_is_small_exactly_where_its_interval_leaves_one_out() -> None:
    rng = np.random.default_rng(8)
    for shift in (0.0, 0.1, 0.2, 0.4):
        days = np.repeat(rng.normal(0, 0.2, 3), 2)
        values = {
            "R": np.exp(days + rng.normal(0, 0.1, 6)),
            "C": np.exp(shift + days + rng.normal(0, 0.1, 6)),
        }
        groups = fit_censored_groups(values, {"C": MASK})
        blocks = {"R": DAYS, "C": DAYS}
        assert why_not_in_blocks(groups, blocks) is None
        result = ratios_in_blocks(groups, blocks, "R")["C"]
        assert (result.p < 0.05) == (not result.low <= 1 <= result.high)


@pytest.mark.parametrize(
    ("values", "mask", "days", "word"),
    [
        (VALUES, MASK, ["a"] * 6, "2 to 5 blocks"),
        (VALUES, MASK, list("abcdef"), "2 to 5 blocks"),
        (VALUES, [True] * 5 + [False], DAYS, "distinct"),
    ],
)
def test_misuse_is_refused(values, mask, days, word) -> None:
    with pytest.raises(ValueError, match=word):
        median_in_blocks(values, mask, days)


@pytest.mark.slow
@pytest.mark.parametrize("between", [0.0, 0.5, 1.0, 2.0])
def test_three_days_of_two_runs_cover(between: float) -> None:
    """Two runs per day, four in ten censored at scattered limits: does the interval hold?"""
    rng = np.random.default_rng(33)
    held = wrong = printed = 0
    campaigns = 300
    level = stats.norm.ppf(0.4) * np.sqrt(2 + between**2)
    for _ in range(campaigns):
        film = rng.standard_normal(6) + np.repeat(between * rng.standard_normal(3), 2)
        limit = level + rng.standard_normal(6)
        mask = film < limit
        if mask.sum() > 4 or not mask.any():
            continue
        result = median_in_blocks(np.exp(0.1 * np.maximum(film, limit)), mask, DAYS)
        printed += 1
        held += (result.low or 0.0) <= 1.0 <= (result.high or np.inf)
        wrong += (result.low or 0.0) > 1.0
    assert held / printed >= 0.95 - 3.0 * np.sqrt(0.95 * 0.05 / printed)
    assert wrong / campaigns <= 0.025 + 3.0 * np.sqrt(0.025 * 0.975 / campaigns)
