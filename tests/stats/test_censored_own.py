"""Ratios of medians with censored runs, each group with its own spread."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.censored import left_censored_median
from pinscar.stats.censored_groups import own_group, own_spread_ratio, reach
from pinscar.stats.two_groups import own_spreads_t


@pytest.mark.parametrize("sizes", [(3, 3), (5, 4), (2, 6)])
@pytest.mark.parametrize("step", [0.0, 0.15])
def test_without_censored_runs_it_is_the_guarded_welch_interval(sizes: tuple[int, int], step: float) -> None:
    rng = np.random.default_rng(sum(sizes))
    x, y = (np.exp(shift + 0.1 * rng.normal(size=n)) for shift, n in zip((0.3, 0.0), sizes, strict=True))
    ours = own_spread_ratio(*(own_group(one, np.zeros(one.size, bool), step) for one in (x, y)))
    welch = own_spreads_t(np.log(x), np.log(y), 0.95, step)
    ends = np.log(ours.low), np.log(ours.high)
    if step:  # held against rounding is the likelihood's spread, a little smaller: the limits lie further out
        assert ends[0] <= welch.low + 1e-9
        assert ends[1] >= welch.high - 1e-9
    else:
        assert ends == pytest.approx((welch.low, welch.high), abs=1e-8)
        assert ours.p == pytest.approx(welch.p, rel=1e-5, abs=0)


def test_each_reach_is_that_of_the_groups_own_calibrated_median() -> None:
    values, hidden = [100.0, 110.0, 95.0, 120.0, 90.0], [False, False, True, False, True]
    group, alone = own_group(values, hidden), left_censored_median(values, hidden)
    t4 = 2.7764451052  # Student's t at 97.5 %, 4 degrees of freedom
    centre = float(group.fit.coefficients[0])
    assert reach(group, "low", t4) == pytest.approx(centre - np.log(alone.low), rel=1e-6, abs=0)
    assert reach(group, "high", t4) == pytest.approx(np.log(alone.high) - centre, rel=1e-6, abs=0)


def test_turning_the_ratio_over_turns_its_limits() -> None:
    a = own_group([100.0, 110.0, 95.0, 120.0], [False, False, True, False])
    b = own_group([130.0, 150.0, 141.0, 160.0, 128.0], [False, True, False, False, False])
    there, back = own_spread_ratio(b, a), own_spread_ratio(a, b)
    assert (1 / there.high, 1 / there.low) == pytest.approx((back.low, back.high), rel=1e-7, abs=0)
    assert there.p == pytest.approx(back.p, rel=1e-6, abs=0)
    assert there.low < there.profile_low < there.ratio < there.profile_high < there.high


def test_the_error_holds_where_few_variable_runs_meet_many_even_ones() -> None:
    """One spread for both is wrong in about 10 % of such campaigns; 2.5 % is allowed."""
    rng, wrong, campaigns = np.random.default_rng(6), 0, 150
    for _ in range(campaigns):
        groups = []
        for n, spread in ((3, 0.3), (8, 0.1)):
            film, reached = spread * rng.standard_normal((2, n))
            hidden = film < reached - 0.3 * spread
            groups.append((np.exp(np.maximum(film, reached - 0.3 * spread)), hidden))
        if min((~hidden).sum() for _, hidden in groups) < 2:
            continue
        low = own_spread_ratio(*(own_group(*group) for group in groups)).low
        wrong += low is not None and low > 1.0
    assert wrong <= 0.025 * campaigns + 3 * np.sqrt(0.025 * 0.975 * campaigns)


def test_one_seen_value_has_no_spread() -> None:
    with pytest.raises(ValueError, match="two distinct uncensored values"):
        own_group([1.0, 2.0, 3.0], [True, True, False])
