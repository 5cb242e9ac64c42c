"""Loads, speeds, distances and wear coefficients: hand-worked values, steps, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinscar.contact.hertz import reduced_modulus
from pinscar.contact.wear import (
    archard_coefficient,
    load_distance,
    load_from_weights,
    mean_pressure,
    oval_area,
    sliding_distance,
    sliding_speed,
    wear_coefficient,
)


def test_lever_by_hand() -> None:
    """(5.2 + 0.8) kg on a lever of 10: 60 kg times 9.80665 m/s^2, worked by hand."""
    assert load_from_weights([5.2, 0.0], 0.8, 10.0) == pytest.approx([588.399, 78.4532], rel=1e-12, abs=0)


def test_speed_by_hand() -> None:
    """pi x 0.04 m x 700/60 per second."""
    assert float(sliding_speed(0.04, 700 * 2 * math.pi / 60)) == pytest.approx(
        math.pi * 0.04 * 700 / 60, rel=1e-14, abs=0
    )
    assert float(sliding_distance(1.466076572, 60)) == pytest.approx(87.96459432, rel=1e-12, abs=0)


def test_steps_by_hand() -> None:
    """200 N for 10 s, 400 N for 20 s, 900 N for 30 s at 2 m/s: 2 x (2000 + 8000 + 27000) N m."""
    assert load_distance([0, 10, 30], [200, 400, 900], 60, 2.0) == pytest.approx(74000.0, rel=1e-14, abs=0)


@settings(deadline=None)
@given(st.floats(1, 900), st.floats(1, 100), st.floats(0.1, 5), st.floats(0.05, 0.95))
def test_a_step_to_the_same_load_changes_nothing(
    load: float, duration: float, speed: float, share: float
) -> None:
    split = load_distance([0, share * duration], [load, load], duration, speed)
    assert split == pytest.approx(load * float(sliding_distance(speed, duration)), rel=1e-12, abs=0)


@pytest.mark.parametrize(
    ("starts", "loads", "duration", "word"),
    [
        ([1, 10], [200, 400], 60, "begin with 0"),
        ([0, 10, 10], [200, 400, 600], 60, "rise"),
        ([0, 10], [200], 60, "one length"),
        ([0, 10], [200, 0], 60, "step_loads"),
        ([0, 60], [200, 400], 60, "after the start"),
        ([], [], 60, "begin with 0"),
    ],
)
def test_impossible_steps_are_refused(
    starts: list[float], loads: list[float], duration: float, word: str
) -> None:
    with pytest.raises(ValueError, match=word):
        load_distance(starts, loads, duration, 1.0)


def test_pressure_and_wear_by_hand() -> None:
    """600 N on 6.0 mm^2 is 100 MPa; 0.6 mm^3 over 60 000 N m is 1e-5 mm^3/(N m), times 7.5 GPa 7.5e-5."""
    assert float(mean_pressure(600, 6e-6)) == pytest.approx(100e6, rel=1e-14, abs=0)
    assert float(oval_area(4e-3, 2e-3)) == pytest.approx(2e-6 * math.pi, rel=1e-14, abs=0)
    assert float(wear_coefficient(0.6e-9, 6e4)) == pytest.approx(1e-14, rel=1e-14, abs=0)
    assert float(archard_coefficient(1e-14, 7.5e9)) == pytest.approx(7.5e-5, rel=1e-14, abs=0)


def test_missing_stays_missing() -> None:
    assert np.isnan(mean_pressure([600, np.nan], [np.nan, 6e-6])).all()
    assert np.isnan(wear_coefficient([np.nan], 1.0)).all()
    assert np.isnan(load_from_weights(np.nan, 0.8, 10.0))


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: load_from_weights(-1, 0, 1), "weights"),
        (lambda: load_from_weights(1, 0, 0), "lever_ratio"),
        (lambda: sliding_speed(0, 1), "ring_diameter"),
        (lambda: mean_pressure(1, 0), "area"),
        (lambda: wear_coefficient(1, 0), "load_distance"),
        (lambda: archard_coefficient(1, -1), "hardness"),
        (lambda: reduced_modulus(210e9, 0.6, 210e9, 0.3), "poisson_ratio_1"),
    ],
)
def test_impossible_values_are_refused(call: object, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        call()  # type: ignore[operator]


def test_rigid_body() -> None:
    """A rigid counterface leaves E/(1 - nu^2) of the other."""
    assert float(reduced_modulus(210e9, 0.3, np.inf, 0.3)) == pytest.approx(210e9 / 0.91, rel=1e-14, abs=0)
