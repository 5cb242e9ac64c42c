"""All pairs go by the method that the data call for, and agree with the textbook in complete blocks."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pinscar.stats.choose import all_pairs
from pinscar.stats.estimates import VariancePrior

EQUAL = {"a": [1.0, 2.0, 3.0, 4.0], "b": [2.0, 3.0, 4.5, 5.0], "c": [7.0, 8.0, 9.5, 10.0]}


def test_each_pair_takes_welch_with_the_error_shared_by_sidak() -> None:
    found = all_pairs(EQUAL, 0.95, "linear")
    assert found.method.startswith("Welch t for each pair")
    for pair in (("a", "b"), ("b", "c")):
        theirs = stats.ttest_ind(EQUAL[pair[0]], EQUAL[pair[1]], equal_var=False)
        limits = theirs.confidence_interval(0.95 ** (1 / 3))
        ours = found.pairs[pair]
        # The guard against unlike spreads makes the interval a few per cent wider than Welch's own.
        assert 1.0 - 1e-9 <= (ours.high - ours.low) / (limits.high - limits.low) < 1.15
        assert ours.p == pytest.approx(1 - (1 - theirs.pvalue) ** 3, rel=0.1, abs=0)  # the guard again


def test_complete_blocks_give_tukey_on_the_two_way_residual() -> None:
    """One run per block and group: the error is the interaction mean square with (k-1)(b-1) degrees."""
    rng = np.random.default_rng(4)
    table = rng.normal(0.0, 0.2, (5, 3)) + rng.normal(0.0, 1.5, (5, 1)) + np.array([0.0, 0.3, 0.9])
    groups = {name: table[:, j] for j, name in enumerate("abc")}
    found = all_pairs(groups, 0.95, "linear", {name: list("vwxyz") for name in "abc"}, pooled=True)
    residual = table - table.mean(axis=0) - table.mean(axis=1, keepdims=True) + table.mean()
    error = np.sqrt(np.sum(residual**2) / 8 * 2 / 5)
    difference = table[:, 0].mean() - table[:, 2].mean()
    pair = found.pairs["a", "c"]
    assert "one spread within blocks" in found.method
    assert (pair.estimate, pair.standard_error, pair.df) == pytest.approx(
        (difference, error, 8.0), rel=1e-5, abs=0
    )
    assert pair.p == pytest.approx(
        stats.studentized_range.sf(abs(difference) / error * np.sqrt(2), 3, 8), rel=1e-3
    )


def test_pairs_in_blocks_keep_their_own_spreads() -> None:
    """In complete blocks of one run each the pair is the paired t test, the error shared by Sidak."""
    rng = np.random.default_rng(5)
    table = rng.normal(0.0, 0.2, (5, 3)) + rng.normal(0.0, 1.5, (5, 1))
    groups = {name: table[:, j] for j, name in enumerate("abc")}
    found = all_pairs(groups, 0.95, "linear", {name: list("vwxyz") for name in "abc"})
    for i, j in ((0, 1), (1, 2)):
        theirs = stats.ttest_rel(table[:, i], table[:, j])
        ours = found.pairs["abc"[i], "abc"[j]]
        assert ours.p == pytest.approx(1 - (1 - theirs.pvalue) ** 3, rel=1e-6)
        limits = theirs.confidence_interval(0.95 ** (1 / 3))
        assert (ours.low, ours.high) == pytest.approx((limits.low, limits.high), rel=1e-6)


def test_one_spread_without_blocks_is_tukeys_range() -> None:
    found = all_pairs(EQUAL, 0.95, "linear", pooled=True)
    theirs = stats.tukey_hsd(*EQUAL.values())
    assert found.pairs["a", "c"].p == pytest.approx(theirs.pvalue[0, 2], rel=1e-3)
    limits = theirs.confidence_interval(0.95)
    assert found.pairs["a", "c"].low == pytest.approx(limits.low[0, 2], rel=1e-4)


def test_confounded_blocks_are_left_out() -> None:
    blocks = {name: [name] * 4 for name in EQUAL}
    assert all_pairs(EQUAL, 0.95, "linear", blocks).method.startswith("Welch t")


def test_one_group_is_no_pair() -> None:
    with pytest.raises(ValueError, match="at least two"):
        all_pairs({"a": [1.0, 2.0]})


def test_coarse_readings_keep_pairs_together() -> None:
    """A step as large as the differences separates nothing, with or without blocks; p and limits agree."""
    days = {name: list("vwvw") for name in EQUAL}
    for blocks in (None, days):
        fine = all_pairs(EQUAL, 0.95, "linear", blocks)
        coarse = all_pairs(EQUAL, 0.95, "linear", blocks, step=12.0)
        assert fine.pairs["a", "c"].p < 0.05
        for pair in coarse.pairs.values():
            assert pair.p > 0.05
            assert pair.low < 0.0 < pair.high


def test_earlier_runs_help_to_separate_pairs() -> None:
    groups = {"a": [1.0, 1.6], "b": [2.9, 3.6], "c": [1.1, 1.7]}
    prior = VariancePrior(12.0, 0.2, 8)
    assert all_pairs(groups, 0.95, "linear").pairs["a", "b"].p > 0.05
    assert all_pairs(groups, 0.95, "linear", prior=prior).pairs["a", "b"].p < 0.05
