"""Repeatability and reproducibility: unequal cells, floors, limits and relations."""

import numpy as np
import pytest
import statsmodels.api as sm

from pinscar.stats.precision import critical_h, critical_k, material_precision, precision_study

UNEQUAL = {"A": [10.0, 10.4, 10.9], "B": [12.0, 12.2], "C": [9.0, 9.6, 9.1, 9.9], "D": [11.0]}


def test_unequal_cells_agree_with_the_variance_components_of_an_anova_table():
    """The ISO 5725-2 formulas are the ANOVA estimators; here from statsmodels' table and the trace of n_i."""
    lab = np.concatenate([[name] * len(v) for name, v in UNEQUAL.items()])
    y = np.concatenate(list(UNEQUAL.values()))
    dummies = np.column_stack([lab == name for name in UNEQUAL]).astype(float)
    fit = sm.OLS(y, dummies).fit()
    mean_square = (np.sum((y - y.mean()) ** 2) - fit.ssr) / 3
    n0 = (10 - (9 + 4 + 16 + 1) / 10) / 3
    result = material_precision("oil", UNEQUAL)
    assert result.repeatability_sd**2 == pytest.approx(fit.mse_resid, rel=1e-10, abs=0)
    assert result.between_sd**2 == pytest.approx((mean_square - fit.mse_resid) / n0, rel=1e-10, abs=0)
    assert result.general_mean == pytest.approx(y.mean())


def test_estimates_are_unbiased_for_unequal_cells():
    rng = np.random.default_rng(5)
    sizes = {"A": 2, "B": 5, "C": 3, "D": 1, "E": 4, "F": 2}
    within, between = [], []
    for _ in range(3000):
        cells = {lab: 3 * rng.standard_normal() + rng.standard_normal(n) for lab, n in sizes.items()}
        result = material_precision("oil", cells)
        within.append(result.repeatability_sd**2)
        between.append(result.between_sd**2)
    # Between-laboratory variance 9 is seldom floored here; 3000 studies leave about 1.3 % of noise.
    assert np.mean(within) == pytest.approx(1.0, rel=0.03, abs=0)
    assert np.mean(between) == pytest.approx(9.0, rel=0.04, abs=0)


def test_a_single_result_has_no_k_but_counts_in_h():
    cells = {cell.laboratory: cell for cell in material_precision("oil", UNEQUAL).cells}
    assert (cells["D"].sd, cells["D"].k, cells["D"].k_critical) == (None, None, None)
    assert cells["D"].h is not None
    assert sum(cell.h**2 for cell in cells.values()) == pytest.approx(3)


def test_each_cell_has_the_limit_of_its_own_size():
    cells = {cell.laboratory: cell for cell in material_precision("oil", UNEQUAL).cells}
    assert cells["B"].k_critical > cells["A"].k_critical > cells["C"].k_critical


def test_k_limit_holds_its_level_for_unequal_cells():
    rng = np.random.default_rng(8)
    sizes = np.array([2, 4, 5, 3])
    squares = rng.chisquare(sizes - 1, (200_000, 4))
    k = np.sqrt(squares / (sizes - 1) / (squares.sum(axis=1, keepdims=True) / 10))
    limits = [critical_k(int(n - 1), 10, alpha=0.02) for n in sizes]
    assert np.mean(k > limits, axis=0) == pytest.approx([0.02] * 4, abs=0.0015)


def test_h_limit_holds_its_level():
    rng = np.random.default_rng(9)
    means = rng.standard_normal((200_000, 5))
    h = (means[:, 0] - means.mean(axis=1)) / means.std(axis=1, ddof=1)
    assert np.mean(np.abs(h) > critical_h(5, alpha=0.02)) == pytest.approx(0.02, abs=0.0015)


def test_reproducibility_is_never_under_repeatability():
    result = material_precision("oil", {"A": [1.0, 3.0], "B": [1.1, 2.9]})
    assert result.reproducibility_sd == result.repeatability_sd
    assert result.between_sd == 0.0
    assert "set to the repeatability" in result.note


def test_few_laboratories_are_noted():
    assert "Only 4 laboratories" in material_precision("oil", UNEQUAL).note


def test_order_and_unit_do_not_matter():
    one = material_precision("oil", UNEQUAL)
    other = material_precision("oil", {k: 1000 * np.array(v) for k, v in reversed(UNEQUAL.items())})
    assert other.reproducibility_limit == pytest.approx(1000 * one.reproducibility_limit, rel=1e-10, abs=0)
    assert [c.k for c in reversed(other.cells) if c.n > 1] == pytest.approx(
        [c.k for c in one.cells if c.n > 1]
    )


def test_cells_that_do_not_vary_have_no_h_or_k():
    result = material_precision("oil", {"A": [1.0, 1.0], "B": [1.0, 1.0]})
    assert [(cell.h, cell.k, cell.flagged) for cell in result.cells] == [(None, None, ())] * 2


def test_two_laboratories_have_no_critical_h():
    assert critical_h(2) is None
    assert critical_k(3, 3) is None


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: material_precision("oil", {"A": [1.0, 2.0]}), "two laboratories"),
        (lambda: material_precision("oil", {"A": [1.0], "B": [2.0]}), "repeats"),
        (lambda: material_precision("oil", {"A": [1.0, np.nan], "B": [2.0]}), "finite"),
        (lambda: precision_study(["A"], ["x", "y"], [1.0]), "equal length"),
        (lambda: critical_h(1), "at least 2"),
        (lambda: critical_h(3, 1.0), "alpha"),
        (lambda: critical_k(0, 5), "degrees_of_freedom"),
    ],
)
def test_misuse_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
