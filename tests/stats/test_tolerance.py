"""Prediction and tolerance intervals: relations, and simulation of what they hold."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pinscar.stats.estimates import mean
from pinscar.stats.intervals import prediction_interval, tolerance_interval, two_sided_factor

VALUES = [97.0, 104.0, 101.0, 95.0, 110.0, 99.0]


def test_prediction_is_wider_than_the_mean_by_the_next_run() -> None:
    centre, following = mean(VALUES), prediction_interval(VALUES, 0.95, "linear")
    factor = (following.high - following.low) / (centre.high - centre.low)
    assert factor == pytest.approx(np.sqrt(len(VALUES) + 1), rel=1e-12, abs=0)


def test_log_scale_is_the_exponential_of_the_linear_one() -> None:
    log, linear = prediction_interval(VALUES), prediction_interval(np.log(VALUES), 0.95, "linear")
    assert (log.low, log.high) == pytest.approx((np.exp(linear.low), np.exp(linear.high)), rel=1e-12, abs=0)


@pytest.mark.parametrize(("n", "content", "confidence"), [(5, 0.9, 0.9), (8, 0.8, 0.95), (3, 0.95, 0.8)])
def test_factors_keep_their_promise_in_simulation(n: int, content: float, confidence: float) -> None:
    rng = np.random.default_rng(4)
    draws = rng.normal(size=(40_000, n))
    centre, sd = draws.mean(axis=1), draws.std(axis=1, ddof=1)
    k2 = two_sided_factor(n, content, confidence)
    two = stats.norm.cdf(centre + k2 * sd) - stats.norm.cdf(centre - k2 * sd)
    error = 4 * np.sqrt(confidence * (1 - confidence) / 40_000)
    assert np.mean(two >= content) == pytest.approx(confidence, abs=error)


def test_many_runs_leave_only_the_normal_quantile() -> None:
    assert two_sided_factor(10**6, 0.95, 0.5) == pytest.approx(1.959964, rel=1e-5, abs=0)


@pytest.mark.parametrize("function", [prediction_interval, tolerance_interval])
def test_one_run_gives_no_interval_and_equal_runs_no_width(function) -> None:
    single, flat = function([100.0]), function([100.0] * 3)
    assert (single.low, single.high, single.method) == (None, None, "single run, no interval")
    assert single.estimate == pytest.approx(100.0)
    assert (flat.low, flat.high) == (flat.estimate, flat.estimate)
    assert "same value" in flat.note


@pytest.mark.parametrize(
    ("arguments", "word"),
    [((1, 0.9, 0.9), "n must"), ((5, 1.0, 0.9), "content"), ((5, 0.9, 0.0), "confidence")],
)
def test_misuse_is_refused(arguments, word) -> None:
    with pytest.raises(ValueError, match=word):
        two_sided_factor(*arguments)
