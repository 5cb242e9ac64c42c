"""The t intervals of one group: limits, edge cases, and agreement with a second library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from pinscar.stats.estimates import geometric_mean, mean

positive = st.lists(st.floats(1e-3, 1e9), min_size=3, max_size=12)


def test_mean_agrees_with_scipy() -> None:
    values = [9.7, 10.4, 10.1, 11.3, 8.8]
    low, high = stats.t.interval(0.9, 4, loc=np.mean(values), scale=stats.sem(values))
    result = mean(values, 0.9)
    assert (result.low, result.high) == pytest.approx((low, high), rel=1e-12, abs=0)
    assert result.df == 4


def test_geometric_mean_is_the_exponential_of_the_mean_of_logs() -> None:
    values = np.array([97.0, 104.0, 131.0])
    linear, log = mean(np.log(values)), geometric_mean(values)
    limits = np.exp([linear.estimate, linear.low, linear.high])
    assert [log.estimate, log.low, log.high] == pytest.approx(limits, rel=1e-12, abs=0)
    assert log.sd == pytest.approx(linear.sd)


@given(positive, st.floats(1e-6, 1e6))
def test_geometric_mean_scales_with_the_unit(values: list[float], factor: float) -> None:
    first, second = geometric_mean(values), geometric_mean(np.array(values) * factor)
    assert second.estimate == pytest.approx(factor * first.estimate, rel=1e-9, abs=0)
    if first.sd > 1e-9:
        assert second.high / second.low == pytest.approx(first.high / first.low, rel=1e-6, abs=0)


spread_out = positive.filter(lambda values: max(values) / min(values) > 1 + 1e-9)
CASES = st.one_of(
    st.tuples(spread_out, st.just(0.0)),
    st.tuples(positive, st.floats(1e-6, 0.1)),
    st.tuples(st.floats(1e-3, 1e9).map(lambda value: [value] * 3), st.floats(1e-6, 0.1)),
)
"""Readings that differ, of unknown resolution; and any readings, equal ones too, of a known one."""


@given(CASES)
def test_the_interval_holds_the_estimate_and_grows_with_confidence(case: tuple[list[float], float]) -> None:
    values, step = case
    narrow, wide = geometric_mean(values, 0.8, step), geometric_mean(values, 0.99, step)
    assert wide.low < wide.high
    assert wide.low <= narrow.low <= narrow.estimate * (1 + 1e-12)
    assert narrow.estimate * (1 - 1e-12) <= narrow.high <= wide.high


def test_a_limit_outside_the_floats_is_none_and_said() -> None:
    result = geometric_mean([1e-150, 1e150], 0.99)
    assert (result.low, result.high) == (None, None)
    assert "no limit" in result.note


@pytest.mark.parametrize("function", [mean, geometric_mean])
def test_one_run_gives_the_value_and_no_interval(function) -> None:
    result = function([118.5])
    assert (result.n, result.estimate, result.low, result.high) == (1, 118.5, None, None)
    assert (result.sd, result.df, result.method) == (None, None, "single run, no interval")


@pytest.mark.parametrize("function", [mean, geometric_mean])
def test_equal_runs_of_unknown_resolution_give_no_interval_and_say_so(function) -> None:
    result = function([0.1, 0.1, 0.1])
    assert (result.estimate, result.low, result.high, result.sd) == (0.1, None, None, 0.0)
    assert "same value" in result.note
    assert "resolution of the reading is unknown: no interval" in result.note


@pytest.mark.parametrize(("function", "step"), [(mean, 0.001), (geometric_mean, 0.01)])
def test_equal_runs_read_in_steps_have_the_width_that_rounding_can_hide(function, step) -> None:
    # Standard deviation of rounding: step/sqrt(12) (JCGM 100:2008, F.2.2.1). t with 2 degrees of freedom at
    # 0.975: 4.303 in every printed table. Half a step more, since all three may be rounded the same way.
    result = function([0.1, 0.1, 0.1], 0.95, step)
    reach = 4.303 * step / np.sqrt(12) / np.sqrt(3) + step / 2
    ends = (0.1 - reach, 0.1 + reach) if function is mean else 0.1 * np.exp([-reach, reach])
    assert result.estimate == pytest.approx(0.1, rel=1e-12, abs=0)
    assert (result.low, result.high) == pytest.approx(tuple(ends), rel=2e-6, abs=0)
    assert result.sd == 0.0
    assert "no smaller than rounding" in result.note


@pytest.mark.parametrize(
    ("values", "confidence", "word"),
    [
        ([], 0.95, "at least one"),
        ([1.0, np.nan], 0.95, "finite"),
        ([1.0, 0.0], 0.95, "positive"),
        ([1.0, -2.0], 0.95, "positive"),
        ([1.0, 2.0], 1.0, "between 0 and 1"),
        ([1.0, 2.0], 0.0, "between 0 and 1"),
        ([[1.0, 2.0]], 0.95, "one-dimensional"),
    ],
)
def test_misuse_is_refused(values, confidence, word) -> None:
    with pytest.raises(ValueError, match=word):
        geometric_mean(values, confidence)


def test_negative_values_are_fine_on_the_linear_scale() -> None:
    assert mean([-1.0, 1.0]).estimate == 0
