"""Hertz contacts against outside sources: 30-digit solutions, textbook examples, coefficient tables."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from pinscar.contact.hertz import (
    cylinder_curvatures,
    elliptic_contact,
    line_contact,
    reduced_modulus,
    relative_curvatures,
)

STEEL = float(reduced_modulus(210e9, 0.30, 210e9, 0.30))
STEEL_ALUMINIUM = float(reduced_modulus(210e9, 0.30, 70e9, 0.33))
PSI, INCH, LBF = 6894.757293168, 0.0254, 4.4482216152605

# Source: Johnson, Contact Mechanics, 1985, section 4.2(c), solved with mpmath at 30 digits; the 60 degree
# row was also put back into the pressure integral. Radii [mm], angle [deg], load [N], E*, then a, b, delta
# [um], p0 [GPa].
CYLINDERS = [
    (10, 10, 90, 600, STEEL, 339.12114, 339.12114, 11.500315, 2.4910526),
    (6, 20, 90, 600, STEEL, 510.88860, 230.11670, 10.937987, 2.4367911),
    (6, 20, 60, 600, STEEL, 613.63599, 203.90105, 10.242969, 2.2896144),
    (6, 20, 30, 600, STEEL, 1052.4673, 149.68066, 7.8995547, 1.8185210),
    (6, 20, 10, 600, STEEL, 2495.1812, 95.985451, 4.6225440, 1.1961486),
    (5, 15, 90, 300, STEEL_ALUMINIUM, 455.41071, 219.79386, 11.744231, 1.4310138),
]

# Source: W. C. Young, Roark's Formulas for Stress and Strain, general case of two bodies: coefficients
# alpha, beta, lambda against cos theta, recomputed from elliptic integrals (the printed table, from memory,
# agrees to three figures up to 0.6 and is coarser above). Tolerance: half the last digit.
ROARK = [
    (0.0, 1.0, 1.0, 0.7500), (0.1, 1.0704, 0.9364, 0.7483), (0.2, 1.1498, 0.8776, 0.7432),
    (0.3, 1.2416, 0.8224, 0.7344), (0.4, 1.3509, 0.7693, 0.7214), (0.5, 1.4858, 0.7171, 0.7032),
    (0.6, 1.6608, 0.6641, 0.6784), (0.7, 1.9051, 0.6080, 0.6440), (0.8, 2.2915, 0.5444, 0.5939),
    (0.9, 3.0929, 0.4607, 0.5099), (0.96, 4.5082, 0.3780, 0.4099), (0.99, 7.7742, 0.2866, 0.2879),
]  # fmt: skip


def test_steel_on_steel_modulus() -> None:
    """210 GPa and 0.30 against itself: 210/(2 x 0.91) GPa."""
    assert pytest.approx(115.384615e9, rel=5e-9, abs=0) == STEEL


@pytest.mark.parametrize(("r1", "r2", "angle", "load", "modulus", "a", "b", "delta", "p0"), CYLINDERS)
def test_crossed_cylinders(
    r1: float,
    r2: float,
    angle: float,
    load: float,
    modulus: float,
    a: float,
    b: float,
    delta: float,
    p0: float,
) -> None:
    """Half-axes, approach and peak pressure agree with the 30-digit solution to its last printed digit."""
    curvatures = cylinder_curvatures(r1 * 1e-3, r2 * 1e-3, math.radians(angle))
    contact = elliptic_contact(load, *curvatures, modulus)
    assert float(contact.semi_major) == pytest.approx(a * 1e-6, rel=1e-7, abs=0)
    assert float(contact.semi_minor) == pytest.approx(b * 1e-6, rel=1e-7, abs=0)
    assert float(contact.approach) == pytest.approx(delta * 1e-6, rel=1e-7, abs=0)
    assert float(contact.peak_pressure) == pytest.approx(p0 * 1e9, rel=1e-7, abs=0)
    assert float(contact.mean_pressure) == pytest.approx(p0 * 1e9 / 1.5, rel=1e-7, abs=0)


def test_line_contact() -> None:
    """The same source: parallel steel cylinders of 6 and 20 mm under 100 kN/m."""
    contact = line_contact(100e3, 1 / 6e-3 + 1 / 20e-3, STEEL)
    assert float(contact.half_width) == pytest.approx(71.364965e-6, rel=1e-7, abs=0)
    assert float(contact.peak_pressure) == pytest.approx(0.89206206e9, rel=1e-7, abs=0)


def test_two_balls() -> None:
    """Stachowiak and Batchelor, Engineering Tribology, first EHL example: balls of 10 and 15 mm, 5 N."""
    curvature = 0.5 * (1 / 10e-3 + 1 / 15e-3)
    contact = elliptic_contact(5, curvature, curvature, STEEL)
    assert float(contact.semi_major) == pytest.approx(57.98890e-6, rel=1e-6, abs=0)
    assert float(contact.peak_pressure) == pytest.approx(709.9400e6, rel=1e-6, abs=0)
    assert float(contact.mean_pressure) == pytest.approx(473.2933e6, rel=1e-6, abs=0)
    assert float(contact.approach) == pytest.approx(0.5604521e-6, rel=1e-6, abs=0)


def test_ball_thrust_bearing() -> None:
    """Norton, Machine Design, 4th ed., Example 7-1: printed area, mean and peak pressure of a ball on a flat.

    Load (21.57 lbf) and modulus (30e6 psi, 0.28) were inferred from the printed results, to four figures.
    """
    contact = elliptic_contact(
        21.57 * LBF, 0.5 / 5e-3, 0.5 / 5e-3, reduced_modulus(30e6 * PSI, 0.28, 30e6 * PSI, 0.28)
    )
    area = math.pi * float(contact.semi_major) ** 2
    assert area == pytest.approx(1.059e-4 * INCH**2, rel=5e-4, abs=0)
    assert float(contact.mean_pressure) == pytest.approx(203_724 * PSI, rel=1e-4, abs=0)
    assert float(contact.peak_pressure) == pytest.approx(305_586 * PSI, rel=1e-4, abs=0)


def test_general_bodies() -> None:
    """Boresi and Schmidt, Advanced Mechanics of Materials, Example 17.1, solved exactly.

    The exact half-axes in the source were made from A and B rounded to six figures, hence 5e-6 there.
    """
    a_curve, b_curve = relative_curvatures((1 / 0.060, 1 / 0.130), (1 / 0.080, 1 / 0.200), math.radians(60))
    assert float(a_curve) == pytest.approx(8.38086, rel=1e-6, abs=0)
    assert float(b_curve) == pytest.approx(12.54864, rel=1e-6, abs=0)
    contact = elliptic_contact(4500, a_curve, b_curve, reduced_modulus(200e9, 0.29, 200e9, 0.29))
    assert float(contact.semi_major) == pytest.approx(1.308572e-3, rel=5e-6, abs=0)
    assert float(contact.semi_minor) == pytest.approx(1.000032e-3, rel=5e-6, abs=0)
    assert float(contact.peak_pressure) == pytest.approx(1641.89e6, rel=5e-6, abs=0)
    assert float(contact.approach) == pytest.approx(26.900e-6, rel=2e-5, abs=0)


def test_general_bodies_by_the_chart() -> None:
    """Example 17.1 of Boresi and Schmidt read off the book's chart: peak pressure 1596.8 MPa (from memory).

    The chart coefficient read there (0.77) is 3.5 % under the exact one (0.798), so 3 % is all that can be
    asked.
    """
    curvatures = relative_curvatures((1 / 0.060, 1 / 0.130), (1 / 0.080, 1 / 0.200), math.radians(60))
    contact = elliptic_contact(4500, *curvatures, reduced_modulus(200e9, 0.29, 200e9, 0.29))
    # The book reads the shape factors off a chart.
    assert float(contact.peak_pressure) == pytest.approx(1596.8e6, rel=0.03, abs=0)


@pytest.mark.parametrize(("cosine", "alpha", "beta", "approach"), ROARK)
def test_general_coefficients(cosine: float, alpha: float, beta: float, approach: float) -> None:
    """KD = 1.5/(sum of curvatures), CE = 1/E*: the coefficients depend on (B - A)/(B + A) alone."""
    total = 100.0
    contact = elliptic_contact(1.0, 0.5 * total * (1 - cosine), 0.5 * total * (1 + cosine), 1e11)
    # A + B = (sum of the four curvatures)/2, so the sum is twice `total`.
    k_d, c_e = 1.5 / (2 * total), 1e-11
    scale = (k_d * c_e) ** (1 / 3)
    assert float(contact.semi_major) / scale == pytest.approx(alpha, abs=6e-5)
    assert float(contact.semi_minor) / scale == pytest.approx(beta, abs=6e-5)
    assert float(contact.approach) / (c_e**2 / k_d) ** (1 / 3) == pytest.approx(approach, abs=6e-5)


def exact(ratio: float) -> tuple[mpmath.mpf, mpmath.mpf, mpmath.mpf]:
    """Solve (E/m1 - K)/(K - E) = ratio for b/a with mpmath at 50 digits; also K and (K - E)/m."""
    target = mpmath.mpf(ratio)

    def excess(log_axes: mpmath.mpf) -> mpmath.mpf:
        m1 = mpmath.exp(-2 * log_axes)
        k, e = mpmath.ellipk(1 - m1), mpmath.ellipe(1 - m1)
        return mpmath.log((e / m1 - k) / (k - e)) - mpmath.log(target)

    x = mpmath.log(target)
    y = mpmath.findroot(excess, (2 * x / 3, 0.63 * x), tol=1e-70)
    m = 1 - mpmath.exp(-2 * y)
    k = mpmath.ellipk(m)
    return mpmath.exp(-y), k, (k - mpmath.ellipe(m)) / m


def test_a_sample_against_fifty_digits() -> None:
    """From nearly circular to nearly a line, every result is within 1e-12 of mpmath at 50 digits."""
    ratios = np.concatenate([1 + np.geomspace(1e-9, 1.0, 15), np.geomspace(2.5, 1e12, 40)])
    load, curvature, modulus = 600.0, 25.0, 115.384615e9
    contact = elliptic_contact(load, curvature, curvature * ratios, modulus)
    with mpmath.workdps(50):
        for i, ratio in enumerate(curvature * ratios / curvature):
            axes, k, d = exact(float(ratio))
            squeeze = 3 * mpmath.mpf(load) / (2 * mpmath.pi * mpmath.mpf(modulus))
            a = mpmath.cbrt(squeeze * d / curvature)
            peak = 3 * mpmath.mpf(load) / (2 * mpmath.pi * a * a * axes)
            assert float(contact.semi_major[i] / a - 1) == pytest.approx(0, abs=1e-12)
            assert float(contact.semi_minor[i] / (a * axes) - 1) == pytest.approx(0, abs=1e-12)
            assert float(contact.peak_pressure[i] / peak - 1) == pytest.approx(0, abs=1e-12)
            assert float(contact.approach[i] / (squeeze * k / a) - 1) == pytest.approx(0, abs=1e-12)
