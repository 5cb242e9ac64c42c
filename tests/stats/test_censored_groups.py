"""Censored groups compared: relations, a general optimiser, and what the one-sided bound promises."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from pinscar.stats.censored_groups import (
    all_censored_ratio_bound,
    censored_ratio,
    fit_censored_groups,
    ratio_deviance,
)


def sample(seed: int, sizes=(5, 6, 4)):
    rng = np.random.default_rng(seed)
    values = {
        name: np.exp(rng.normal(4.6 + 0.1 * i, 0.15, n))
        for i, (name, n) in enumerate(zip("RAB", sizes, strict=True))
    }
    masks = {name: np.arange(v.size) % 3 == 1 for name, v in values.items()}
    return values, masks


def cost(parameters: np.ndarray, values, masks) -> float:
    total, sigma = 0.0, np.exp(parameters[-1])
    for mu, name in zip(parameters, values, strict=False):
        y, mask = np.log(values[name]), masks[name]
        total -= stats.norm.logpdf(y[~mask], mu, sigma).sum() + stats.norm.logcdf(y[mask], mu, sigma).sum()
    return total


@pytest.mark.parametrize("seed", range(4))
def test_fit_and_deviance_agree_with_a_general_minimiser(seed: int) -> None:
    values, masks = sample(seed)
    groups = fit_censored_groups(values, masks)
    start = np.append(groups.fit.coefficients + 0.05, np.log(groups.fit.sigma) + 0.1)
    free = optimize.minimize(cost, start, (values, masks), method="BFGS", options={"gtol": 1e-7})
    assert groups.fit.coefficients == pytest.approx(free.x[:3], abs=1e-5)
    assert groups.fit.log_likelihood == pytest.approx(-free.fun, rel=1e-9, abs=0)

    def held(p: np.ndarray) -> float:
        return cost(np.array([p[0], p[0] + 0.2, p[1], p[2]]), values, masks)

    restricted = optimize.minimize(held, start[[0, 2, 3]], method="BFGS", options={"gtol": 1e-7})
    expected = 2 * (restricted.fun - free.fun)
    assert ratio_deviance(groups, "A", "R", 0.2) == pytest.approx(expected, rel=1e-5, abs=1e-7)


def test_without_censoring_the_limits_have_a_closed_form() -> None:
    values, _ = sample(1)
    groups = fit_censored_groups(values, {})
    logs = {name: np.log(v) for name, v in values.items()}
    n = sum(y.size for y in logs.values())
    rest = sum(np.sum((y - y.mean()) ** 2) for y in logs.values())
    harmonic = 1 / (1 / logs["A"].size + 1 / logs["R"].size)
    reach = np.sqrt(rest * np.expm1(stats.chi2.ppf(0.95, 1) / n) / harmonic)
    result = censored_ratio(groups, "A", "R")
    centre = logs["A"].mean() - logs["R"].mean()
    expected = np.exp([centre - reach, centre + reach])
    assert [result.profile_low, result.profile_high] == pytest.approx(list(expected), rel=1e-9, abs=0)


@given(st.integers(0, 5000), st.floats(1e-6, 1e6))
@settings(max_examples=25, deadline=None)
def test_a_change_of_unit_leaves_the_ratio(seed: int, factor: float) -> None:
    values, masks = sample(seed)
    first = censored_ratio(fit_censored_groups(values, masks), "A", "R")
    scaled = {name: factor * v for name, v in values.items()}
    second = censored_ratio(fit_censored_groups(scaled, masks), "A", "R")
    assert (second.ratio, second.low, second.high) == pytest.approx(
        (first.ratio, first.low, first.high), rel=1e-7
    )


@given(st.integers(0, 5000))
@settings(max_examples=25, deadline=None)
def test_exchanging_subject_and_reference_turns_the_ratio_over(seed: int) -> None:
    groups = fit_censored_groups(*sample(seed))
    there, back = censored_ratio(groups, "A", "R"), censored_ratio(groups, "R", "A")
    assert (there.ratio, there.low, there.high) == pytest.approx(
        (1 / back.ratio, 1 / back.high, 1 / back.low), rel=1e-7
    )
    assert there.p == pytest.approx(back.p, rel=1e-6, abs=0)


def test_p_is_below_the_level_exactly_when_the_interval_leaves_one() -> None:
    for seed in range(12):
        groups = fit_censored_groups(*sample(seed))
        result = censored_ratio(groups, "B", "R", 0.9)
        assert (result.p < 0.1) == (not result.low <= 1 <= result.high)


def test_the_bound_sits_on_the_side_that_is_known() -> None:
    seen, hidden = [100.0, 105.0, 95.0, 101.0], [70.0, 75.0, 72.0, 71.0, 74.0, 70.0]
    none, all_ = [False] * 4, [True] * 6
    low, high = all_censored_ratio_bound(hidden, all_, seen, none)
    assert low is None
    assert 0.75 < high < 1
    turned = all_censored_ratio_bound(seen, none, hidden, all_)
    assert turned == (pytest.approx(1 / high), None)


def test_the_bound_holds_at_least_as_often_as_it_says() -> None:
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(600):
        subject, reference = np.exp(rng.normal(0, 0.3, 5)), np.exp(rng.normal(0, 0.3, 4))
        high = all_censored_ratio_bound(subject, [True] * 5, reference, [False] * 4, 0.9)[1]
        held += high >= 1  # values recorded at the truth itself: the tightest case there is
    assert held / 600 > 0.9 - 3 * np.sqrt(0.09 / 600)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: fit_censored_groups({"A": [1.0, 2.0]}, {"A": [True, True]}), "wholly censored"),
        (lambda: fit_censored_groups({"A": [1.0, 2.0]}, {"A": [True, False]}), "spread is unknown"),
        (lambda: all_censored_ratio_bound([1.0], [True], [1.0], [True]), "exactly one"),
        (lambda: all_censored_ratio_bound([1.0] * 3, [True] * 3, [1.0, 2.0], [False] * 2), "0.875"),
        (
            lambda: all_censored_ratio_bound([1.0] * 6, [True] * 6, [1.0, 2.0], [True, False]),
            "no lower limit",
        ),
    ],
)
def test_misuse_is_refused(call, word) -> None:
    with pytest.raises(ValueError, match=word):
        call()
