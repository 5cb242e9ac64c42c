"""Traces: gaps, scatter, lone spikes, warming, and the zero of the force."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.evidence.force_zero import find_zero, zero_at
from pinscar.evidence.recorder import find_gaps, lone_spikes, rounding_sd, scatter, short_spikes
from pinscar.evidence.warming import read_warming

TIME = np.arange(-30.0, 61.0, 0.5)


def warm(time: np.ndarray, noise: float = 0.0, drift: float = 0.0) -> np.ndarray:
    """300 K and a drift before the run, then 0.5 K/s for 20 s and 0.2 K/s after."""
    run = np.clip(time, 0.0, None)
    rise = 0.5 * np.minimum(run, 20.0) + 0.2 * np.maximum(run - 20.0, 0.0)
    return (
        300.0 + drift * np.minimum(time, 0.0) + rise + np.random.default_rng(7).normal(0.0, noise, time.size)
    )


def test_gaps_are_told_by_the_run_and_by_the_pace_of_the_readings():
    assert find_gaps(np.arange(0.0, 61.0, 5.0), 0.0, 60.0) == ()  # slow, but even
    assert find_gaps([], 0.0, 60.0) == ((0.0, 60.0),)
    time = np.concatenate([np.arange(4.0, 20.0), np.arange(40.0, 59.0)])
    assert find_gaps(time, 0.0, 60.0) == ((0.0, 4.0), (19.0, 40.0))


@pytest.mark.parametrize("bend", [0.0, 0.002])
def test_scatter_sees_noise_and_not_the_course(bend):
    rng = np.random.default_rng(2)
    time = np.sort(rng.uniform(0.0, 60.0, 4000))
    found = scatter(time, 20.0 + 0.5 * time + bend * time**2 + rng.normal(0.0, 0.3, 4000))
    assert found == pytest.approx(0.3, rel=0.05)  # 4000 readings tell a median deviation to about 2 %
    # rounded to 0.5: at least 0.5 / sqrt(12)
    assert scatter(time[:400], np.round(2.0 * time[:400]) / 2.0) >= 0.5 / np.sqrt(12.0)
    assert np.isnan(scatter([0.0, 1.0], [1.0, 2.0]))


def test_a_spike_is_one_reading_and_a_step_is_none():
    time, values = np.arange(40.0), np.where(np.arange(40.0) < 20.0, 20.0, 60.0)
    assert not lone_spikes(time, values, 2.0).any()
    values[[8, 30]] = 90.0, 5.0
    assert np.flatnonzero(lone_spikes(time, values, 2.0)).tolist() == [8, 30]
    values[9] = 90.0  # two in a row may be true
    assert np.flatnonzero(lone_spikes(time, values, 2.0)).tolist() == [30]


def test_warming_tells_the_rates_that_were_put_in():
    found = read_warming(TIME, warm(TIME, noise=0.05, drift=0.02), 60.0)
    assert found.start == pytest.approx(300.0, abs=4 * found.start_uncertainty)
    assert 0.0 < found.start_uncertainty < 0.05
    assert found.before == 60
    # Noise of 0.05 K and a drift of 0.02, over the few readings of start and peak.
    assert found.rise == pytest.approx(18.0, abs=0.3)
    # A standard deviation from some ten readings is known to a quarter.
    assert found.scatter == pytest.approx(0.05, rel=0.4)
    # the steepest of many lines lies above the true rate, by a few of its uncertainties at most
    assert 0.5 < found.rate.value < 0.5 + 4 * found.rate.uncertainty
    assert 0.0 <= found.rate.time <= 20.0
    assert found.rate.window == 5.0


def test_a_drift_before_the_run_is_no_rise():
    start = read_warming(TIME, warm(TIME, drift=0.1), 60.0).start
    assert start == pytest.approx(300.0, abs=1e-9)  # and not the 298.5 that the mean of that half minute is


def test_a_spike_makes_no_peak_and_no_rate_and_is_counted():
    readings = warm(TIME, noise=0.05)
    clean = read_warming(TIME, readings, 60.0)
    readings[TIME == 30.0] += 40.0
    spiked = read_warming(TIME, readings, 60.0)
    assert (clean.spikes, spiked.spikes) == (0, 1)
    assert spiked.peak == clean.peak
    assert spiked.rate == pytest.approx(clean.rate) or spiked.rate.value == pytest.approx(clean.rate.value)


def test_no_line_is_laid_across_a_gap_and_sparse_readings_have_no_rate():
    kept = (TIME < 5.0) | (TIME > 25.0)
    readings = np.where(TIME > 20.0, 330.0, 300.0)  # a jump in the gap
    found = read_warming(TIME[kept], readings[kept], 60.0)
    assert found.rate.value == 0.0
    assert found.gaps == ((4.5, 25.5),)
    assert read_warming([0, 20, 40, 60], [300, 310, 320, 330], 60.0).rate is None


def test_the_start_is_the_mean_of_the_opening_without_earlier_readings():
    found = read_warming([0.0, 0.5, 1.0, 60.0], [292.0, 293.0, 294.0, 350.0], 60.0)
    assert (found.start, found.before, found.peak, found.rise) == (293.0, 0, 350.0, 57.0)
    with pytest.raises(ValueError, match="time must rise"):
        read_warming([0, 2, 1], [300.0, 301.0, 302.0], 60.0)
    with pytest.raises(ValueError, match="fewer than two"):
        read_warming([-2.0, -1.0, 0.0], [300.0, 301.0, 302.0], 60.0)


def test_the_zero_is_found_on_both_sides_and_runs_straight_between():
    rng = np.random.default_rng(4)
    time = np.sort(rng.uniform(-40.0, 100.0, 600))
    loaded = (time >= 0.0) & (time <= 60.0)
    force = np.where(loaded, 45.0, 0.0) + 1.0 + 0.03 * time + rng.normal(0.0, 0.2, 600)
    zero = find_zero(time, force, 60.0)
    # the drifting median is that of the middle of each side
    assert (zero.before, zero.after) == (pytest.approx(1.0 - 0.6, abs=0.1), pytest.approx(1.0 + 2.4, abs=0.1))
    assert np.abs(zero_at(zero, [0.0, 30.0, 60.0]) - [1.0, 1.9, 2.8]).max() < 0.1
    assert 0.0 < zero.uncertainty < 0.1


def test_a_loaded_pin_shows_no_zero():
    time = np.arange(-20.0, 81.0)
    zero = find_zero(time, np.where(time < 0.0, 30.0, 45.0), 60.0)
    assert not zero.checked
    assert np.isnan(zero.uncertainty)
    assert zero_at(zero, time).tolist() == [0.0] * 101
    one_side = find_zero(time, np.where(time > 60.0, 2.0, 45.0), 60.0)
    assert (one_side.before, one_side.after) == (None, 2.0)
    assert zero_at(one_side, [0.0, 60.0]).tolist() == [2.0, 2.0]
    assert not find_zero(time[18:], np.where(time[18:] < 0.0, 0.0, 45.0), 60.0).checked  # two readings


def coverage(errors: list[float], uncertainties: list[float]) -> float:
    return float(np.mean(np.abs(errors) <= np.array(uncertainties)))


SHAPES = {
    "levels off": lambda t: 300.0 + 30.0 * np.minimum(np.clip(t, 0.0, None) / 20.0, 1.0),
    "rises evenly": lambda t: 300.0 + 0.5 * np.clip(t, 0.0, None),
    "slows down": lambda t: 300.0 + 30.0 * (1.0 - np.exp(-np.clip(t, 0.0, None) / 15.0)),
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("noise", [0.05, 0.5])
def test_the_true_rise_and_rate_lie_within_the_stated_uncertainty(shape, noise):
    rng, course = np.random.default_rng(3), SHAPES[shape]
    rise = float(course(60.0) - 300.0)
    rate = read_warming(TIME, course(TIME), 60.0).rate.value  # without scatter
    found = [read_warming(TIME, course(TIME) + rng.normal(0.0, noise, TIME.size), 60.0) for _ in range(300)]
    one = [(w.rise - rise, w.rise_uncertainty, w.rate.value - rate, w.rate.uncertainty) for w in found]
    rises, rise_u, rates, rate_u = map(list, zip(*one, strict=True))
    # 68 % wanted, and 95 % for twice as much; 300 draws tell these to 2.7 and 1.3 %, and the scatter comes
    # from the readings too.
    assert coverage(rises, rise_u) > 0.58
    assert coverage(rates, rate_u) > 0.58
    assert coverage(rises, 2.0 * np.array(rise_u)) > 0.91
    assert coverage(rates, 2.0 * np.array(rate_u)) > 0.91
    # and not by being useless: a few times what one reading, or one line, would have
    assert np.median(rise_u) < 3.0 * noise
    slope_u = noise / np.sqrt(np.sum((0.5 * (np.arange(11) - 5.0)) ** 2))  # of one line through 11 readings
    assert np.median(rate_u) < 3.2 * slope_u


def test_a_peak_is_that_of_the_course_and_not_of_its_highest_reading():
    """A plateau of 60 scattered readings: their mean, far below the highest, known far better than one."""
    rng = np.random.default_rng(1)
    flat = [300.0 + rng.normal(0.0, 0.1, 60) for _ in range(60)]
    found = [read_warming(np.arange(60.0), one, 59.0) for one in flat]
    # the highest of 60 lies 2.3 standard deviations up (order statistics, expected maximum of 60 normals)
    assert np.mean([one.max() for one in flat]) == pytest.approx(300.23, abs=0.02)
    assert abs(np.mean([one.peak for one in found]) - 300.0) < 0.15
    assert np.median([one.peak_uncertainty for one in found]) < 0.15


@pytest.mark.parametrize("place", [30.0, 31.2, 32.5])
def test_a_narrow_peak_between_slow_readings_is_kept_and_covered(place):
    time = np.arange(0.0, 60.1, 5.0)
    course = 300.0 + 0.1 * time + 25.0 * np.exp(-0.5 * ((time - place) / 3.0) ** 2)
    found = read_warming(time, course + np.random.default_rng(2).normal(0.0, 0.1, 13), 60.0)
    assert found.spikes == 0
    assert abs(found.peak - (328.0 + 0.1 * (place - 30.0))) < 2.0 * found.peak_uncertainty


def test_a_course_that_still_rises_peaks_at_the_end_of_the_run():
    time = np.arange(0.5, 60.0, 2.0)  # the last reading at 58.5 s lies 0.75 K below the end
    found = read_warming(time, 300.0 + 0.5 * time + np.random.default_rng(3).normal(0.0, 0.05, 30), 60.0)
    assert found.time_of_peak == pytest.approx(60.0)
    assert found.peak == pytest.approx(330.0, abs=0.3)
    assert abs(found.peak - 330.0) < 2.0 * found.peak_uncertainty


def test_what_no_thermocouple_reads_is_left_out():
    readings = warm(TIME, noise=0.05)
    readings[[70, 120, 180]] = 1e37, 1645.15, 1e37
    found = read_warming(TIME, readings, 60.0)
    assert found.spikes == 3
    assert found.peak == pytest.approx(318.0, abs=0.3)


def test_one_steepest_line_is_as_sure_as_any_straight_line():
    """u(slope) = s / sqrt(sum (t - mean t)^2), JCGM 100:2008, H.3, where no other line comes near it."""
    ramp = 300.0 + 10.0 * np.clip(TIME - 20.0, 0.0, 5.0)
    found = read_warming(TIME, ramp + np.random.default_rng(2).normal(0.0, 0.05, TIME.size), 60.0)
    square = np.sum((0.5 * np.arange(11) - 2.5) ** 2)
    assert found.rate.uncertainty == pytest.approx(found.scatter / np.sqrt(square))
    # Straight rise of 10 K/s read at noise far below it.
    assert (found.rate.value, found.rate.time) == (pytest.approx(10.0, abs=0.05), pytest.approx(22.5))


def test_what_warmed_up_in_the_opening_is_in_the_uncertainty_of_the_start():
    time = np.arange(0.0, 61.0, 0.5)
    found = read_warming(time, 300.0 + 2.0 * time, 60.0)
    # the mean of 0, 0.5 and 1 s lies 1 K above the beginning; steps of 1 K look rounded, hence the 10 %
    assert (found.start, found.start_uncertainty) == (pytest.approx(301.0), pytest.approx(1.0, rel=0.1))
    # 2 s late: followed back along the line, and that way of 4 K is uniform between none and twice of it
    late = read_warming(time[4:], 300.0 + 2.0 * time[4:], 60.0)
    assert late.start == pytest.approx(300.0, abs=0.3)
    assert late.start_uncertainty == pytest.approx(4.0 / np.sqrt(3.0), rel=0.1)


@pytest.mark.parametrize("beside", [6, 10, 60])
def test_the_true_zero_lies_within_the_stated_uncertainty(beside):
    rng, errors, stated = np.random.default_rng(8), [], []
    time = np.concatenate([np.arange(-beside, 0), np.arange(0.0, 61.0), 61.0 + np.arange(beside)])
    loaded = (time >= 0.0) & (time <= 60.0)
    for _ in range(800):
        force = np.where(loaded, 45.0, 0.0) + 2.0 + rng.normal(0.0, 0.3, time.size)
        zero = find_zero(time, force, 60.0)
        errors.append(zero_at(zero, [30.0])[0] - 2.0)
        stated.append(zero.uncertainty)
    # 800 draws tell 68 % to 1.6 %; the root mean square is that of a mean, s / sqrt(n)
    assert coverage(errors, stated) > 0.64
    theory = 0.3 / np.sqrt(2.0 * beside)
    assert np.std(errors) == pytest.approx(theory, rel=0.1)
    # JCGM 101:2008, 6.4.9.4: that of n readings is wider, by the root of (n - 1) / (n - 3)
    few = np.sqrt((beside - 1) / (beside - 3))
    assert np.mean(stated) == pytest.approx(theory * few, rel=0.1)


def test_the_start_off_a_line_is_as_sure_as_any_value_off_a_line():
    """u = s sqrt(1/n + (mean t)^2 / sum (t - mean t)^2) at t = 0: JCGM 100:2008, H.3."""
    found = read_warming(TIME, warm(TIME, noise=0.05), 60.0)
    earlier = TIME[TIME < 0.0]
    square = np.sum((earlier - earlier.mean()) ** 2)
    theory = found.scatter * np.sqrt(1.0 / earlier.size + earlier.mean() ** 2 / square)
    assert found.start_uncertainty == pytest.approx(theory)


def test_a_rounded_zero_is_no_surer_than_its_rounding():
    time = np.arange(-20.0, 81.0)
    beside = (time < 0.0) | (time > 60.0)
    calm = find_zero(time, np.where(beside, 1.0, 45.0 + 0.5 * (time % 2)), 60.0)
    # steps of 0.5 N: 0.5 / sqrt(12) on either side, and the mean of both
    assert calm.uncertainty == pytest.approx(0.5 / np.sqrt(12.0) / np.sqrt(2.0))


def test_readings_that_scatter_over_the_steps_of_rounding_tell_a_zero_between_them():
    """Dither: rounded values of normal scatter of half a step have the mean of what was rounded."""
    rng, errors, stated = np.random.default_rng(6), [], []
    time = np.arange(-20.0, 81.0)
    beside = (time < 0.0) | (time > 60.0)
    for _ in range(400):
        true = rng.uniform(-2.0, 2.0)
        force = np.where(beside, 0.0, 45.0) + true + rng.normal(0.0, 1.0, time.size)
        zero = find_zero(time, 2.0 * np.round(force / 2.0), 60.0)
        errors.append(zero_at(zero, [30.0])[0] - true)
        stated.append(zero.uncertainty)
    # scatter 1 N and rounding 2 / sqrt(12) N, of 40 readings; a median would be off by up to half a step
    assert np.std(errors) == pytest.approx(np.sqrt((1.0 + 4.0 / 12.0) / 40.0), rel=0.1)
    assert 0.93 < np.mean(np.abs(errors) <= 2.0 * np.array(stated)) < 0.99


def test_a_steep_course_does_not_make_rounding_look_coarser_than_it_is():
    # no two of these lie as near as the 0.1 that they are rounded to
    assert rounding_sd([293.65, 294.15, 294.85]) == pytest.approx(0.1 / np.sqrt(12.0))
    assert rounding_sd(np.random.default_rng(1).normal(300.0, 1.0, 500)) == 0.0
    assert rounding_sd([300.0, 300.0]) == 0.0


def test_the_zero_of_five_readings_is_as_sure_as_their_mean():
    time = np.concatenate([np.arange(-5.0, 0.0), np.arange(0.0, 61.0)])
    run = 45.0 + np.random.default_rng(3).normal(0.0, 0.1, 61)
    zero = find_zero(time, np.concatenate([[0.0, 4.0, 1.0, 3.0, 2.0], run]), 60.0)
    # variance 2.5 N^2 of five readings, times 4 / 2: JCGM 101:2008, 6.4.9.4
    assert zero.before == pytest.approx(2.0)
    assert zero.uncertainty == pytest.approx(np.sqrt(2.5 / 5.0 * 4.0 / 2.0))


class TestShortSpikes:
    def test_a_wrong_reading_beside_a_gap_is_one_too(self):
        time = np.concatenate([np.arange(0.0, 30.0), np.arange(40.0, 61.0)])
        force = 40.0 + np.random.default_rng(2).normal(0.0, 0.5, time.size)
        force[[29, 31]] += 150.0  # the last before the gap, the second after it
        assert np.flatnonzero(short_spikes(time, force)).tolist() == [29, 31]

    def test_a_wrong_reading_soon_after_a_load_came_on_is_told_from_the_step(self):
        time = np.arange(0.0, 60.0)
        force = np.where(time < 20.0, 30.0, 70.0) + np.random.default_rng(2).normal(0.0, 0.5, 60)
        force[21] += 100.0
        assert not short_spikes(time, force).any()
        assert np.flatnonzero(short_spikes(time, force, changes=[20.0])).tolist() == [21]

    def test_a_step_a_ramp_and_a_fast_fall_are_no_spikes(self):
        t = np.arange(60.0)
        for course in (np.where(t < 30, 35.0, 20.0), 20.0 + t, 20.0 + 15.0 * np.exp(-t / 1.5)):
            assert not short_spikes(t, course).any()

    @pytest.mark.parametrize("length", [1, 2, 3])
    def test_up_to_three_wrong_readings_are_found_on_a_fall_and_on_the_plateau(self, length):
        rng = np.random.default_rng(length)
        t = np.arange(60.0)
        force = 20.0 + 15.0 * np.clip(1.0 - t / 30.0, 0.0, 1.0) + rng.normal(0.0, 0.4, t.size)
        for first in (10, 45):
            wrong = force.copy()
            wrong[first : first + length] += 30.0
            assert np.flatnonzero(short_spikes(t, wrong)).tolist() == list(range(first, first + length))

    def test_four_in_a_row_are_a_course_not_a_spike(self):
        force = np.full(40, 20.0)
        force[20:24] = 60.0
        assert not short_spikes(np.arange(40.0), force).any()

    @pytest.mark.parametrize("place", [0, 1, 20, 39])
    def test_an_overflow_is_found_wherever_it_stands(self, place):
        force = np.full(40, 20.0)
        force[place] = 1e37
        assert np.flatnonzero(short_spikes(np.arange(40.0), force)).tolist() == [place]

    def test_few_readings_of_a_smooth_course_are_taken_for_spikes(self):
        rng = np.random.default_rng(11)
        t = np.arange(200.0) * 0.5
        told = sum(
            int(short_spikes(t, 20.0 + 15.0 * np.exp(-t / 10.0) + rng.normal(0.0, 0.4, 200)).sum())
            for _ in range(100)
        )
        assert told <= 4  # one in 10 000 of 20 000 readings would be 2


def test_a_load_step_rises_from_where_its_load_came_on():
    """Newton's law of heating in closed form: T = T0 + A (1 - exp(-t / tau)) from each load on."""
    time, tau = np.arange(0.5, 60.0), 6.0
    first = 300.0 + 20.0 * (1.0 - np.exp(-np.minimum(time, 30.0) / tau))
    reached = 300.0 + 20.0 * (1.0 - np.exp(-30.0 / tau))
    later = np.where(time > 30.0, 15.0 * (1.0 - np.exp(-(time - 30.0) / tau)), 0.0)
    noise = np.random.default_rng(5).normal(0.0, 0.1, time.size)
    found = read_warming(time, first + later + noise, 60.0, [0.0, 30.0])
    one, two = found.steps
    assert (one.begun, two.begun) == (0.0, 30.0)
    assert two.start == pytest.approx(reached, abs=0.3)
    truth = 15.0 * (1.0 - np.exp(-30.0 / tau))
    assert abs(two.rise - truth) < 2.0 * two.rise_uncertainty < 1.0
    assert abs(one.rise - (reached - 300.0)) < 2.0 * one.rise_uncertainty
    assert found.rise > two.rise + 15.0  # the run's own counts from its beginning
    assert read_warming(time, first + later + noise, 60.0).steps == ()


def test_a_peak_that_a_gap_may_hide_is_in_the_uncertainty():
    time = np.arange(0.0, 61.0)
    warmth = 350.0 - 1.5 * np.abs(time - 30.0)
    seen = (time < 26.0) | (time > 34.0)
    found = read_warming(
        time[seen], warmth[seen] + np.random.default_rng(1).normal(0, 0.05, seen.sum()), 60.0
    )
    assert abs(found.peak - 350.0) < 2.0 * found.peak_uncertainty
    assert found.peak_uncertainty > 1.0
