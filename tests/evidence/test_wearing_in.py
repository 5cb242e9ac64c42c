"""Traces of pins that wear in, with the faults of a recorder: each was once read wrong, and surely so."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pinscar.campaign.traces import check_trace
from pinscar.decision.force_readings import force_spikes
from pinscar.decision.force_readings import with_zero_taken_off as zeroed
from pinscar.decision.traces import energy_of, friction_phases, stop_told, warming_of
from pinscar.evidence.force_zero import find_zero
from pinscar.evidence.friction_stop import friction_stop
from pinscar.evidence.off_course import off_course
from pinscar.evidence.overdriven import at_its_end
from pinscar.evidence.sensor_lag import sensor_lag
from pinscar.evidence.warming import read_warming

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "benchmarks"))
from wearing_in import draw

RUN = {"run_id": "1", "lubricant": "R-10", "load": 450.0, "duration": 60.0, "sliding_speed": 1.5,
       "quiet_time": np.nan, "peak_temperature": np.nan}  # fmt: skip
NO_STEPS = pd.DataFrame({"run_id": [], "start": [], "load": []})
TIME = np.arange(-20.0, 75.0)
INSIDE = (TIME >= 0.0) & (TIME <= 60.0)
FORCE = np.where(INSIDE, 30.0 + 25.0 * np.exp(-np.clip(TIME, 0.0, None) / 7.0), 0.0)


def scattered(values, size, seed=1):
    return values + np.random.default_rng(seed).normal(0.0, size, np.shape(values))


def trace(force, time=TIME, warmth=300.0):
    return pd.DataFrame(
        {
            "time": time,
            "friction_force": force,
            "motor_power": np.nan,
            "temperature": np.full(time.size, warmth),
        }
    )


def test_the_first_readings_of_a_run_are_no_spikes_however_high_they_stand_over_the_unloaded_ones():
    assert not force_spikes(trace(scattered(FORCE, 0.3)), 450.0, (), 60.0)[INSIDE].any()


def test_spikes_beside_one_another_a_gap_and_a_load_step_are_left_out():
    time = np.delete(np.arange(0.0, 60.0, 2.0), [12, 13, 14])
    load = np.where(time < 20.0, 1.0, 2.0)
    force = scattered(load * (15.0 + 6.0 * np.exp(-np.mod(time, 20.0) / 4.0)), 0.2)
    spikes = [4, 5, 7, 9, 11, 12, 20, 21, 22]  # 9 stands before the load came on, 11 and 12 beside the gap
    force[spikes] += [60.0, 58.0, -40.0, 90.0, 80.0, 82.0, -70.0, -75.0, -71.0]
    found = force_spikes(trace(force, time), 450.0, (20.0, 40.0), 60.0)
    assert np.flatnonzero(found).tolist() == spikes


def test_a_spike_of_five_readings_is_left_out_and_a_level_that_stays_is_not():
    time = np.arange(40.0)
    warmth = scattered(300.0 + 20.0 * (1.0 - np.exp(-time / 10.0)), 0.1)
    spiked = warmth + np.where((time >= 20.0) & (time < 25.0), 90.0, 0.0)
    assert np.flatnonzero(off_course(time, spiked, least=2.0, fastest=8.0)).tolist() == [20, 21, 22, 23, 24]
    raised = warmth + np.where(time >= 20.0, 90.0, 0.0)
    assert not off_course(time, raised, least=2.0, fastest=8.0).any()


@pytest.mark.parametrize("number", range(12))
def test_with_all_faults_together_no_number_is_wrong_and_sure(number):
    run = draw("all", 50, number)
    row = RUN | {"load": run.steps[-1][1], "duration": run.duration, "sliding_speed": run.speed}
    steps = pd.DataFrame([("1", *one) for one in run.steps], columns=["run_id", "start", "load"])
    starts, heaviest = steps["start"].to_list(), float(steps["load"].max())
    corrected, zero = zeroed(trace(run.force, run.time, run.warmth), run.duration, heaviest, starts)
    energy = energy_of(corrected, zero, row, steps)
    if energy is not None and not energy.missing:
        off = energy.energy - run.truth["energy"]
        assert abs(off) < max(3.0 * energy.uncertainty, 0.05 * run.truth["energy"])
    for phase in friction_phases(row, steps, corrected, zero):
        if phase.is_last and np.isfinite(phase.friction.uncertainty):
            off = phase.friction.mean - run.truth["friction"]
            assert abs(off) < max(3.0 * phase.friction.uncertainty, 0.05 * run.truth["friction"])
    warm = warming_of(corrected, run.duration, starts)
    assert abs(warm.peak - run.truth["peak"]) < max(3.0 * warm.peak_uncertainty, 0.05 * run.truth["rise"])
    stop = stop_told(corrected, steps, row, 0.95)
    if stop.accepted and np.isfinite(run.truth["settled"]):
        wide = stop.high - stop.low
        assert stop.low - wide <= run.truth["settled"] <= stop.high + wide


def test_a_trace_in_minutes_is_refused_though_it_goes_on_after_the_run():
    for more in (0.0, 10.0, 30.0):
        time = np.arange(-20.0, 60.0 + more + 0.5) / 60.0
        [problem] = check_trace(trace(np.full(time.size, 40.0), time), RUN, "traces/1.csv")
        assert (problem.code, "looks like min" in problem.message) == ("trace-time-unit", True)


def answer(time, tau, lag):
    """How a sensor of one time constant answers heat that comes on at zero in a body of another."""
    t = np.clip(time, 0.0, None)
    if lag == 0.0:
        return 1.0 - np.exp(-t / tau)
    return 1.0 - (tau * np.exp(-t / tau) - lag * np.exp(-t / lag)) / (tau - lag)


@pytest.mark.parametrize("lag", [0.0, 2.0, 4.0])
def test_a_sensor_that_lags_is_found_and_what_it_lacks_at_the_peak_is_added(lag):
    time = np.arange(-20.0, 60.0)
    inside = time[time >= 0.0]
    force = np.where(inside < 40.0, 40.0, 80.0)
    body = 300.0 + 12.0 * answer(time, 9.0, 0.0) + 12.0 * answer(time - 40.0, 9.0, 0.0)
    read = 300.0 + 12.0 * answer(time, 9.0, lag) + 12.0 * answer(time - 40.0, 9.0, lag)
    found = read_warming(time, scattered(read, 0.05), 60.0, [0.0, 40.0], (inside, force))
    at_end = 300.0 + 12.0 * answer(60.0, 9.0, 0.0) + 12.0 * answer(20.0, 9.0, 0.0)
    assert found.lag.time_constant == pytest.approx(lag, abs=0.5)
    assert abs(found.peak - at_end) < 2.0 * found.peak_uncertainty
    assert abs(found.peak - at_end) < 0.02 * 24.0
    last = found.steps[1]
    assert abs(last.rise - (at_end - np.interp(40.0, time, body))) < 2.0 * last.rise_uncertainty


def test_a_warmth_that_friction_does_not_explain_tells_no_lag():
    time = np.arange(0.0, 60.0)
    warmth = scattered(300.0 + 0.01 * time**2, 0.05)
    assert sensor_lag(time, warmth, time, np.full(60, 40.0), [(0.0, 60.0)], 0.05) is None


def test_rounding_that_scatter_does_not_undo_is_in_the_uncertainty_of_a_peak():
    course = 300.0 + 20.0 * (1.0 - np.exp(-np.clip(TIME, 0.0, None) / 10.0))
    found = read_warming(TIME[TIME <= 60.0], np.round(2.0 * course[TIME <= 60.0]) / 2.0, 60.0)
    assert found.peak_uncertainty >= 0.5 / np.sqrt(12.0)


def test_an_overdriven_force_tells_no_energy_and_no_friction():
    clipped = np.minimum(scattered(FORCE, 0.3), 40.0)
    assert at_its_end(clipped).sum() > 5
    corrected, zero = zeroed(trace(clipped), 60.0, 450.0)
    assert energy_of(corrected, zero, RUN, NO_STEPS) is None
    assert list(friction_phases(RUN, NO_STEPS, corrected, zero)) == []
    [problem] = check_trace(trace(clipped), RUN, "traces/1.csv")
    assert "highest value, 40 N" in problem.message
    rounded = np.round(FORCE / 4.0) * 4.0  # such readings are equal all over
    assert not at_its_end(rounded).any()


def test_a_zero_far_below_is_taken_off_and_a_loaded_pin_is_none():
    shifted = scattered(FORCE, 0.1) - 12.0
    assert find_zero(TIME, shifted, 60.0).before == pytest.approx(-12.0, abs=0.1)
    loaded = np.where(INSIDE, FORCE, 25.0)
    assert find_zero(TIME, scattered(loaded, 0.1), 60.0).before is None


def test_a_fall_whose_beginning_or_last_part_was_not_seen_tells_no_end():
    time = np.arange(0.0, 60.0, 0.5)
    force = scattered(30.0 + 25.0 * np.exp(-time / 6.0), 0.3)
    assert friction_stop(time, force).accepted
    assert "when the load came on" in friction_stop(time[20:], force[20:], begun=0.0).reason
    assert "rounded in steps" in friction_stop(time, np.round(force / 5.0) * 5.0).reason
    slow = 30.0 + 25.0 * np.exp(-time / 40.0)
    assert not friction_stop(time, scattered(slow, 0.3)).accepted
    spiked = np.concatenate([[109.0], scattered(24.0 + 9.0 * np.exp(-np.arange(16.0) / 4.0), 0.2)])
    assert not friction_stop(2.0 * np.arange(17.0), spiked).accepted


def test_the_interval_of_the_stop_holds_it_where_the_film_warms_and_readings_are_alike():
    held = []
    for number in range(20):
        run = draw("none", 51, number)
        own = (run.time >= 0.0) & (run.time <= run.duration)
        found = friction_stop(run.time[own], run.force[own], begun=0.0)
        if found.accepted:
            held.append(found.low <= run.truth["settled"] <= found.high)
    assert len(held) >= 12
    assert np.mean(held) >= 0.85
