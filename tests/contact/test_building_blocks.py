"""The small functions under the mechanics, each by a second route: mpmath, quadrature, ODE, geometry."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from pinscar.contact.arrays import as_floats, not_negative, positive, read_table, rising_readings, within
from pinscar.contact.arrest import (
    area_clock,
    area_fraction,
    depth_at_area,
    scar_growth,
    through_steps,
    worn_area,
)
from pinscar.contact.arrest_fit import expected_log_lengths, gradient, profile_limit, profile_sum
from pinscar.contact.geometry import BallOnDisc, BlockOnRing, CrossedCylinders, WornRing
from pinscar.contact.hertz import agm_sums, ellipse_shape
from pinscar.contact.overlap import (
    angle_minus_sine,
    angle_parts,
    depth_along,
    half_chord,
    length_along,
    outline_limit,
    sagitta,
    segment_area,
    slice_nodes,
    turn_at,
)
from pinscar.contact.wear import check_steps

PAIR = CrossedCylinders(6e-3, 20e-3)
GROWTH = scar_growth(PAIR)
E_STAR = 210e9 / (2 * (1 - 0.3**2))


@pytest.mark.parametrize("angle", [1e-8, 1e-3, 0.5, 0.999999, 1.000001, 3.0, 6.28])
def test_angle_minus_sine_at_forty_digits(angle: float) -> None:
    """x - sin x agrees with 40 digits, also where the difference cancels."""
    with mpmath.workdps(40):
        exact = float(mpmath.mpf(angle) - mpmath.sin(mpmath.mpf(angle)))
    assert float(angle_minus_sine(angle)) == pytest.approx(exact, rel=2e-15, abs=0)


@pytest.mark.parametrize("share", [1e-6, 0.03, 0.5, 1.0, 1.7, 2.0])
def test_a_segment_by_cutting_strips(share: float) -> None:
    """A circular segment is the sum of thin strips."""
    radius, depth = 6e-3, 6e-3 * share

    def width(height: float) -> float:
        return 2.0 * math.sqrt(max(radius**2 - (radius - height) ** 2, 0.0))

    strips, _ = quad(width, 0.0, depth, epsabs=0.0, epsrel=1e-12, limit=200)
    assert float(segment_area(radius, depth)) == pytest.approx(strips, rel=1e-9, abs=0)


@pytest.mark.parametrize("share", [1e-9, 1e-4, 0.2, 0.9999])
def test_chord_and_sagitta_by_pythagoras(share: float) -> None:
    """Chord and sagitta obey Pythagoras and invert each other."""
    radius = 20e-3
    with mpmath.workdps(40):
        chord = mpmath.mpf(radius) * mpmath.mpf(share)
        depth = float(mpmath.mpf(radius) - mpmath.sqrt(mpmath.mpf(radius) ** 2 - chord**2))
    assert float(sagitta(radius, radius * share)) == pytest.approx(depth, rel=1e-12, abs=0)
    assert float(half_chord(radius, depth)) == pytest.approx(radius * share, rel=1e-12, abs=0)


@pytest.mark.parametrize("axis_ratio", [1.0, 0.999, 0.45, 0.05, 1e-6])
def test_elliptic_integrals_of_the_mean_by_mpmath(axis_ratio: float) -> None:
    """The elliptic integrals from the arithmetic-geometric mean agree with mpmath."""
    k, t = agm_sums(axis_ratio)
    with mpmath.workdps(50):
        m = 1 - mpmath.mpf(axis_ratio) ** 2
        assert float(k) == pytest.approx(float(mpmath.ellipk(m)), rel=1e-14, abs=0)
        if axis_ratio < 1.0:  # (K - E)/m = K (1/2 + m T)
            big_k, big_e = mpmath.ellipk(m), mpmath.ellipe(m)
            sum_t = ((big_k - big_e) / (m * big_k) - mpmath.mpf(1) / 2) / m
            assert float(t) == pytest.approx(float(sum_t), rel=1e-12, abs=0)


@pytest.mark.parametrize("curvature_ratio", [1.0000001, 1.5, 10 / 3, 184.8, 1e6])
def test_axis_ratio_solves_the_curvature_equation_of_johnson(curvature_ratio: float) -> None:
    """The axis ratio found makes both sides of Johnson's curvature equation equal."""
    ratio = float(ellipse_shape(curvature_ratio)[0])
    with mpmath.workdps(50):  # B/A = (E/(1 - e^2) - K)/(K - E), Johnson, 1985, eq. (4.25)
        m = 1 - mpmath.mpf(ratio) ** 2
        big_k, big_e = mpmath.ellipk(m), mpmath.ellipe(m)
        assert float((big_e / (1 - m) - big_k) / (big_k - big_e)) == pytest.approx(
            curvature_ratio, rel=1e-12, abs=0
        )


def test_initial_contacts_by_the_formulas_of_johnson() -> None:
    """First contacts agree with the closed forms that Johnson prints."""
    load, radius = 600.0, 10e-3
    ball = BallOnDisc(radius).initial_contact(load, E_STAR)
    a = (3 * load * radius / (4 * E_STAR)) ** (1 / 3)  # eq. (4.22)
    assert float(ball.semi_major) == pytest.approx(a, rel=1e-12, abs=0)
    assert float(ball.approach) == pytest.approx(a**2 / radius, rel=1e-12, abs=0)  # eq. (4.23)
    assert float(ball.peak_pressure) == pytest.approx(1.5 * load / (math.pi * a**2), rel=1e-12, abs=0)
    equal = CrossedCylinders(radius, radius).initial_contact(load, E_STAR)
    assert float(equal.peak_pressure) == pytest.approx(float(ball.peak_pressure), rel=1e-12, abs=0)
    block = BlockOnRing(20e-3, 10e-3).initial_contact(300.0, E_STAR)
    peak = math.sqrt(300.0 / 10e-3 * E_STAR / (math.pi * 20e-3))  # eq. (4.45)
    assert float(block.peak_pressure) == pytest.approx(peak, rel=1e-12, abs=0)
    # R 6/20 mm, 90 degrees, 600 N: 2.4367911 GPa by mpmath at 30 digits; no groove yet
    fresh = WornRing(6e-3, 20e-3, 20e-6).initial_contact(load, E_STAR)
    assert float(fresh.peak_pressure) == pytest.approx(2.4367911e9, rel=1e-7, abs=0)


def test_a_groove_lowers_the_radius_of_the_track() -> None:
    assert WornRing(6e-3, 20e-3, 1e-3).track_radius == pytest.approx(19e-3)
    assert BlockOnRing(20e-3, 6e-3, 1e-3).track_radius == pytest.approx(19e-3)


@pytest.mark.parametrize("degrees", [35.0, 60.0, 90.0, 140.0])
def test_an_outline_point_lies_on_both_cylinders(degrees: float) -> None:
    theta, phi, depth = math.radians(degrees), math.radians(20.0), 0.3e-3
    sine, cosine = angle_parts(theta)
    assert (sine, cosine) == (pytest.approx(math.sin(theta)), pytest.approx(math.cos(theta), abs=1e-15))
    across = (math.sin(phi), sine * math.cos(phi) - cosine * math.sin(phi))
    half = 0.5 * float(length_along(6e-3, 20e-3, across, depth))
    # The point in the plane between the bodies, and how far it lies beside each axis.
    x, y = half * math.cos(phi), half * math.sin(phi)
    beside_ring = x * math.sin(theta) - y * math.cos(theta)
    gap = 6e-3 - math.sqrt(6e-3**2 - y**2) + 20e-3 - math.sqrt(20e-3**2 - beside_ring**2)
    assert gap == pytest.approx(depth, rel=1e-11, abs=0)
    assert float(depth_along(6e-3, 20e-3, across, 2 * half)) == pytest.approx(depth, rel=1e-12, abs=0)
    reach = outline_limit(6e-3, 20e-3, across)
    beside = reach / 2 * np.abs(across) / np.array([6e-3, 20e-3])
    assert float(beside.max()) == pytest.approx(1.0, rel=1e-12, abs=0)


def test_slices_of_an_overlap() -> None:
    """Nodes and weights integrate a slice whose antiderivative is known."""
    radius, depth = np.array(20e-3), np.array(0.6e-3)
    end = turn_at(radius, depth)
    assert float(end) == pytest.approx(math.acos(1 - 0.03), rel=1e-12, abs=0)
    d, cosine, weight = slice_nodes(radius, depth, np.array(0.0), end)
    # integral of d(beta) cos(beta), d = h - r + r cos(beta), by its antiderivative
    b = float(end)
    exact = (0.6e-3 - 20e-3) * math.sin(b) + 20e-3 * (0.5 * b + 0.25 * math.sin(2 * b))
    assert float(np.sum(weight * d * cosine)) == pytest.approx(exact, rel=1e-10, abs=0)


def test_area_and_depth_of_a_growing_scar_against_an_ode() -> None:
    """Area and depth of a growing scar agree with an ODE solver."""
    rate, film, load = 1e-14 * 1.466, 120e6, 450.0

    def law(_: float, state: np.ndarray) -> list[float]:
        area = float(PAIR.area_at_depth(state[0]))
        return [rate * (load / area - film)]

    start = 5e-6
    times = np.array([3.0, 20.0, 60.0])
    found = solve_ivp(law, (0.0, 60.0), [start], t_eval=times, rtol=1e-11, atol=1e-16, method="LSODA")
    begin = float(PAIR.area_at_depth(start))
    areas = worn_area(times, load, rate, film, GROWTH, begin)
    np.testing.assert_allclose(areas, PAIR.area_at_depth(found.y[0]), rtol=1e-8)
    np.testing.assert_allclose(depth_at_area(areas, GROWTH), found.y[0], rtol=1e-8)


@pytest.mark.parametrize("fraction", [1e-3, 0.4, 0.97])
def test_clock_of_a_scar_by_quadrature(fraction: float) -> None:
    """The clock of a scar is the integral that defines it."""
    final = 30e-6  # a long scar, whose area is no longer in proportion to its depth

    def integrand(x: float) -> float:
        return x * float(GROWTH.weight(x * final)) / (1.0 - x)

    exact, _ = quad(integrand, 0.0, fraction, epsabs=0.0, epsrel=1e-12)
    clock = float(area_clock(np.array(fraction), final, GROWTH))
    assert clock == pytest.approx(exact, rel=1e-10, abs=0)
    assert float(area_fraction(clock, final, GROWTH)) == pytest.approx(fraction, rel=1e-10, abs=0)


def test_gradient_of_the_model_by_wider_differences() -> None:
    """The gradient does not depend on the step of the differences."""
    middle = np.log([1e-14, 120e6])
    found = gradient(middle, 30.0, 450.0, 1.466, GROWTH)
    for i in range(2):  # Richardson's step from h and 2 h
        slopes = []
        for h in (1e-3, 2e-3):
            step = h * np.eye(2)[i]
            ends = [
                float(expected_log_lengths(middle + s * step, 30.0, 450.0, 1.466, GROWTH)) for s in (1, -1)
            ]
            slopes.append((ends[0] - ends[1]) / (2 * h))
        assert found[i] == pytest.approx((4 * slopes[0] - slopes[1]) / 3, rel=1e-7, abs=0)
    # Long runs: the length follows the final area, L ~ pf^(-1/2) up to the depth over radius
    late = gradient(np.log([1e-12, 120e6]), 600.0, 450.0, 1.466, GROWTH)
    assert late[1] == pytest.approx(-0.5, abs=0.002)


def test_a_profile_is_the_classical_parabola_of_a_straight_line() -> None:
    x, y = np.array([1.0, 2.0, 4.0, 7.0]), np.array([2.1, 2.9, 5.2, 7.7])

    def squares(points: np.ndarray) -> np.ndarray:
        return np.sum((y - points[:, :1] - points[:, 1:] * x) ** 2, axis=1)

    region = (np.full(2, -20.0), np.full(2, 20.0))
    slope, intercept = np.polyfit(x, y, 1)
    least = float(np.sum((y - intercept - slope * x) ** 2))
    spread = float(np.sum((x - x.mean()) ** 2))
    held = profile_sum(squares, 1, slope + 0.3, region)
    assert held == pytest.approx(least + spread * 0.3**2, rel=1e-9, abs=0)
    ceiling = least + 0.5
    for side, sign in ((0, -1.0), (1, 1.0)):
        limit = profile_limit(squares, 1, slope, side, region, ceiling)
        assert limit == pytest.approx(slope + sign * math.sqrt(0.5 / spread), abs=1e-6)
    near = (np.array([-20.0, slope - 0.01]), np.array([20.0, slope + 0.01]))
    assert profile_limit(squares, 1, slope, 1, near, ceiling) is None


def test_steps_of_a_linear_law_add_up() -> None:
    def law(times: np.ndarray, load: float, start: float) -> np.ndarray:
        return start + 1e-9 * load * times

    times = np.array([5.0, 20.0, 35.0, 60.0, np.nan])
    found = through_steps(times, [0, 20, 50], [100, 300, 50], law)
    # by hand: 100 N for 20 s, 300 N for 30 s, 50 N from then on
    expected = 1e-9 * np.array([500.0, 2000.0, 2000.0 + 4500.0, 2000.0 + 9000.0 + 500.0, np.nan])
    np.testing.assert_allclose(found, expected, rtol=1e-12)


@pytest.mark.parametrize(
    ("starts", "loads", "word"),
    [([1, 2], [3, 4], "begin"), ([0, 2, 2], [1, 1, 1], "rise"), ([0], [1, 2], "length"), ([0], [0], "zero")],
)
def test_steps_that_contradict_themselves_are_refused(starts: list, loads: list, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        check_steps(starts, loads)


def test_checks_of_numbers_name_what_is_wrong_and_let_nan_pass() -> None:
    assert np.isnan(as_floats([None, 1.0])[0])
    assert np.isnan(positive("a", math.nan))
    assert float(not_negative("a", 0.0)) == 0.0
    with pytest.raises(ValueError, match="load must be above zero; got 0"):
        positive("load", [1.0, 0.0])
    with pytest.raises(ValueError, match="depth must not be negative; got -1"):
        not_negative("depth", -1.0)
    with pytest.raises(ValueError, match="must lie between 0 and 1; got 2"):
        within("share", [0.0, 1.0, 2.0], 0.0, 1.0)


def test_a_trace_loses_only_what_is_missing_and_must_rise() -> None:
    times, values = rising_readings([0.0, 0.5, None, 2.0, 3.0], [1.0, math.nan, 4.0, 2.0, -3.0])
    assert (times.tolist(), values.tolist()) == ([0.0, 2.0, 3.0], [1.0, 2.0, -3.0])
    with pytest.raises(ValueError, match="rise"):
        rising_readings([0.0, 1.0, 1.0], [1.0, 2.0, 3.0])
    with pytest.raises(ValueError, match=r"\(3,\) and \(2,\)"):
        rising_readings([0.0, 1.0, 2.0], [1.0, 2.0])


def test_tables_keep_every_row_as_it_stands_in_the_file() -> None:
    # ISO 606 pitches are whole numbers of eighths of an inch
    rows = [dict(row) for row in read_table("roller_chain_iso606.csv")]
    assert [float(row["pitch"]) / 3.175 for row in rows] == pytest.approx([3, 4, 5, 6, 8])
    assert len(read_table("viscosity_index_d2270.csv")) == 311  # Table 1 of ASTM D2270
