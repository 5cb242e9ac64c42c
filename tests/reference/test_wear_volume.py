"""Scar depth, width, area and wear volume against outside sources: quadrature, Monte Carlo, ASTM."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from pinscar.contact.geometry import BallOnDisc, BlockOnRing, CrossedCylinders, approximate_cap_volume
from pinscar.contact.overlap import overlap_volume
from pinscar.contact.wear import wear_coefficient

# Source: quadrature at 30 digits, checked by a Monte Carlo count of 4e7 points in the two solids (all
# within 1.5 sigma). Rp, Rr, L [mm], then depth [mm], width [mm], volume [mm^3], pi h^2 sqrt(Rp Rr) [mm^3],
# (pi/4) L W [mm^2], exact projected area [mm^2]. Tolerance: half the last printed digit of each.
CROSSED = [
    (6, 20, 2, "0.025015645", "1.0946451", "0.021521349", "0.021535943", "1.719464", "1.720048"),
    (6, 20, 4, "0.10025126", "2.1844585", "0.34493599", "0.34587578", "6.862679", "6.872048"),
    (6, 20, 6, "0.22628007", "3.2644498", "1.7512934", "1.7621103", "15.38336", "15.43111"),
    (6, 20, 10, "0.63508327", "5.3731438", "13.640517", "13.880395", "42.20057", "42.57709"),
    (5, 17.5, 3, "0.064404226", "1.5998679", "0.12164160", "0.12189408", "3.769600", "3.773519"),
    (10, 10, 5, "0.31754163", "5", "3.1425799", "3.1677524", "19.63495", "19.71383"),
    (4, 30, 3, "0.037523467", "1.0932149", "0.048391440", "0.048455871", "2.575827", "2.577545"),
    (3.175, 24.5, 5, "0.12788479", "1.7840559", "0.45056714", "0.45315058", "7.005971", "7.026204"),
]

# Source: ASTM G99 (and G133), ball side, exact cap and short form (formulas from memory, numbers recomputed
# at 30 digits). d, r [mm], exact, short form [mm^3].
CAPS = [
    (0.5, 3, "0.001025030403", "0.001022653859"),
    (1, 3.175, "0.015590214542", "0.015460593768"),
    (1, 5, "0.009850387280", "0.009817477042"),
]


# Source: formula of ASTM G77; the sizes are our own, the numbers recomputed at 30 digits.
# D, t, b [mm], volume [mm^3].
BLOCKS = [
    (40, 10, 0.5, "0.005208577494"),
    (40, 10, 1, "0.041674481784"),
    (40, 10, 2, "0.333583668698"),
    (40, 10, 4, "2.674709803591"),
]


def agrees(value: float, printed: str) -> bool:
    """Compare to half the last printed digit (a printed whole number is exact)."""
    digits = len(printed.split(".")[1]) if "." in printed else 9
    return abs(value - float(printed)) <= 0.501 * 10.0**-digits


@pytest.mark.parametrize(("rp", "rr", "length", "h", "w", "v", "small", "oval", "projected"), CROSSED)
def test_crossed_cylinders(
    rp: float, rr: float, length: float, h: str, w: str, v: str, small: str, oval: str, projected: str
) -> None:
    """Right angle: every column of the table to half its last digit."""
    pair = CrossedCylinders(rp * 1e-3, rr * 1e-3)
    scar = length * 1e-3
    width = pair.implied_width(scar)
    assert agrees(float(pair.scar_depth(scar)) * 1e3, h)
    assert agrees(float(width) * 1e3, w)
    assert agrees(float(pair.wear_volume(scar)) * 1e9, v)
    assert agrees(math.pi * float(pair.scar_depth(scar)) ** 2 * math.sqrt(rp * rr) * 1e6, small)
    assert agrees(float(pair.scar_area(scar, width)) * 1e6, oval)
    assert agrees(float(pair.footprint_area(scar)) * 1e6, projected)


def by_mpmath(rp: float, rr: float, length: float) -> mpmath.mpf:
    """V = 2 integral over x of S(h - Rr + sqrt(Rr^2 - x^2)), the definition, at 40 digits."""
    rp, rr, half = mpmath.mpf(rp), mpmath.mpf(rr), mpmath.mpf(length) / 2
    bottom = mpmath.sqrt(rr**2 - half**2)

    def slice_area(s: mpmath.mpf) -> mpmath.mpf:
        x = half * mpmath.sin(s)
        cut = min(1 - (mpmath.sqrt(rr**2 - x**2) - bottom) / rp, mpmath.mpf(1))
        if cut <= -1:
            return mpmath.pi * rp**2 * half * mpmath.cos(s)
        return rp**2 * (mpmath.acos(cut) - cut * mpmath.sqrt(1 - cut**2)) * half * mpmath.cos(s)

    return 2 * mpmath.quad(slice_area, mpmath.linspace(0, mpmath.pi / 2, 5))


LENGTHS = [
    (6, 20, 0.1), (6, 20, 1), (6, 20, 10), (6, 20, 28.5), (6, 20, 36), (10, 10, 0.1), (10, 10, 19.999),
    (10, 10, 20), (6, 12, 24), (20, 6, 0.1), (20, 6, 12), (1, 50, 0.1),
]  # fmt: skip


@pytest.mark.parametrize(("rp", "rr", "length"), LENGTHS)
def test_volume_to_twelve_digits(rp: float, rr: float, length: float) -> None:
    """Scars from 0.1 mm to the largest possible, the whole pin cut included: within 1e-12 of 40 digits."""
    with mpmath.workdps(40):
        expected = by_mpmath(rp, rr, length)
    assert float(CrossedCylinders(rp, rr).wear_volume(length) / expected) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("radius", [1e-3, 6e-3, 1.0])
def test_bicylinder(radius: float) -> None:
    """Archimedes, The Method, proposition 15: equal cylinders whose axes meet share 16 r^3/3."""
    assert float(overlap_volume(radius, radius, 2 * radius)) == pytest.approx(
        16 / 3 * radius**3, rel=1e-13, abs=0
    )


@pytest.mark.parametrize("degrees", [60, 30, 120])
@pytest.mark.parametrize("length", [2.0, 8.0])
def test_other_angles_by_counting_cells(degrees: float, length: float) -> None:
    """Independent route: the gap of the surfaces on a fine grid over pin and ring, good to a few 1e-5."""
    rp, rr = 6e-3, 20e-3
    pair = CrossedCylinders(rp, rr, math.radians(degrees))
    depth = float(pair.scar_depth(length * 1e-3))
    sine, cosine = math.sin(pair.crossing_angle), math.cos(pair.crossing_angle)
    y = np.linspace(-1, 1, 1601) * 1.0001 * math.sqrt(2 * rp * depth)
    reach = (math.sqrt(2 * rr * depth) + abs(cosine) * y.max()) / sine
    x = np.linspace(-1, 1, 1601) * 1.0001 * reach
    u = x[:, None] * sine - y * cosine
    overlap = depth - (rr - np.sqrt(rr**2 - u**2)) - (rp - np.sqrt(rp**2 - y**2))
    cell = (x[1] - x[0]) * (y[1] - y[0])
    assert float(pair.wear_volume(length * 1e-3)) == pytest.approx(
        overlap[overlap > 0].sum() * cell, rel=5e-5, abs=0
    )
    assert float(pair.footprint_area(length * 1e-3)) == pytest.approx(
        (overlap > 0).sum() * cell, rel=4e-4, abs=0
    )


@pytest.mark.parametrize("degrees", [60, 30, 120])
def test_oval_axes_are_the_longest_and_shortest_diameters(degrees: float) -> None:
    """Turning a ruler over a scar of 10 mm: length and width are its longest and its shortest diameter.

    They lie along the axes of the shallow oval; on the exact outline of this deep one that holds to 1e-4.
    """
    rp, rr = 6e-3, 20e-3
    pair = CrossedCylinders(rp, rr, math.radians(degrees))
    depth, width = float(pair.scar_depth(10e-3)), float(pair.implied_width(10e-3))
    turn = np.radians(np.arange(0, 180, 0.05))
    low, high = np.zeros_like(turn), np.full_like(turn, 6e-3)
    for _ in range(50):
        half = 0.5 * (low + high)
        u, y = half * np.sin(pair.crossing_angle - turn), np.clip(half * np.sin(turn), -rp, rp)
        inside = (rr - np.sqrt(rr**2 - u**2)) + (rp - np.sqrt(rp**2 - y**2)) < depth
        low, high = np.where(inside, half, low), np.where(inside, high, half)
    assert 2 * low.max() == pytest.approx(10e-3, rel=1e-4, abs=0)
    assert 2 * low.min() == pytest.approx(width, rel=1e-4, abs=0)


@pytest.mark.parametrize(("d", "r", "exact", "short"), CAPS)
def test_ball_cap(d: float, r: float, exact: str, short: str) -> None:
    """Exact and short cap volumes of ASTM G99 come out to half the last digit."""
    assert agrees(float(BallOnDisc(r * 1e-3).wear_volume(d * 1e-3)) * 1e9, exact)
    assert agrees(float(approximate_cap_volume(d * 1e-3, r * 1e-3)) * 1e9, short)


@pytest.mark.parametrize(("ratio", "expected"), [(0.3, 0.9925), (0.7, 0.9580)])
def test_error_of_the_short_cap(ratio: float, expected: float) -> None:
    """Short form over exact cap at d/r = 0.3 and 0.7, recomputed at 30 digits."""
    share = float(approximate_cap_volume(ratio, 1.0) / BallOnDisc(1.0).wear_volume(ratio))
    assert share == pytest.approx(expected, abs=6e-5)


@pytest.mark.parametrize(("diameter", "t", "b", "volume"), BLOCKS)
def test_block_on_ring(diameter: float, t: float, b: float, volume: str) -> None:
    """The volume of ASTM G77 comes out to half the last digit."""
    assert agrees(float(BlockOnRing(diameter * 0.5e-3, t * 1e-3).wear_volume(b * 1e-3)) * 1e9, volume)


def test_wear_coefficient_by_hand() -> None:
    """1.7512934 mm^3 at 600 N over 87.9646 m: 1.7512934/52778.76 mm^3/(N m), worked by hand."""
    assert float(wear_coefficient(1.7512934e-9, 600 * 87.9646)) == pytest.approx(
        3.318178e-14, rel=1e-6, abs=0
    )
