"""Wear arrest against outside sources: Lambert's function at 60 digits, a stiff solver, Archard's law."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from arrest_ode import worn_depth_ode

from pinscar.contact.arrest import (
    depth_fraction,
    limit_depth,
    time_constant,
    time_ratio,
    worn_depth,
    worn_depth_exact,
)
from pinscar.contact.geometry import CrossedCylinders

PAIR = CrossedCylinders(6e-3, 20e-3)
SPEED = math.pi * 0.040 * 700 / 60

# Source: 1 + W0(-exp(-1 - T)) at 30 digits; an implicit solver (Radau, 1e-12) agrees to 1e-12 at T = 1 and
# 4e-14 at 3. T, depth fraction, and the scar length [mm] for Rp 6, Rr 20 mm, 450 N, pf 120 MPa, k 1e-14
# m^2/N and a ring of 40 mm at 700 turns a minute.
ARREST = [
    (0.1, 0.383183168, 1.8271754),
    (1.0, 0.841405660, 2.7067247),
    (3.0, 0.981339371, 2.9228703),
    (10.0, 0.999983298, 2.9504672),
]


@pytest.mark.parametrize(("ratio", "fraction", "length"), ARREST)
def test_depth_fraction_and_scar_length(ratio: float, fraction: float, length: float) -> None:
    """Depth fraction and scar length agree with the printed table at four times."""
    assert float(depth_fraction(ratio)) == pytest.approx(fraction, abs=6e-10)
    tau = float(time_constant(450, SPEED, 1e-14, 120e6, PAIR.area_slope()))
    depth = worn_depth(ratio * tau, 450, SPEED, 1e-14, 120e6, PAIR.area_slope())
    assert float(PAIR.scar_length(depth)) * 1e3 == pytest.approx(length, abs=6e-8)


def test_constants() -> None:
    """The same source: sliding speed, area slope, final depth and time constant."""
    assert pytest.approx(1.466076572, abs=6e-10) == SPEED
    assert PAIR.area_slope() == pytest.approx(0.0688288465, abs=6e-11)
    assert float(limit_depth(450, 120e6, PAIR.area_slope())) == pytest.approx(54.48297e-6, rel=1e-7, abs=0)
    assert float(time_constant(450, SPEED, 1e-14, 120e6, PAIR.area_slope())) == pytest.approx(
        30.968693, rel=2e-8, abs=0
    )


def test_lambert_at_sixty_digits() -> None:
    """Within 2e-15 from T = 1e-12, where the argument rounds to -1/e, to 1e6, where it underflows."""
    times = np.concatenate([np.geomspace(1e-12, 1e6, 163), [0.999e-4, 1.001e-4, 35.9, 36.1]])
    with mpmath.workdps(60):
        for t, found in zip(times, depth_fraction(times), strict=True):
            exact = 1 + mpmath.lambertw(-mpmath.exp(-1 - mpmath.mpf(float(t)))).real
            assert float(found / exact - 1) == pytest.approx(0.0, abs=2e-15)


def test_time_ratio_at_forty_digits() -> None:
    """The time ratio agrees with 40 digits, also where its plain form cancels."""
    with mpmath.workdps(40):
        for y in [1e-9, 1e-4, 0.04999, 0.05001, 0.5, 0.999]:
            exact = -mpmath.mpf(y) - mpmath.log(1 - mpmath.mpf(y))
            assert float(time_ratio(y) / exact) == pytest.approx(1.0, abs=5e-15)


@pytest.mark.parametrize("angle", [90, 50])
def test_archard_volume_is_exact_without_a_film(angle: float) -> None:
    """J. F. Archard, 1953: V = k F s. With pf far below the pressure the exact law wears just that."""
    pair = CrossedCylinders(6e-3, 20e-3, math.radians(angle))
    times = np.array([1.0, 60.0, 600.0])
    depth = worn_depth_exact(times, [0], [600], SPEED, 2.5e-14, 1.0, pair)
    assert pair.volume_at_depth(depth) == pytest.approx(2.5e-14 * 600 * SPEED * times, rel=1e-7, abs=0)
    assert float(pair.scar_length(depth[-1])) > 9e-3


def test_final_pressure_is_the_film_pressure() -> None:
    """After a long time load over exact projected area is pf, for a scar of 8 mm."""
    depth = worn_depth_exact(1e6, [0], [600], SPEED, 3e-13, 22e6, PAIR)
    assert 600 / float(PAIR.area_at_depth(depth)) == pytest.approx(22e6, rel=1e-11, abs=0)
    assert float(PAIR.scar_length(depth)) == pytest.approx(8e-3, rel=0.01, abs=0)


@pytest.mark.parametrize(("k", "film"), [(1e-14, 120e6), (3e-13, 22e6), (1e-12, 12e6)])
def test_separated_variables_against_the_ode(k: float, film: float) -> None:
    """Two independent routes to the exact scar, 3 to 11 mm long, in three load steps: within 1e-9."""
    times = np.array([1e-3, 0.5, 19.0, 21.0, 45.0, 60.0, 300.0])
    steps, loads = [0, 20, 40], [300, 900, 600]
    one = worn_depth_exact(times, steps, loads, SPEED, k, film, PAIR)
    other = worn_depth_ode(times, steps, loads, SPEED, k, film, PAIR)
    assert one == pytest.approx(other, rel=1e-9, abs=0)
