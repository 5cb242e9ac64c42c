"""The joint t tail: bounds, limits, and the lattice against the one-factor rule."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pinscar.stats.simultaneous import control_correlation, joint_critical_value, joint_p, loadings_of

UNSTRUCTURED = np.array(
    [[1.0, 0.6, 0.1, 0.3], [0.6, 1.0, 0.4, 0.2], [0.1, 0.4, 1.0, 0.5], [0.3, 0.2, 0.5, 1.0]]
)


def test_loadings_are_found_for_a_common_control_only() -> None:
    found = loadings_of(control_correlation([3, 5, 8, 2], 4))
    assert found == pytest.approx(np.sqrt([3 / 7, 5 / 9, 8 / 12, 2 / 6]))
    assert loadings_of(UNSTRUCTURED) is None


@given(st.floats(0.1, 8.0), st.lists(st.integers(1, 30), min_size=2, max_size=6), st.integers(1, 60))
@settings(max_examples=60, deadline=None)
def test_p_lies_between_the_single_and_bonferroni(c: float, sizes: list[int], df: int) -> None:
    single = 2 * stats.t.sf(c, df)
    p = joint_p(c, control_correlation(sizes, 5), df)
    assert single * (1 - 1e-9) <= p <= min(1.0, len(sizes) * single) * (1 + 1e-9)


@pytest.mark.parametrize("df", [3, 12, 200])
@pytest.mark.parametrize("two_sided", [True, False])
def test_the_lattice_agrees_with_a_randomised_integral(df: float, two_sided: bool) -> None:
    ours = joint_p(2.2, UNSTRUCTURED, df, two_sided)
    lower = np.full(4, -2.2) if two_sided else np.full(4, -np.inf)
    theirs = stats.multivariate_t(shape=UNSTRUCTURED, df=df, seed=3).cdf(
        np.full(4, 2.2), lower_limit=lower, maxpts=400_000
    )
    assert ours == pytest.approx(1 - theirs, abs=2e-4)


def test_the_lattice_agrees_with_the_one_factor_rule() -> None:
    rho = control_correlation([5, 3, 8, 2], 4)
    nudged = rho + np.array([[0, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0], [0, 0, 0, 0]]) * 2e-9
    assert loadings_of(nudged) is None
    assert joint_p(2.5, nudged, 9) == pytest.approx(joint_p(2.5, rho, 9), abs=3e-5)


@pytest.mark.parametrize("rho", [control_correlation([4, 9, 2], 5), UNSTRUCTURED])
@pytest.mark.parametrize("two_sided", [True, False])
def test_the_critical_value_inverts_p(rho, two_sided: bool) -> None:
    c = joint_critical_value(rho, 7, 0.9, two_sided)
    assert joint_p(c, rho, 7, two_sided) == pytest.approx(0.1, abs=2e-7)


def test_one_statistic_is_students_t() -> None:
    assert joint_critical_value(np.eye(1), 6, 0.95) == pytest.approx(stats.t.ppf(0.975, 6), rel=1e-9, abs=0)
    assert joint_p(-2.0, np.eye(1), 6) == pytest.approx(2 * stats.t.sf(2.0, 6), rel=1e-12, abs=0)


def test_a_control_with_endless_runs_makes_the_comparisons_independent() -> None:
    p = joint_p(2.0, control_correlation([5, 5, 5], 1e9), np.inf)
    assert p == pytest.approx(1 - (1 - 2 * stats.norm.sf(2.0)) ** 3, abs=1e-7)


def test_steep_loadings_keep_their_accuracy() -> None:
    rho = control_correlation([400, 400], 2)
    exact = stats.multivariate_normal(cov=rho).cdf([2.0, 2.0], lower_limit=[-2.0, -2.0])
    assert joint_p(2.0, rho, np.inf) == pytest.approx(1 - exact, abs=1e-7)


def test_p_is_never_zero_for_a_finite_statistic() -> None:
    assert 0 < joint_p(60.0, control_correlation([5, 5], 5), 12) < 1e-14


def test_misuse_is_refused() -> None:
    with pytest.raises(ValueError, match="df must be positive"):
        joint_p(1.0, np.eye(2), 0)
    with pytest.raises(ValueError, match="at most 20"):
        joint_p(1.0, np.eye(21), 5)
