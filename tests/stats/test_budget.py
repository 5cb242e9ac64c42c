"""Uncertainty budgets, combination and coverage: relations between them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.stats.uncertainty import (
    combine,
    coverage_factor,
    derivative,
    effective_degrees_of_freedom,
    gradient,
    relative_pressure_uncertainty,
    relative_wear_coefficient_uncertainty,
    scar_pressure_budget,
    t_factor,
    uncertainty_budget,
    wear_coefficient_budget,
)

finite = st.floats(0.1, 10.0)


@given(st.lists(st.tuples(finite, finite), min_size=1, max_size=6))
def test_fully_correlated_inputs_add_linearly_and_independent_ones_in_quadrature(inputs):
    c, u = (np.array(column) for column in zip(*inputs, strict=True))
    assert combine(c, u, np.ones((c.size, c.size))).standard_uncertainty == pytest.approx(np.sum(c * u))
    assert combine(c, u).standard_uncertainty == pytest.approx(np.linalg.norm(c * u))


def test_fully_correlated_opposite_inputs_cancel():
    assert combine([1, -1], [2, 2], [[1, 1], [1, 1]]).standard_uncertainty == 0.0


def test_effective_degrees_lie_between_the_smallest_and_the_sum():
    combined = combine([1, 1, 1], [1, 2, 3], degrees_of_freedom=[4, 5, 6])
    assert 4 <= combined.degrees_of_freedom <= 15
    assert combine([1], [2], degrees_of_freedom=[7]).degrees_of_freedom == pytest.approx(7)


def test_correlated_inputs_of_finite_degrees_have_no_effective_ones():
    r = [[1, 0.5], [0.5, 1]]
    assert combine([1, 1], [1, 1], r, [4, 4]).degrees_of_freedom is None
    assert combine([1, 1], [1, 1], r).degrees_of_freedom == np.inf


def test_equal_means_pool_as_in_a_two_sample_t_test():
    """Welch-Satterthwaite of two equal standard errors with n - 1 degrees each is 2 (n - 1)."""
    assert effective_degrees_of_freedom(np.sqrt(2), [1, 1], [4, 4]) == pytest.approx(8)


def test_coverage_factor_tends_to_the_normal_one():
    assert coverage_factor(np.inf, 0.95) == pytest.approx(1.959964, abs=1e-6)
    assert coverage_factor(1e7, 0.95) == pytest.approx(1.959964, abs=1e-5)
    assert coverage_factor(1, 0.5) == pytest.approx(1.0, rel=1e-9, abs=0)


def test_shares_add_up_and_follow_the_variances():
    budget = uncertainty_budget(lambda x: x[0] * x[1] / x[2], list("abc"), [2, 3, 4], [0.1, 0.2, 0.3])
    assert sum(line.share for line in budget.lines) == pytest.approx(1)
    assert budget.value == pytest.approx(1.5)
    relative = np.array([0.05, 0.2 / 3, 0.075])
    assert [line.share for line in budget.lines] == pytest.approx(list(relative**2 / np.sum(relative**2)))


def test_shares_add_up_with_correlation_too():
    r = [[1, -0.5], [-0.5, 1]]
    budget = uncertainty_budget(lambda x: x[0] + x[1], list("ab"), [1, 1], [3, 1], r)
    assert sum(line.share for line in budget.lines) == pytest.approx(1)
    assert budget.lines[1].share < 0


def test_an_input_at_zero_is_stepped_by_its_uncertainty():
    budget = uncertainty_budget(lambda x: 5 + 2 * x[0], ["offset"], [0.0], [0.5])
    assert budget.standard_uncertainty == pytest.approx(1.0)


def test_pressure_budget_agrees_with_the_vectorised_uncertainty():
    budget = scar_pressure_budget(450.0, 3e-3, 1.6e-3, 0.01, 3e-5)
    expected = relative_pressure_uncertainty(3e-3, 1.6e-3, 0.01, 3e-5)
    assert budget.standard_uncertainty / budget.value == pytest.approx(float(expected), rel=1e-9, abs=0)
    assert budget.value == pytest.approx(450.0 / (np.pi / 4 * 3e-3 * 1.6e-3))


def test_pressure_budget_with_implied_width_has_no_width_line():
    budget = scar_pressure_budget(450.0, 3e-3, 1.5e-3, 0.01, 3e-5, lambda length: length / 2)
    assert [line.name for line in budget.lines] == ["load", "scar length"]
    expected = relative_pressure_uncertainty(3e-3, 1.5e-3, 0.01, 3e-5, lambda length: length / 2, True)
    assert budget.standard_uncertainty / budget.value == pytest.approx(float(expected), rel=1e-9, abs=0)


def test_wear_coefficient_budget_agrees_with_the_vectorised_uncertainty():
    budget = wear_coefficient_budget(450.0, 3e-3, 500.0, 0.01, 3e-5, lambda length: length**4, 0.02)
    expected = relative_wear_coefficient_uncertainty(3e-3, 0.01, 3e-5, lambda length: length**4, 0.02)
    assert budget.standard_uncertainty / budget.value == pytest.approx(float(expected), rel=1e-9, abs=0)


def test_derivatives_agree_with_the_analytic_ones():
    x = np.array([0.3, 1.0, 5.0])
    assert derivative(np.exp, x) == pytest.approx(np.exp(x), rel=1e-9, abs=0)
    assert gradient(lambda v: float(np.sin(v[0]) * v[1]), [0.4, 3.0]) == pytest.approx(
        [3 * np.cos(0.4), np.sin(0.4)], rel=1e-9
    )


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: combine([1, 2], [1]), "differ in shape"),
        (lambda: combine([1], [-1]), "zero or more"),
        (lambda: combine([1, 1], [1, 1], [[1, 2], [2, 1]]), "symmetric"),
        (lambda: combine([1, 1], [1, 1], [[1]]), "must be"),
        (lambda: combine([1], [1], degrees_of_freedom=[0]), "degrees_of_freedom"),
        (lambda: coverage_factor(0.5, 0.95), "at least 1"),
        (lambda: coverage_factor(5, 1.0), "between 0 and 1"),
        (lambda: t_factor(0.0, 0.95), "positive"),
        (lambda: derivative(np.exp, 0.0), "step must be positive"),
        (lambda: uncertainty_budget(lambda x: 1.0, ["a"], [1, 2], [1, 2]), "unequal counts"),
    ],
)
def test_misuse_is_refused_with_a_plain_sentence(call, words):
    with pytest.raises(ValueError, match=words):
        call()
