"""Friction energy: against integrals that can be done by hand, and its uncertainty against simulation."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.contact.wear import friction_energy


def irregular(count: int, end: float, seed: int = 1) -> np.ndarray:
    inner = np.sort(np.random.default_rng(seed).uniform(0.0, end, count))
    return np.concatenate([[0.0], inner, [end]])


def test_a_constant_and_a_rising_force_are_exact_at_any_spacing():
    time = irregular(17, 60.0)
    # E = F v t, and for F = a + b t: E = v (a t + b t^2 / 2)
    assert friction_energy(time, np.full(19, 45.0), 1.4, 0.0, 60.0).energy == pytest.approx(45 * 1.4 * 60)
    ramp = friction_energy(time, 20.0 + 0.5 * time, 1.4, 0.0, 60.0)
    assert ramp.energy == pytest.approx(1.4 * (20 * 60 + 0.25 * 60**2))
    assert ramp.uncertainty == pytest.approx(0.0, abs=1e-9)
    assert ramp.per_distance == pytest.approx(20.0 + 0.5 * 30.0)  # the mean force
    assert (ramp.covered, ramp.missing) == (pytest.approx(60.0), 0.0)


@pytest.mark.parametrize("step", [0.5, 1.5])
def test_what_trapezoids_miss_of_a_sinusoid_is_in_the_uncertainty(step):
    time = np.arange(0.0, 15.0 + step / 2, step)
    found = friction_energy(time, 40.0 + 10.0 * np.sin(time * np.pi / 15.0), 1.0, 0.0, 15.0)
    # the integral of sin over half a turn of 15 s is 30 / pi
    off = abs(found.energy - (40.0 * 15.0 + 10.0 * 30.0 / np.pi))
    assert off < found.uncertainty < 4.0 * off


def test_the_uncertainty_is_that_of_scattered_readings():
    time, rng = np.arange(0.0, 61.0), np.random.default_rng(5)
    found = [friction_energy(time, 45.0 + rng.normal(0.0, 2.0, 61), 1.0, 0.0, 60.0) for _ in range(400)]
    spread = np.std([one.energy for one in found])
    stated = np.sqrt(np.mean([one.uncertainty**2 for one in found]))
    # 400 draws tell a standard deviation to 1 / sqrt(800) = 3.5 %; theory: 2 N x 1 m/s x sqrt(59.5) s
    assert spread == pytest.approx(2.0 * np.sqrt(59.5), rel=0.1)
    assert stated == pytest.approx(spread, rel=0.15)


def test_the_zero_counts_with_the_time_and_gaps_count_for_nothing():
    time = np.concatenate([np.arange(0.0, 21.0), np.arange(30.0, 61.0)])
    found = friction_energy(time, np.full(time.size, 50.0), 2.0, 0.0, 60.0, 3.0, zero_uncertainty=0.1)
    assert found.energy == pytest.approx(50.0 * 2.0 * 50.0)
    assert (found.covered, found.missing) == (pytest.approx(50.0), pytest.approx(10.0))
    assert found.uncertainty == pytest.approx(0.1 * 2.0 * 50.0)


def test_the_ends_of_the_run_are_held_where_they_are_no_gap():
    held = friction_energy([1.0, 2.0, 3.0], [10.0, 10.0, 10.0], 1.0, 0.0, 4.0, 1.5)
    assert (held.energy, held.missing) == (pytest.approx(40.0), 0.0)
    late = friction_energy([2.0, 3.0, 4.0], [10.0, 10.0, 10.0], 1.0, 0.0, 4.0, 1.5)
    assert (late.energy, late.missing) == (pytest.approx(20.0), pytest.approx(2.0))


def test_missing_readings_outsiders_and_wrong_input():
    """Missing readings and readings outside the run change nothing; a trace that cannot be is refused."""
    plain = friction_energy([0.0, 30.0, 60.0], [40.0, 50.0, 40.0], 1.5, 0.0, 60.0).energy
    holes = [-9.0, 0.0, 30.0, 40.0, 60.0, 70.0], [99.0, 40.0, 50.0, np.nan, 40.0, 99.0]
    assert friction_energy(*holes, 1.5, 0.0, 60.0).energy == plain
    with pytest.raises(ValueError, match="no gap apart"):
        friction_energy([0.0], [40.0], 1.5, 0.0, 60.0)
    with pytest.raises(ValueError, match="time must rise"):
        friction_energy([0.0, 2.0, 1.0], [40.0] * 3, 1.5, 0.0, 60.0)
    with pytest.raises(ValueError, match="equal length"):
        friction_energy([0.0, 2.0], [40.0] * 3, 1.5, 0.0, 60.0)


def test_a_fall_is_followed_back_to_the_beginning_and_what_that_adds_is_in_the_uncertainty():
    time = np.arange(2.0, 61.0)
    found = friction_energy(time, 80.0 - time, 1.0, 0.0, 60.0, 3.0)
    # 78 N held for 2 s, and twice what the line adds: it goes on to 80 N, 2 N x 2 s / 2 = 2 J
    assert found.energy - (80.0 * 60.0 - 0.5 * 60.0**2) == pytest.approx(2.0)
    assert found.uncertainty == pytest.approx(4.0)
    worn_in = np.arange(1.5, 61.0)  # a fall that slows down, 30 N in 8 s: held, it lacks 40 J of 1840
    held = friction_energy(worn_in, 25.0 + 30.0 * np.exp(-worn_in / 8.0), 1.0, 0.0, 60.0, 3.0)
    truth = 25.0 * 60.0 + 240.0 * (1.0 - np.exp(-7.5))
    assert abs(held.energy - truth) < min(3.0, 2.0 * held.uncertainty)


def test_two_readings_tell_no_scatter():
    found = friction_energy([0.0, 60.0], [45.0, 45.0], 1.5, 0.0, 60.0)
    assert found.energy == pytest.approx(4050.0)
    assert np.isnan(found.uncertainty)
    torn = [0.0, 1.0, 30.0, 31.0, 59.0, 60.0]
    assert np.isnan(friction_energy(torn, np.full(6, 45.0), 1.5, 0.0, 60.0, 3.0).uncertainty)


def test_the_uncertainty_is_that_of_its_equation_done_by_hand():
    # one jag of 1 N: triangles 0.5, -1 and 0.5 N s, so u^2 = 0 / 36 + 2/3 x 1.5
    jag = friction_energy([0.0, 1.0, 2.0, 3.0, 4.0], [9.0, 9.0, 10.0, 9.0, 9.0], 1.0, 0.0, 4.0)
    assert jag.uncertainty == pytest.approx(1.0)
    # F = t^2: each triangle is 1 N s; trapezoids are 60 x 2 / 12 = 10 J too large, of which 59/6 is seen
    time = np.arange(0.0, 61.0)
    bent = friction_energy(time, time**2, 1.0, 0.0, 60.0)
    assert bent.energy - 60.0**3 / 3.0 == pytest.approx(10.0)
    assert bent.uncertainty == pytest.approx(np.sqrt((59.0 / 6.0) ** 2 + 2.0 / 3.0 * 59.0))
    assert (bent.distance, bent.per_distance) == (pytest.approx(60.0), pytest.approx(bent.energy / 60.0))
