"""Relations that the wear-arrest model must obey, and its closed form as check of the exact scar."""

from __future__ import annotations

import math

import numpy as np
import pytest
from arrest_ode import worn_depth_ode
from hypothesis import given, settings
from hypothesis import strategies as st

from pinscar.contact.arrest import (
    depth_at_area,
    depth_fraction,
    end_of_wear,
    limit_depth,
    scar_growth,
    time_constant,
    time_ratio,
    time_to_pressure,
    worn_depth,
    worn_depth_exact,
    worn_depth_steps,
)
from pinscar.contact.geometry import CrossedCylinders

PAIR = CrossedCylinders(6e-3, 20e-3)
SLOPE = PAIR.area_slope()
LOAD, SPEED, K, FILM = 450.0, 1.466, 1e-14, 120e6


@given(st.floats(0, 1e3), st.floats(0, 1e3))
@settings(deadline=None)
def test_depth_rises_with_time(one: float, two: float) -> None:
    low, high = sorted((one, two))
    assert 0 <= float(depth_fraction(low)) <= float(depth_fraction(high)) <= 1


@given(st.floats(1e-8, 0.999))
@settings(deadline=None)
def test_time_and_depth_invert_each_other(y: float) -> None:
    assert float(depth_fraction(time_ratio(y))) == pytest.approx(y, rel=1e-13, abs=0)


@given(st.floats(0.01, 0.99), st.floats(1.0, 200.0))
@settings(deadline=None)
def test_stopping_and_going_on_changes_nothing(share: float, duration: float) -> None:
    """A run interrupted and restarted from its own depth ends where the whole run ends."""
    whole = worn_depth(duration, LOAD, SPEED, K, FILM, SLOPE)
    half = worn_depth(share * duration, LOAD, SPEED, K, FILM, SLOPE)
    again = worn_depth((1 - share) * duration, LOAD, SPEED, K, FILM, SLOPE, half)
    assert float(again) == pytest.approx(float(whole), rel=1e-12, abs=0)
    step = worn_depth_steps(duration, [0, share * duration], [LOAD, LOAD], SPEED, K, FILM, SLOPE)
    assert float(step) == pytest.approx(float(whole), rel=1e-12, abs=0)


@given(st.floats(1e-4, 0.1))
@settings(deadline=None)
def test_early_scar_grows_with_the_fourth_root_of_time(ratio: float) -> None:
    """y = sqrt(2T) (1 - sqrt(2T)/3 + ...): within sqrt(2T)/3 of the law without a film."""
    tau = float(time_constant(LOAD, SPEED, K, FILM, SLOPE))
    found = float(worn_depth(ratio * tau, LOAD, SPEED, K, FILM, SLOPE))
    early = math.sqrt(2 * K * SPEED * LOAD * ratio * tau / SLOPE)
    assert early * (1 - math.sqrt(2 * ratio) / 3) <= found <= early


def test_pressure_comes_down_to_the_film() -> None:
    time = time_to_pressure([0.5, 0.05], LOAD, SPEED, K, FILM, SLOPE)
    depth = worn_depth(time, LOAD, SPEED, K, FILM, SLOPE)
    assert pytest.approx([1.5 * FILM, 1.05 * FILM], rel=1e-12, abs=0) == LOAD / (SLOPE * depth)


@pytest.mark.parametrize("exact", [False, True])
def test_at_the_end_of_wear_the_pressure_is_within_the_excess(exact: bool) -> None:
    """Load over area at the time that `end_of_wear` gives is 1.05 pf, by the law of the same kind."""
    depth, time = end_of_wear([0, 20], [300, LOAD], SPEED, K, FILM, PAIR, 0.05, exact)
    if exact:
        at = float(PAIR.area_at_depth(worn_depth_exact(time, [0, 20], [300, LOAD], SPEED, K, FILM, PAIR)))
        last = float(PAIR.area_at_depth(depth))
    else:
        at = SLOPE * float(worn_depth_steps(time, [0, 20], [300, LOAD], SPEED, K, FILM, SLOPE))
        last = SLOPE * depth
    assert LOAD / at == pytest.approx(1.05 * FILM, rel=1e-9, abs=0)
    assert LOAD / last == pytest.approx(FILM, rel=1e-9, abs=0)


def test_a_lower_load_than_carried_wears_nothing() -> None:
    depth = worn_depth_steps([100, 150, 200], [0, 100], [600, 300], SPEED, K, FILM, SLOPE)
    assert float(depth[0]) > float(limit_depth(300, FILM, SLOPE))
    assert depth[1] == depth[0] and depth[2] == depth[0]
    exact = worn_depth_exact([100, 200], [0, 100], [600, 300], SPEED, K, FILM, PAIR)
    assert float(exact[1]) == pytest.approx(float(exact[0]), rel=1e-13, abs=0)


def test_raised_load_wears_on_to_its_own_limit() -> None:
    depth = worn_depth_steps([1e5], [0, 1e4, 2e4], [300, 450, 600], SPEED, K, FILM, SLOPE)
    assert float(depth[0]) == pytest.approx(float(limit_depth(600, FILM, SLOPE)), rel=1e-14, abs=0)


@given(st.floats(0.1, 10), st.floats(0.1, 10))
@settings(deadline=None)
def test_units_rescaled(length: float, time: float) -> None:
    """Lengths times s, times times t, the pressure kept: depth times s."""
    slope, load, speed = SLOPE * length, LOAD * length**2, SPEED * length / time
    one = float(worn_depth(20.0, LOAD, SPEED, K, FILM, SLOPE))
    other = float(worn_depth(20.0 * time, load, speed, K, FILM, slope))
    assert other == pytest.approx(length * one, rel=1e-12, abs=0)


@pytest.mark.parametrize("degrees", [90, 60, 30])
def test_exact_scar_tends_to_the_shallow_form(degrees: float) -> None:
    """The error of the closed form is of order h/R: with a hundredth of the depth, a hundredth of it."""
    pair = CrossedCylinders(6e-3, 20e-3, math.radians(degrees))
    gaps = []
    for scale in (1e-2, 1e-4):
        tau = float(time_constant(LOAD * scale, SPEED, K, FILM, pair.area_slope()))
        exact = worn_depth_exact(tau, [0], [LOAD * scale], SPEED, K, FILM, pair)
        shallow = worn_depth(tau, LOAD * scale, SPEED, K, FILM, pair.area_slope())
        gaps.append(abs(float(exact / shallow) - 1))
    assert gaps[0] < 1e-4
    # The next order of depth over radius, 1e-2, is left over.
    assert gaps[1] == pytest.approx(gaps[0] / 100, rel=0.02, abs=0)


def test_ode_by_its_own_closed_form() -> None:
    """A tiny load keeps the scar shallow, where the solver must give Lambert's function."""
    load = 1e-4
    tau = float(time_constant(load, SPEED, K, FILM, SLOPE))
    times = np.array([0.0, 1e-12, 1e-3, 0.1, 1.0, 10.0, 100.0]) * tau
    found = worn_depth_ode(times, [0], [load], SPEED, K, FILM, PAIR)
    assert found == pytest.approx(worn_depth(times, load, SPEED, K, FILM, SLOPE), rel=1e-7, abs=0)


def test_series_of_the_scar() -> None:
    """Depth from area by the series inverts the exact area, also for equal radii and a thick pin."""
    for pair in (PAIR, CrossedCylinders(10e-3, 10e-3), CrossedCylinders(20e-3, 6e-3, 1.0)):
        depth = np.geomspace(1e-7, 0.8 * min(pair.pin_radius, pair.ring_radius), 30)
        assert depth_at_area(pair.area_at_depth(depth), scar_growth(pair)) == pytest.approx(
            depth, rel=1e-10, abs=0
        )


def test_rows_reordered_and_missing() -> None:
    """Depths follow their times in any order; a missing time gives a missing depth."""
    times = np.array([30.0, np.nan, 10.0])
    for law in (worn_depth_exact, worn_depth_ode):
        found = law(times, [0, 20], [300, 450], SPEED, K, FILM, PAIR)
        other = law(times[::-1], [0, 20], [300, 450], SPEED, K, FILM, PAIR)
        assert found[::-1] == pytest.approx(other, rel=1e-9, abs=0, nan_ok=True)
        assert np.isnan(found).tolist() == [False, True, False]


def test_a_film_too_weak_for_the_pin_is_refused() -> None:
    with pytest.raises(ValueError, match="time is so long"):
        worn_depth_ode(1e5, [0], [600], SPEED, 1e-12, 1e6, PAIR)
    with pytest.raises(ValueError, match="time is so long"):
        worn_depth_exact(1e9, [0], [600], SPEED, 1e-12, 1e6, PAIR)


@pytest.mark.parametrize("position", range(5))
def test_impossible_values_are_refused(position: int) -> None:
    arguments = [LOAD, SPEED, K, FILM, SLOPE]
    arguments[position] = 0.0
    with pytest.raises(ValueError, match="must be above zero"):
        worn_depth(1.0, *arguments)
