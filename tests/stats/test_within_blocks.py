"""Two groups within blocks, each with its own spread: exact cases, and the error by simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pinscar.stats.two_groups import guarded_critical, outward_factor, own_spreads_t, paired_t
from pinscar.stats.within_blocks import within_blocks, within_blocks_t

CAMPAIGNS = 60_000


def test_one_block_is_the_guarded_welch_test() -> None:
    x, y = np.array([1.4, 1.5, 1.9]), np.array([1.0, 1.1, 1.3, 1.2])
    ours = within_blocks_t(within_blocks("aaa", "aaaa"), x, y, 0.95)
    theirs = own_spreads_t(x, y, 0.95)
    for name in ("estimate", "standard_error", "df", "low", "high", "p"):
        assert getattr(ours, name) == pytest.approx(getattr(theirs, name), rel=1e-9)
    assert ours.df == pytest.approx(stats.ttest_ind(x, y, equal_var=False).df, rel=1e-9)


def test_one_run_a_block_is_the_paired_t_test() -> None:
    rng = np.random.default_rng(1)
    x, y = rng.normal(size=6), rng.normal(size=6)
    ours, theirs = within_blocks_t(within_blocks("abcdef", "abcdef"), x, y, 0.9), paired_t(x, y, 0.9)
    assert (ours.low, ours.high, ours.p) == pytest.approx((theirs.low, theirs.high, theirs.p), rel=1e-9)


def test_what_a_block_does_to_both_changes_nothing() -> None:
    rng = np.random.default_rng(2)
    layout, days = within_blocks("aabbc", "abbccc"), np.array([0.0, 5.0, -3.0])
    x, y = rng.normal(size=5), rng.normal(size=6)
    moved = within_blocks_t(layout, x + days[[0, 0, 1, 1, 2]], y + days[[0, 1, 1, 2, 2, 2]], 0.95)
    plain = within_blocks_t(layout, x, y, 0.95)
    assert (moved.low, moved.high) == pytest.approx((plain.low, plain.high), abs=1e-9)


def test_the_variance_is_unbiased_for_any_two_spreads() -> None:
    rng = np.random.default_rng(3)
    layout, spreads = within_blocks("aabc", "abbcc"), np.repeat([3.0, 1.0], [4, 5])
    values = spreads * rng.standard_normal((CAMPAIGNS, 9))
    left = layout.left_over(values)
    squares = np.stack([(left[:, :4] ** 2).sum(axis=1), (left[:, 4:] ** 2).sum(axis=1)], axis=1)
    variances = squares @ np.linalg.inv(layout.expected).T
    assert variances.mean(axis=0) == pytest.approx([9.0, 1.0], rel=0.03)  # of 60,000 draws
    assert (values @ layout.weights).var() == pytest.approx(float(layout.shares @ [9.0, 1.0]), rel=0.03)


@pytest.mark.parametrize(
    ("subject", "reference"),
    [("ab", "cd"), ("abc", "aa"), ("aab", "c")],
    ids=["no block shared", "spread of one unknown", "single run elsewhere"],
)
def test_layouts_that_cannot_be_compared_within_blocks(subject: str, reference: str) -> None:
    assert within_blocks(subject, reference) is None


def test_coarse_readings_widen_the_interval() -> None:
    x, y, layout = (
        np.array([2.0, 2.0, 4.0, 4.0]),
        np.array([1.0, 1.0, 3.0, 3.0]),
        within_blocks("aabb", "aabb"),
    )
    assert within_blocks_t(layout, x, y, 0.95) is None
    coarse = within_blocks_t(layout, x, y, 0.95, step=1.0)
    assert coarse.low < 0.0 < 2.0 < coarse.high


@pytest.mark.parametrize("spread", [1.0 / 3.0, 1.0, 3.0])
@pytest.mark.parametrize(
    ("subject", "reference"),
    [("abbc", "aabbc"), ("abc", "abc"), ("aabbcc", "aabbcc"), ("abc", "aaabbbcc"), ("aabb", "aabb")],
)
def test_either_end_errs_no_more_than_its_share(subject: str, reference: str, spread: float) -> None:
    """Simulated with days as far apart as runs; spreads up to three times each other, numbers unlike."""
    layout, rng = within_blocks(subject, reference), np.random.default_rng(4)
    n, first = len(subject) + len(reference), len(subject)
    values = np.where(np.arange(n) < first, spread, 1.0) * rng.standard_normal((CAMPAIGNS, n))
    days = rng.standard_normal((CAMPAIGNS, 3))[:, ["abc".index(one) for one in subject + reference]]
    difference, left = (values + days) @ layout.weights, layout.left_over(values + days)
    squares = np.stack([(left[:, :first] ** 2).sum(axis=1), (left[:, first:] ** 2).sum(axis=1)], axis=1)
    found = squares @ np.linalg.pinv(layout.expected, rcond=1e-9).T
    total = found @ layout.shares
    share = np.clip(found[:, 0] * layout.shares[0] / total, 0.0, 1.0)
    guard = outward_factor(tuple(float(max(int(df + 1e-9), 1)) for df in layout.dfs), 0.05)
    critical = guarded_critical(share, layout.dfs, 0.05, guard, layout.link)
    wrong = np.mean((total > 0.0) & (difference > critical * np.sqrt(np.abs(total))))
    assert 0.015 < wrong <= 0.025 + 3.0 * np.sqrt(0.025 * 0.975 / CAMPAIGNS)
    for row in range(40):
        one = within_blocks_t(layout, (values + days)[row, :first], (values + days)[row, first:], 0.95)
        if one is not None:
            assert one.critical == pytest.approx(critical[row], rel=1e-6)
