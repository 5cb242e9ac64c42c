"""The order test and the association with a factor, against scipy, statsmodels and counts by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.stats.contingency import association as scipy_association
from statsmodels.stats.outliers_influence import variance_inflation_factor

from pinscar.stats.permutation import association
from pinscar.stats.run_order import stratified_order_test


@pytest.mark.parametrize("seed", range(5))
def test_one_day_and_two_oils_give_the_exact_rank_sum_test(seed: int) -> None:
    rng = np.random.default_rng(seed)
    oils = rng.permutation(["R"] * 5 + ["C"] * 4).tolist()
    places = np.arange(9.0)
    test = stratified_order_test(places, oils, ["day"] * 9)
    first = [place for place, oil in zip(places, oils, strict=True) if oil == "R"]
    other = [place for place, oil in zip(places, oils, strict=True) if oil == "C"]
    expected = stats.mannwhitneyu(first, other, method="exact").pvalue
    assert test is not None and test.exact
    assert test.p == pytest.approx(min(expected, 1.0), abs=1e-12)


def test_pairs_of_runs_give_the_sign_test() -> None:
    days = [day for day in "12345678" for _ in range(2)]
    test = stratified_order_test([1, 2] * 8, ["R", "C"] * 7 + ["C", "R"], days)
    assert test is not None
    assert test.p == pytest.approx(stats.binomtest(7, 8).pvalue, abs=1e-12)


def test_many_arrangements_are_drawn_and_agree_with_scipy() -> None:
    rng = np.random.default_rng(5)
    oils = ["R"] * 10 + ["C"] * 10
    places = np.concatenate([rng.normal(0.0, 1.0, 10), rng.normal(0.7, 1.0, 10)])
    test = stratified_order_test(places, oils, ["day"] * 20)
    expected = stats.mannwhitneyu(places[:10], places[10:], method="exact").pvalue
    assert test is not None and not test.exact
    # three standard errors of 9 999 draws
    assert abs(test.p - expected) < 3.0 * np.sqrt(expected * (1.0 - expected) / 9_999) + 1e-4
    assert test == stratified_order_test(places, oils, ["day"] * 20)


def test_day_by_day_order_that_turns_round_is_no_finding() -> None:
    days = [day for day in "12" for _ in range(6)]
    test = stratified_order_test(list(range(6)) * 2, ["R"] * 3 + ["C"] * 6 + ["R"] * 3, days)
    assert test is not None and test.p > 0.9


def test_no_order_is_told_where_none_is_known() -> None:
    assert stratified_order_test([1.0, 1.0], ["R", "C"], ["1", "1"]) is None
    assert stratified_order_test([1.0, 2.0], ["R", "R"], ["1", "1"]) is None
    with pytest.raises(ValueError, match="equally long"):
        stratified_order_test([1.0], ["R", "C"], ["1", "1"])


def test_cramers_v_and_variance_inflation_agree_with_scipy_and_statsmodels() -> None:
    rng = np.random.default_rng(8)
    group = np.array([True] * 9 + [False] * 8)
    levels = rng.choice(["a", "b", "c"], 17)
    strata = np.array(["1", "2"])[np.arange(17) % 2]
    table = [[int(np.sum((group == g) & (levels == one))) for one in "abc"] for g in (True, False)]
    plain = association(group.tolist(), levels.tolist())
    assert plain is not None
    assert plain.cramers_v == pytest.approx(scipy_association(table, method="cramer"), abs=1e-12)
    within = association(group.tolist(), levels.tolist(), strata.tolist())
    others = [np.ones(17), strata == "2", levels == "b", levels == "c"]
    full = np.column_stack([group, *others]).astype(float)
    base = np.column_stack([group, *others[:2]]).astype(float)
    assert within is not None
    expected = variance_inflation_factor(full, 0) / variance_inflation_factor(base, 0)
    assert within.variance_inflation == pytest.approx(expected, rel=1e-9)


def test_the_probability_by_lot_is_that_of_fishers_exact_test() -> None:
    found = association([True] * 6 + [False] * 6, ["1"] * 5 + ["2", "1"] + ["2"] * 5)
    expected = stats.fisher_exact([[5, 1], [1, 5]]).pvalue
    assert found is not None
    assert abs(found.p - expected) < 3.0 * np.sqrt(expected / 1_999)


def test_levels_given_by_lot_have_no_share_on_average() -> None:
    rng = np.random.default_rng(3)
    group = [True] * 5 + [False] * 5
    drawn = [association(group, rng.permutation([*"aaabbbcccc"]).tolist()) for _ in range(400)]
    shares = [one.adjusted_share for one in drawn if one is not None]
    assert abs(np.mean(shares)) < 3.0 * np.std(shares) / np.sqrt(400)
