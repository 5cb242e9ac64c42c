"""Relations that Hertz contacts must obey, whatever the numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinscar.contact.hertz import cylinder_curvatures, elliptic_contact, line_contact, relative_curvatures

RADIUS = st.floats(1e-3, 0.1)
ANGLE = st.floats(0.01, math.pi - 0.01)
LOAD = st.floats(1.0, 1e4)
MODULUS = 1.15e11


@settings(deadline=None)
@given(LOAD, RADIUS)
def test_equal_cylinders_at_right_angles_are_a_sphere_on_a_flat(load: float, radius: float) -> None:
    contact = elliptic_contact(load, *cylinder_curvatures(radius, radius, 0.5 * math.pi), MODULUS)
    a = (0.75 * load * radius / MODULUS) ** (1 / 3)
    assert float(contact.semi_major) == pytest.approx(a, rel=1e-13, abs=0)
    assert float(contact.semi_minor) == pytest.approx(a, rel=1e-13, abs=0)
    assert float(contact.approach) == pytest.approx(a * a / radius, rel=1e-13, abs=0)
    assert float(contact.peak_pressure) == pytest.approx(1.5 * load / (math.pi * a * a), rel=1e-13, abs=0)


@settings(deadline=None)
@given(LOAD, RADIUS, RADIUS, ANGLE, st.floats(1e-3, 1e3))
def test_units_rescaled(load: float, r1: float, r2: float, angle: float, scale: float) -> None:
    """All lengths times s and the load times s^2: lengths times s, the same pressure."""
    one = elliptic_contact(load, *cylinder_curvatures(r1, r2, angle), MODULUS)
    other = elliptic_contact(load * scale**2, *cylinder_curvatures(r1 * scale, r2 * scale, angle), MODULUS)
    assert float(other.peak_pressure) == pytest.approx(float(one.peak_pressure), rel=1e-11, abs=0)
    assert float(other.semi_minor) == pytest.approx(float(one.semi_minor) * scale, rel=1e-11, abs=0)


@settings(deadline=None)
@given(RADIUS, RADIUS, ANGLE)
def test_bodies_swapped(r1: float, r2: float, angle: float) -> None:
    """The relative curvatures do not depend on which body comes first, nor on the sense of the angle."""
    one, other = cylinder_curvatures(r1, r2, angle), cylinder_curvatures(r2, r1, angle)
    mirrored = cylinder_curvatures(r1, r2, math.pi - angle)
    for i in range(2):
        assert float(one[i]) == pytest.approx(float(other[i]), rel=1e-12, abs=0)
        assert float(one[i]) == pytest.approx(float(mirrored[i]), rel=1e-12, abs=0)


@settings(deadline=None)
@given(RADIUS, RADIUS, ANGLE)
def test_sum_and_product_of_curvatures(r1: float, r2: float, angle: float) -> None:
    a, b = (float(x) for x in cylinder_curvatures(r1, r2, angle))
    assert 0 < a <= b
    assert a + b == pytest.approx(0.5 * (1 / r1 + 1 / r2), rel=1e-12, abs=0)
    assert 4 * r1 * r2 * a * b == pytest.approx(math.sin(angle) ** 2, rel=1e-11, abs=0)


@settings(deadline=None)
@given(LOAD, RADIUS, RADIUS, ANGLE)
def test_pressure_carries_the_load(load: float, r1: float, r2: float, angle: float) -> None:
    contact = elliptic_contact(load, *cylinder_curvatures(r1, r2, angle), MODULUS)
    carried = 2 / 3 * math.pi * contact.semi_major * contact.semi_minor * contact.peak_pressure
    assert float(carried) == pytest.approx(load, rel=1e-12, abs=0)


@settings(deadline=None)
@given(LOAD, st.floats(1.0, 100.0), st.floats(1.0, 1e6))
def test_more_load_more_pressure(load: float, curvature: float, ratio: float) -> None:
    """Peak pressure goes with the cube root of load."""
    one = elliptic_contact(load, curvature, curvature * ratio, MODULUS)
    two = elliptic_contact(8 * load, curvature, curvature * ratio, MODULUS)
    assert float(two.peak_pressure) == pytest.approx(2 * float(one.peak_pressure), rel=1e-12, abs=0)


def test_slender_ellipse_tends_to_the_line() -> None:
    """The middle of a very long ellipse is a line contact under its own load per length, 3F/(4a)."""
    contact = elliptic_contact(600.0, 1e-9, 100.0, MODULUS)
    line = line_contact(0.75 * 600.0 / contact.semi_major, 200.0, MODULUS)
    assert float(line.half_width) == pytest.approx(float(contact.semi_minor), rel=1e-6, abs=0)
    assert float(line.peak_pressure) == pytest.approx(float(contact.peak_pressure), rel=1e-6, abs=0)


def test_shapes_broadcast_and_missing_stays_missing() -> None:
    contact = elliptic_contact([[300.0], [np.nan]], 25.0, [25.0, 80.0, 90.0], MODULUS)
    assert contact.approach.shape == (2, 3)
    assert np.isfinite(contact.approach[0]).all() and np.isnan(contact.approach[1]).all()


def test_nearly_parallel_axes_keep_all_digits() -> None:
    """At an angle of 1e-7 rad the difference formula would have lost the small curvature altogether."""
    a, _ = cylinder_curvatures(6e-3, 20e-3, 1e-7)
    b = 0.5 * (1 / 6e-3 + 1 / 20e-3)
    assert float(a) == pytest.approx(math.sin(1e-7) ** 2 / (4 * 6e-3 * 20e-3 * b), rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ((0.0, 1.0, 2.0, 1e11), "load"),
        ((1.0, 0.0, 2.0, 1e11), "curvature_a"),
        ((1.0, 3.0, 2.0, 1e11), "swap"),
        ((1.0, 1.0, 2.0, -1.0), "reduced_modulus"),
        ((1.0, 1.0, np.inf, 1e11), "curvature_ratio"),
    ],
)
def test_impossible_contacts_are_refused(arguments: tuple[float, ...], word: str) -> None:
    with pytest.raises(ValueError, match=word):
        elliptic_contact(*arguments)


def test_conformal_bodies_are_refused() -> None:
    with pytest.raises(ValueError, match="no gap"):
        relative_curvatures((1.0, 1.0), (-2.0, -2.0), 0.0)
    with pytest.raises(ValueError, match="overlap beside"):
        relative_curvatures((10.0, 1.0), (0.0, -2.0), 0.0)


def test_ball_in_a_groove() -> None:
    """A ball of 5 mm in a groove of 5.2 mm: A from the closely fitting plane, B from the other."""
    a, b = relative_curvatures((200.0, 200.0), (-1 / 5.2e-3, 20.0), 0.3)
    assert float(a) == pytest.approx(0.5 * (200.0 - 1 / 5.2e-3), rel=1e-12, abs=0)
    assert float(b) == pytest.approx(0.5 * 220.0, rel=1e-12, abs=0)
