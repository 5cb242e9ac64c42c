"""Control charts, run rules and periods out of control: relations and edges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.stats.control import (
    RULES,
    Signal,
    ewma_chart,
    ewma_signals,
    individuals_chart,
    out_of_control_periods,
    periods_touching,
    rig_control,
    run_rule_signals,
)


def days(n):
    return np.datetime64("2024-01-01") + np.arange(n)


# For each rule: a stretch that breaks it, and the same stretch weakened just enough to keep it.
STRETCHES = {
    1: ([3.01], [3.0]),
    2: ([0.5, 0.1] * 4 + [0.5], [0.5, 0.1] * 4),
    3: ([-1.2, -0.7, -0.2, 0.3, 0.8, 1.3], [-1.2, -0.7, -0.2, 0.3, 0.8, 0.8]),
    4: ([0.5, -0.5] * 7, [0.5, -0.5] * 6 + [0.5]),
    5: ([2.1, 0.0, 2.1], [2.1, 0.0, -2.1]),
    6: ([1.1, 1.1, 0.0, 1.1, 1.1], [1.1, 1.1, 0.0, 0.9, 1.1]),
    7: ([0.9, -0.9, 0.8, 0.2, -0.4] * 3, [0.9, -0.9, 0.8, 0.2, -0.4] * 2 + [0.9, -0.9, 0.8, 0.2, -1.4]),
    8: ([1.1, -1.1] * 4, [1.1, -1.1] * 3 + [1.1, -0.9]),
}


@pytest.mark.parametrize("rule", list(STRETCHES))
def test_each_rule_sees_its_stretch_and_not_a_weaker_one(rule):
    breaking, keeping = STRETCHES[rule]
    assert run_rule_signals(breaking, 0.0, 1.0, [rule]) == [Signal(rule, 0, len(breaking) - 1)]
    assert run_rule_signals(keeping, 0.0, 1.0, [rule]) == []


@pytest.mark.parametrize("rule", list(STRETCHES))
def test_rules_are_the_same_upside_down(rule):
    breaking = -np.array(STRETCHES[rule][0])
    assert run_rule_signals(breaking, 0.0, 1.0, [rule]) == [Signal(rule, 0, breaking.size - 1)]


def test_good_points_beside_a_stretch_are_not_part_of_it():
    assert run_rule_signals([0.0, 2.1, 2.1, 0.0, 0.0], 0.0, 1.0, [5]) == [Signal(5, 1, 2)]
    assert run_rule_signals([2.1, 0.0, 0.0, 2.1], 0.0, 1.0, [5]) == []


def test_a_stretch_at_the_very_start_counts():
    assert run_rule_signals([2.1, 2.1, 0.0, 0.0], 0.0, 1.0, [5]) == [Signal(5, 0, 1)]
    assert run_rule_signals([-1.1] * 4, 0.0, 1.0, [6]) == [Signal(6, 0, 3)]


def test_overlapping_windows_join():
    assert run_rule_signals([0.5] * 12, 0.0, 1.0, [2]) == [Signal(2, 0, 11)]


@given(st.lists(st.floats(-4, 4), min_size=1, max_size=40), st.floats(0.1, 10), st.floats(-5, 5))
def test_first_rule_is_the_limits_of_the_chart(z, sigma, centre):
    values = [centre + sigma * v for v in z]
    signals = run_rule_signals(values, centre, sigma, [1])
    covered = {p for s in signals for p in range(s.first, s.last + 1)}
    expected = {p for p, v in enumerate(values) if abs(v - centre) / sigma > 3.0}
    assert covered == expected


def test_every_rule_is_defined_in_words():
    assert list(RULES) == list(range(1, 10))


def test_average_run_length_of_the_first_rule_is_about_370():
    rng = np.random.default_rng(2)
    z = rng.standard_normal(400_000)
    alarms = np.sum(np.abs(z) > 3)
    found = run_rule_signals(z[:20_000], 0.0, 1.0, [1])
    assert len(found) == np.sum(np.abs(z[:20_000]) > 3)
    # About 1080 alarms: three standard errors are 9 %.
    assert 400_000 / alarms == pytest.approx(370.4, rel=0.1, abs=0)


def test_sigma_comes_from_short_term_spread():
    rng = np.random.default_rng(3)
    drift = np.linspace(0, 30, 2000) + rng.standard_normal(2000)
    # Sigma from 2000 moving ranges: a standard error of about 2 %.
    assert individuals_chart(drift).sigma == pytest.approx(1.0, rel=0.05, abs=0)


def test_baseline_ranges_do_not_cross_a_gap():
    chart = individuals_chart([1.0, 2.0, 9.0, 5.0, 5.5], [True, True, False, True, True])
    assert chart.mean_moving_range == pytest.approx(0.75)
    assert chart.centre == pytest.approx(13.5 / 4)
    assert "provisional" in chart.note


def test_exact_ewma_limits_open_to_the_asymptotic_ones():
    values = np.zeros(60)
    exact, wide = ewma_chart(values, 0.0, 2.0), ewma_chart(values, 0.0, 2.0, exact_limits=False)
    assert exact.upper[0] == pytest.approx(3 * 2.0 * 0.3)
    assert exact.upper[-1] == pytest.approx(wide.upper[-1], rel=1e-9, abs=0)
    assert np.all(np.diff(exact.upper) >= 0)


def test_ewma_of_weight_one_is_the_individuals_chart():
    values = [1.0, -4.0, 2.0]
    chart = ewma_chart(values, 0.0, 1.0, 1.0)
    assert chart.averages.tolist() == values
    assert chart.upper.tolist() == pytest.approx([3.0] * 3)
    assert chart.beyond.tolist() == [False, True, False]


def test_ewma_exact_limits_hold_the_variance():
    rng = np.random.default_rng(5)
    averages = np.array([ewma_chart(row, 0.0, 1.0, 0.2).averages for row in rng.standard_normal((4000, 6))])
    half = ewma_chart(np.zeros(6), 0.0, 1.0, 0.2).upper / 3
    # A standard deviation over the simulated rows: a standard error of about 1 %.
    assert averages.std(axis=0) == pytest.approx(half, rel=0.04, abs=0)


def test_a_shift_is_found_with_its_dates():
    rng = np.random.default_rng(7)
    values = np.concatenate([rng.normal(0, 1, 30), rng.normal(4, 1, 5), rng.normal(0, 1, 10)])
    study = rig_control(days(45), values, baseline=np.arange(45) < 30)
    assert study.periods[-1].start <= np.datetime64("2024-01-31") <= study.periods[-1].end
    assert 1 in study.periods[-1].rules
    assert "one point beyond three sigma" in study.periods[-1].statement


def test_order_of_rows_does_not_matter():
    rng = np.random.default_rng(8)
    values, times = rng.normal(0, 1, 30), days(30)
    values[20:] += 3
    shuffled = rng.permutation(30)
    one, other = rig_control(times, values), rig_control(times[shuffled], values[shuffled])
    assert one.periods == other.periods
    assert np.array_equal(one.ewma.averages, other.ewma.averages)


def test_signals_that_touch_form_one_period():
    periods = out_of_control_periods(days(8), [Signal(1, 2, 2), Signal(5, 3, 4), Signal(1, 6, 6)])
    assert [(p.first, p.last, p.rules) for p in periods] == [(2, 4, (1, 5)), (6, 6, (1,))]
    assert periods[0].last_good_before == np.datetime64("2024-01-02")
    assert periods[0].first_good_after == np.datetime64("2024-01-06")


def test_an_open_period_touches_every_later_campaign():
    periods = out_of_control_periods(days(4), [Signal(1, 3, 3)])
    assert periods[0].first_good_after is None
    assert periods_touching(periods, np.datetime64("2025-01-01"), np.datetime64("2025-02-01")) == periods
    assert periods_touching(periods, np.datetime64("2023-01-01"), np.datetime64("2024-01-02")) == ()


def test_ewma_stretches_keep_apart():
    assert ewma_signals([True, False, True, True]) == [Signal(9, 0, 0), Signal(9, 2, 3)]
    assert ewma_signals([False]) == []


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: individuals_chart([1.0]), "no neighbouring"),
        (lambda: individuals_chart([1.0, 1.0]), "differ"),
        (lambda: individuals_chart([1.0, 2.0], [True]), "baseline"),
        (lambda: individuals_chart([1.0, np.nan]), "finite"),
        (lambda: ewma_chart([1.0], 0.0, 0.0), "out of range"),
        (lambda: ewma_chart([1.0], 0.0, 1.0, 1.5), "out of range"),
        (lambda: run_rule_signals([1.0], 0.0, 0.0), "sigma"),
        (lambda: run_rule_signals([1.0], 0.0, 1.0, [9]), "rule 9"),
        (lambda: rig_control(["2024-01-01", "NaT"], [1.0, 2.0]), "missing"),
        (lambda: rig_control(["2024-01-01"], [1.0, 2.0]), "equal length"),
    ],
)
def test_misuse_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
