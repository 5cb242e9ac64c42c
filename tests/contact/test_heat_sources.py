"""What the heat functions promise beyond the computed values: limits, symmetry, traces, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinscar.contact.heat import (
    blok_partition,
    contact_flash,
    disc_maximum,
    disc_mean,
    disc_rise,
    equal_area_radius,
    friction_from_trace,
    friction_power,
    peclet_number,
    thermal_diffusivity,
)

STEEL = {"conductivity": 46.0, "diffusivity": 12.739e-6}
PAIR = (0.0, 46.0, 12.739e-6, 1.466, 46.0, 12.739e-6)


def test_a_range_of_friction_gives_a_range_of_power_and_of_temperature():
    low, high = friction_power([0.08, 0.15], 450.0, 1.466)
    assert high / low == pytest.approx(0.15 / 0.08)
    flash = contact_flash([low, high], 1.478e-3, *PAIR)
    assert flash.maximum[1] / flash.maximum[0] == pytest.approx(0.15 / 0.08)


@settings(max_examples=30)
@given(st.floats(0.0, 1e4), st.floats(1.05, 3.0))
def test_the_disc_is_cooler_the_faster_it_moves(peclet, factor):
    slow, fast = disc_maximum([peclet, peclet * factor + 0.1])
    assert fast < slow
    assert disc_mean(peclet) < disc_maximum(peclet)


def test_equal_bodies_at_equal_speed_share_the_heat_evenly():
    flash = contact_flash(50.0, 1e-3, 1.0, 46.0, 12.7e-6, 1.0, 46.0, 12.7e-6)
    assert flash.share_1 == pytest.approx(0.5)
    assert flash.mean_1 == pytest.approx(flash.mean_2)


def test_swapping_the_bodies_swaps_the_shares_and_keeps_the_temperature():
    one = contact_flash(50.0, 1e-3, 0.0, 30.0, 9e-6, 1.4, 46.0, 12.7e-6)
    two = contact_flash(50.0, 1e-3, 1.4, 46.0, 12.7e-6, 0.0, 30.0, 9e-6)
    assert one.share_1 == pytest.approx(1 - two.share_1)
    assert one.maximum == pytest.approx(two.maximum)
    assert one.mean_1 == pytest.approx(two.mean_2)
    # The standing pin is hot evenly, the ring only at the trailing side: same maximum, other means.
    assert one.mean_1 > one.mean_2


def test_an_insulating_pin_sends_all_heat_into_the_ring():
    flash = contact_flash(50.0, 1e-3, 0.0, 1e-6, 1e-6, 1.4, 46.0, 12.7e-6)
    assert flash.share_1 < 1e-6
    alone = disc_rise(50.0 / (np.pi * 1e-6), 1e-3, 1.4, 46.0, 12.7e-6)
    assert flash.maximum == pytest.approx(alone, rel=1e-6, abs=0)


def test_no_power_no_rise_and_missing_stays_missing():
    flash = contact_flash([0.0, np.nan, 10.0], 1e-3, *PAIR)
    assert flash.maximum[0] == 0.0
    assert np.isnan(flash.maximum).tolist() == [False, True, False]


def test_the_two_methods_differ_by_little_and_say_which_they_are():
    ours, fitted = contact_flash(50.0, 1e-3, *PAIR), contact_flash(50.0, 1e-3, *PAIR, method="tian-kennedy")
    # The published fit is within 2.3 % of the quadrature.
    assert ours.maximum == pytest.approx(fitted.maximum, rel=0.03, abs=0)
    assert ours.method != fitted.method


def test_lengths_in_another_unit_give_the_same_temperature():
    # All in mm, W, K, s: q in W/mm^2, k in W/(mm K), kappa in mm^2/s.
    assert disc_rise(10.0, 1.0, 1466.0, 46e-3, 12.739) == pytest.approx(
        disc_rise(1e7, 1e-3, 1.466, 46.0, 12.739e-6), rel=1e-12
    )


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="speed"):
        disc_rise(1e6, 1e-3, -1.0, **STEEL)
    with pytest.raises(ValueError, match="measure"):
        disc_rise(1e6, 1e-3, 1.0, **STEEL, measure="median")
    with pytest.raises(ValueError, match="method"):
        disc_rise(1e6, 1e-3, 1.0, **STEEL, method="guess")
    with pytest.raises(ValueError, match="friction_coefficient"):
        friction_power(-0.1, 450.0, 1.0)


def test_diffusivity_and_peclet_number_by_hand():
    """Diffusivity, Peclet number and radius of equal area agree with hand calculation."""
    assert thermal_diffusivity(50.0, 2500.0, 1000.0) == pytest.approx(2e-5)
    assert peclet_number(2.0, 1e-3, 1e-5) == pytest.approx(100.0)
    assert equal_area_radius(np.pi * 4e-6) == pytest.approx(2e-3)


def test_blok_gives_the_hotter_body_the_smaller_share():
    assert blok_partition(300.0, 100.0) == 0.25
    assert blok_partition(100.0, 100.0) == 0.5


def test_friction_from_a_trace_weighs_by_time_not_by_readings():
    # 10 s at 0.1 with two readings, then 1 s at 0.2 with many.
    time = np.concatenate([[0.0, 10.0], 10.0 + np.linspace(0.001, 1.0, 500)])
    force = np.concatenate([[45.0, 45.0], np.full(500, 90.0)])
    found = friction_from_trace(time, force, 450.0)
    assert found.mean == pytest.approx((0.1 * 10 + 0.2 * 1) / 11, rel=1e-3, abs=0)
    assert (found.low, found.high) == (pytest.approx(0.1), pytest.approx(0.2))


def test_a_trace_may_have_gaps_but_not_run_backwards():
    # 2 s at 0.1, a gap, 1 s at 0.3
    holes = [0.0, 1.0, 2.0, 9.0, 10.0], [45.0, np.nan, 45.0, 135.0, 135.0], 450.0
    assert friction_from_trace(*holes, longest_step=3.0).mean == pytest.approx((2 * 0.1 + 0.3) / 3)
    with pytest.raises(ValueError, match="no gap apart"):
        friction_from_trace(*holes, longest_step=0.5)
    with pytest.raises(ValueError, match="time must rise"):
        friction_from_trace([0, 2, 1], [45.0, 45.0, 45.0], 450.0)
    with pytest.raises(ValueError, match="at least two"):
        friction_from_trace([0.0], [45.0], 450.0)
    with pytest.raises(ValueError, match="equal length"):
        friction_from_trace([0.0, 1.0], [45.0], 450.0)
