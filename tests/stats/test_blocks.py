"""Random blocks: exact cases, a second library, invariances and refusals."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pinscar.stats.block_layout import blocks_separable, indicator_columns, separable
from pinscar.stats.blocks import contrasts_with_reference, fit_groups, fit_random_block, kenward_roger
from pinscar.stats.two_groups import paired_t

NAMES = "ABC"


def complete(seed: int, blocks: int = 5, block_sd: float = 1.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return rng.normal(0, block_sd, (blocks, 1)) + rng.normal(0, 0.3, (blocks, 3)) + np.array([0, 0.5, 1.0])


def compared(y: np.ndarray, confidence: float = 0.95):
    groups = {name: y[:, i] for i, name in enumerate(NAMES)}
    fit = fit_groups(groups, {name: range(len(y)) for name in NAMES})
    return contrasts_with_reference(fit, NAMES, "A", confidence)


def unbalanced(seed: int) -> tuple[np.ndarray, list[str], list[int]]:
    rng = np.random.default_rng(seed)
    rows = [
        (rng.normal(), name, block)
        for block in range(6)
        for name in NAMES
        for _ in range(int(rng.integers(0, 3)) + (block == 0))
    ]
    effects = rng.normal(0, 1.2, 6)
    y = np.array([e * 0.5 + ord(g) - 65 + effects[b] for e, g, b in rows])
    return y, [g for _, g, _ in rows], [b for _, _, b in rows]


@pytest.mark.parametrize("seed", range(5))
def test_complete_blocks_give_the_two_way_analysis_of_variance(seed: int) -> None:
    y = complete(seed)
    residual = y - y.mean(0) - y.mean(1, keepdims=True) + y.mean()
    mean_square = np.sum(residual**2) / 8
    for name, column in (("B", 1), ("C", 2)):
        c = compared(y)[name]
        assert c.estimate == pytest.approx(y[:, column].mean() - y[:, 0].mean(), rel=1e-9, abs=0)
        assert c.standard_error == pytest.approx(np.sqrt(2 * mean_square / 5), rel=1e-8, abs=0)
        assert c.df == pytest.approx(8, rel=1e-8, abs=0)
        assert c.critical == pytest.approx(2.6728, abs=5e-4)  # Dunnett, two against a control, 8 df


def test_two_groups_in_complete_blocks_give_the_paired_t() -> None:
    y = complete(3)
    fit = fit_groups({"A": y[:, 0], "B": y[:, 1]}, {"A": "vwxyz", "B": "vwxyz"})
    theirs = paired_t(y[:, 1], y[:, 0])
    c = contrasts_with_reference(fit, "AB", "A")["B"]
    assert (c.low, c.high, c.p) == pytest.approx((theirs.low, theirs.high, theirs.p), rel=1e-7, abs=0)


@pytest.mark.parametrize("seed", [0, 1, 2, 4])
def test_unbalanced_blocks_agree_with_statsmodels(seed: int) -> None:
    y, groups, blocks = unbalanced(seed)
    x = indicator_columns(groups)
    ours = fit_random_block(y, x, blocks)
    theirs = sm.MixedLM(y, x, groups=blocks).fit(reml=True, method="powell")
    assert ours.block_variance == pytest.approx(theirs.cov_re.item(), rel=2e-3, abs=0)
    assert ours.residual_variance == pytest.approx(theirs.scale, rel=2e-3, abs=0)
    assert ours.coefficients == pytest.approx(theirs.fe_params, rel=1e-3, abs=0)
    assert np.sqrt(np.diag(ours.plain_covariance)) == pytest.approx(theirs.bse_fe, rel=3e-3, abs=0)


@pytest.mark.parametrize("seed", range(4))
def test_no_other_variance_ratio_is_more_likely(seed: int) -> None:
    y, groups, blocks = unbalanced(seed)
    x, z = indicator_columns(groups), indicator_columns(blocks)
    fit = fit_random_block(y, x, blocks)

    def likelihood(block: float, residual: float) -> float:
        v = block * z @ z.T + residual * np.eye(y.size)
        w = np.linalg.inv(v)
        beta = np.linalg.solve(x.T @ w @ x, x.T @ w @ y)
        r = y - x @ beta
        return -0.5 * (np.linalg.slogdet(v)[1] + np.linalg.slogdet(x.T @ w @ x)[1] + r @ w @ r)

    best = likelihood(fit.block_variance, fit.residual_variance)
    for a in (0.5, 0.95, 1.0, 1.05, 2.0):
        for b in (0.5, 0.95, 1.0, 1.05, 2.0):
            assert likelihood(a * fit.block_variance, b * fit.residual_variance) <= best + 1e-9


def test_the_degrees_of_freedom_of_a_group_in_its_own_blocks_come_from_the_blocks() -> None:
    rng = np.random.default_rng(8)
    effects = np.repeat(rng.normal(0, 3, 8), 4)
    y = effects + rng.normal(0, 0.1, 32)
    groups = ["A"] * 16 + ["B"] * 16
    fit = fit_random_block(y, indicator_columns(groups), [i // 4 for i in range(32)])
    estimate, error, df = kenward_roger(fit, [-1, 1])
    means = y.reshape(8, 4).mean(axis=1)
    theirs = stats.ttest_ind(means[4:], means[:4])
    assert df == pytest.approx(6, rel=1e-6, abs=0)  # exact: the analysis of the eight block means
    assert estimate / error == pytest.approx(theirs.statistic, rel=1e-8, abs=0)


def test_no_block_effect_gives_a_block_variance_of_exactly_zero() -> None:
    y = np.array([1.0, 5.0, 5.0, 1.0, 2.0, 4.0, 4.0, 2.0])  # block means agree: less than chance would give
    fit = fit_random_block(y, np.ones((8, 1)), [0, 0, 1, 1, 2, 2, 3, 3])
    assert fit.block_variance == 0
    assert fit.residual_variance == pytest.approx(y.var(ddof=1), rel=1e-12, abs=0)


def test_a_negative_analysis_of_variance_estimate_becomes_zero_and_a_positive_one_stays() -> None:
    for seed in range(20):
        y = complete(seed, block_sd=0.1)
        residual = y - y.mean(0) - y.mean(1, keepdims=True) + y.mean()
        within = np.sum(residual**2) / 8
        between = 3 * np.sum((y.mean(1) - y.mean()) ** 2) / 4
        expected = max((between - within) / 3, 0.0)
        fit = fit_groups(dict(zip(NAMES, y.T, strict=True)), {name: range(len(y)) for name in NAMES})
        assert fit.block_variance == pytest.approx(expected, rel=1e-7, abs=1e-12)


@given(st.integers(0, 500), st.floats(-1e3, 1e3), st.floats(1e-3, 1e3))
@settings(max_examples=25, deadline=None)
def test_shift_and_unit_pass_through(seed: int, shift: float, factor: float) -> None:
    y = complete(seed)
    first, second = compared(y)["B"], compared(shift + factor * y)["B"]
    assert second.low == pytest.approx(factor * first.low, rel=1e-5, abs=1e-6 * factor)


def test_the_mean_of_a_block_can_move_without_moving_the_contrasts() -> None:
    y = complete(1)
    moved = y + np.array([[3.0], [0.0], [0.0], [-4.0], [0.0]])
    assert compared(moved)["C"].low == pytest.approx(compared(y)["C"].low, rel=1e-8, abs=0)


@pytest.mark.parametrize(
    ("groups", "blocks", "expected"),
    [
        ("AABB", "mmtt", False),  # a day for each lubricant
        ("AABB", "mtmt", True),
        ("AABB", "mmmm", False),  # one block
        ("AABB", "mtwr", False),  # a run per block
        ("AAABBB", "mmtmtt", True),
    ],
)
def test_separable_says_when_blocks_can_be_told_apart(groups, blocks, expected) -> None:
    assert blocks_separable(indicator_columns(groups), list(blocks)) is expected
    values = {name: np.arange(groups.count(name), dtype=float) for name in "AB"}
    labels = {name: [b for g, b in zip(groups, blocks, strict=True) if g == name] for name in "AB"}
    assert separable(values, labels) is expected


def test_misuse_is_refused() -> None:
    with pytest.raises(ValueError, match="separable"):
        fit_random_block([1.0, 2.0, 3.0, 4.0], indicator_columns("AABB"), list("mmtt"))
    with pytest.raises(ValueError, match="spread"):
        fit_random_block([1.0, 1.0, 2.0, 2.0], np.ones((4, 1)), list("mmtt"))
    with pytest.raises(ValueError, match="one row per value"):
        fit_random_block([1.0, 2.0], np.ones((3, 1)), list("mt"))
    with pytest.raises(ValueError, match="reference"):
        contrasts_with_reference(fit_groups({"A": [1.0, 2.0, 4.0, 3.0]}, {"A": [1, 2, 1, 2]}), "A", "B")
    with pytest.raises(ValueError, match="one label per value"):
        fit_groups({"A": [1.0, 2.0]}, {"A": [1]})
