"""Combination of uncertainties: relations between contributions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.stats.uncertainty import (
    combine,
    derivative,
    effective_degrees_of_freedom,
    t_factor,
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


def test_derivatives_agree_with_the_analytic_ones():
    x = np.array([0.3, 1.0, 5.0])
    assert derivative(np.exp, x) == pytest.approx(np.exp(x), rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: combine([1, 2], [1]), "differ in shape"),
        (lambda: combine([1], [-1]), "zero or more"),
        (lambda: combine([1, 1], [1, 1], [[1, 2], [2, 1]]), "symmetric"),
        (lambda: combine([1, 1], [1, 1], [[1]]), "must be"),
        (lambda: combine([1], [1], degrees_of_freedom=[0]), "degrees_of_freedom"),
        (lambda: t_factor(0.0, 0.95), "positive"),
        (lambda: derivative(np.exp, 0.0), "step must be positive"),
    ],
)
def test_misuse_is_refused_with_a_plain_sentence(call, words):
    with pytest.raises(ValueError, match=words):
        call()
