"""One-way analysis of variance and moments: relations."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.stats.control import one_way_anova
from pinscar.stats.estimates import stable_mean, standard_deviation, sum_of_squares

value = st.integers(-1000, 1000).map(float)
groups = st.lists(st.lists(value, min_size=2, max_size=6), min_size=2, max_size=5)


@given(groups, st.integers(-(2**30), 2**30))
def test_a_shift_of_the_origin_changes_no_sum_of_squares(data, shift):
    one, other = one_way_anova(data), one_way_anova([[v + shift for v in group] for group in data])
    assert other.sum_of_squares_between == pytest.approx(one.sum_of_squares_between, rel=1e-9, abs=1e-9)
    assert other.sum_of_squares_within == pytest.approx(one.sum_of_squares_within, rel=1e-9, abs=1e-9)


@given(groups)
def test_sums_of_squares_add_up_to_the_total(data):
    result = one_way_anova(data)
    total = sum_of_squares(np.concatenate(data))
    assert result.sum_of_squares_between + result.sum_of_squares_within == pytest.approx(total, abs=1e-6)


def test_two_groups_give_the_squared_t():
    from scipy.stats import ttest_ind

    a, b = [1.0, 2.5, 2.0], [3.0, 4.5, 4.0, 3.9]
    assert one_way_anova([a, b]).f == pytest.approx(float(ttest_ind(a, b).statistic) ** 2, rel=1e-12, abs=0)


def test_groups_that_do_not_vary_have_no_f():
    result = one_way_anova([[1, 1], [2, 2]])
    assert (result.f, result.p, result.residual_sd) == (None, None, 0.0)


@given(st.lists(value, min_size=2, max_size=30))
def test_moments_agree_with_numpy(values):
    assert stable_mean(values) == pytest.approx(np.mean(values), abs=1e-9)
    assert standard_deviation(values) == pytest.approx(np.std(values, ddof=1), abs=1e-9)


@pytest.mark.parametrize("values", [[], [1.0, np.nan], [np.inf], [[1.0, 2.0]]])
def test_moments_refuse_what_has_none(values):
    with pytest.raises(ValueError, match="values"):
        stable_mean(values)


def test_sd_of_one_value_is_refused():
    with pytest.raises(ValueError, match="at least two"):
        standard_deviation([1.0])


@pytest.mark.parametrize("data", [[[1.0, 2.0]], [[1.0], [2.0]]])
def test_anova_without_repeats_or_groups_is_refused(data):
    with pytest.raises(ValueError, match="needs two groups"):
        one_way_anova(data)
