"""Uncertainty of area, pressure, volume and wear coefficient: relations and a Monte Carlo route."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.stats.uncertainty import (
    relative_area_uncertainty,
    relative_pressure_uncertainty,
    relative_volume_uncertainty,
    relative_wear_coefficient_uncertainty,
)

RP, RR = 6e-3, 20e-3


def implied_width(length):
    """Width of a scar on a pin of radius RP from an unworn ring of radius RR (plane geometry)."""
    depth = RR - np.sqrt(RR**2 - np.asarray(length) ** 2 / 4)
    return 2 * np.sqrt(2 * RP * depth - depth**2)


def small_scar_volume(length):
    depth = np.asarray(length) ** 2 / (8 * RR)
    return np.pi * depth**2 * np.sqrt(RP * RR)


def test_pressure_uncertainty_agrees_with_monte_carlo():
    rng = np.random.default_rng(1)
    draws = 400_000
    load = 450 * (1 + 0.01 * rng.standard_normal(draws))
    length = 3e-3 + 0.03e-3 * rng.standard_normal(draws)
    width = 1.6e-3 + 0.03e-3 * rng.standard_normal(draws)
    simulated = np.std(np.log(load / (np.pi / 4 * length * width)))
    # 400 000 draws leave 0.1 % of noise; curvature of the logarithm adds 0.1 %.
    assert relative_pressure_uncertainty(3e-3, 1.6e-3, 0.01, 0.03e-3) == pytest.approx(
        simulated, rel=5e-3, abs=0
    )


def test_implied_width_moves_with_the_length():
    rng = np.random.default_rng(2)
    length = 4e-3 + 0.03e-3 * rng.standard_normal(400_000)
    simulated = np.std(np.log(length * implied_width(length)))
    computed = relative_area_uncertainty(4e-3, implied_width(4e-3), 0.03e-3, implied_width, True)
    assert computed == pytest.approx(simulated, rel=5e-3, abs=0)


def test_implied_width_is_more_uncertain_than_the_length_alone_suggests():
    """A small scar's width is proportional to its length, so the area goes with the square: twice u/L."""
    length = 0.2e-3
    computed = relative_area_uncertainty(length, implied_width(length), 1e-6, implied_width, True)
    assert computed == pytest.approx(2 * 1e-6 / length, rel=1e-4, abs=0)


def test_measured_and_implied_widths_can_stand_side_by_side():
    length, width = np.array([3e-3, 3e-3]), np.full(2, float(implied_width(3e-3)))
    both = relative_area_uncertainty(length, width, 3e-5, implied_width, [False, True])
    assert both[0] == relative_area_uncertainty(3e-3, width[0], 3e-5)
    assert both[1] == relative_area_uncertainty(3e-3, width[1], 3e-5, implied_width, True)
    assert both[0] != both[1]


def test_volume_uncertainty_is_four_times_that_of_a_small_scar():
    computed = relative_volume_uncertainty([1e-3, 2e-3], 1e-5, small_scar_volume)
    assert computed == pytest.approx([0.04, 0.02], rel=1e-9, abs=0)


def test_wear_coefficient_adds_load_and_distance_in_quadrature():
    volume = relative_volume_uncertainty(2e-3, 1e-5, small_scar_volume)
    computed = relative_wear_coefficient_uncertainty(2e-3, 0.03, 1e-5, small_scar_volume, 0.04)
    assert computed == pytest.approx(np.sqrt(volume**2 + 0.05**2), rel=1e-12, abs=0)


def test_a_run_without_a_reading_stays_unknown():
    assert np.isnan(relative_area_uncertainty([np.nan, 1e-3], 1e-3, 1e-5)).tolist() == [True, False]


@given(st.floats(0.1, 10), st.floats(1e-3, 1e3))
def test_units_do_not_matter(scale_reading, scale):
    """A relative uncertainty is the same in metres and millimetres."""
    one = relative_pressure_uncertainty(3.0, 2.0, 0.01, 0.03 * scale_reading)
    other = relative_pressure_uncertainty(3.0 * scale, 2.0 * scale, 0.01, 0.03 * scale_reading * scale)
    assert one == pytest.approx(other, rel=1e-12, abs=0)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((0.0, 1e-3, 1e-5), "length must be positive"),
        ((1e-3, -1e-3, 1e-5), "width must be positive"),
        ((1e-3, 1e-3, 0.0), "reading_uncertainty must be positive"),
        ((1e-3, 1e-3, 1e-5, None, True), "width_of_length is missing"),
    ],
)
def test_impossible_inputs_are_refused(arguments, words):
    with pytest.raises(ValueError, match=words):
        relative_area_uncertainty(*arguments)


def test_negative_load_uncertainty_is_refused():
    with pytest.raises(ValueError, match="load_uncertainty must be zero or more"):
        relative_pressure_uncertainty(1e-3, 1e-3, -0.01, 1e-5)
