"""Viscosity, its index, density and pressure-viscosity against printed and independent values."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from pinscar.contact.viscosity import (
    density_api,
    kinematic_viscosity,
    kinematic_viscosity_at,
    procedure_a,
    procedure_b,
    reference_viscosities,
    reported_viscosity_index,
    so_klaus,
    viscosity_from_z,
    viscosity_index,
    walther_line,
    walther_line_40_100,
    walther_z,
    wooster,
)

# Source, KV40, KV100 [mm^2/s], L, H (None: not printed), index, reported index.
D2270_EXAMPLES = [
    # Printed as the worked example of procedure A (also in the library chemicals 1.5.2).
    ("ASTM D2270, procedure A", 73.30, 8.86, 119.94, 69.48, 92.4296, 92, 5e-5),
    # H is printed as 28.97 in the standard (from memory); the interpolation gives 28.975.
    ("ASTM D2270, procedure B", 22.83, 5.05, None, 28.975, 156.42, 156, 5e-3),
    ("ASTM D2270, procedure B", 53.47, 7.80, None, 57.31, 111.307, 111, 5e-4),
]

# Rows of ASTM D2270 Table 1 as printed: Y, L, H [mm^2/s].
D2270_ROWS = """2 7.994 6.394|2.5 11.45 9.063|3 15.49 12.15|3.5 20.09 15.66|4 25.32 19.56|4.5 31.96 23.81|
5 40.23 28.49|5.1 41.99 29.46|6 57.97 38.19|7 78.00 48.57|7.8 95.43 57.31|8 100.0 59.60|
8.8 118.5 68.79|8.9 120.9 69.94|9 123.3 71.10|9.1 125.7 72.27|10 147.7 82.87|12 201.9 108.0|
14 263.3 135.4|15 296.5 149.7|16 331.9 164.6|18 408.6 196.2|20 493.2 229.5|25 736.5 320.9|
30 1023 421.7|35 1356 532.5|40 1730 651.8|45 2152 780.9|50 2618 919.6|60 3676 1222|70 4905 1558"""

# Independent computation from the same table: KV40, KV100 [mm^2/s], index to 0.01.
INDEX_PAIRS = [
    (68, 9.1, 109.17),
    (100, 11.4, 100.26),
    (220, 19, 96.92),
    (32, 5.4, 102.21),
    (46, 6.8, 101.61),
    (10, 2.5, 60.75),
]


@pytest.mark.parametrize(
    ("source", "kv40", "kv100", "low", "high", "index", "reported", "tol"), D2270_EXAMPLES
)
def test_the_worked_examples_of_d2270(source, kv40, kv100, low, high, index, reported, tol):
    """The worked examples of ASTM D2270 come out as printed."""
    found_low, found_high = reference_viscosities(kv100 * 1e-6)
    if low is not None:
        assert found_low * 1e6 == pytest.approx(low, abs=0.005)
    assert found_high * 1e6 == pytest.approx(high, abs=0.005)
    assert viscosity_index(kv40 * 1e-6, kv100 * 1e-6) == pytest.approx(index, abs=tol)
    assert reported_viscosity_index(viscosity_index(kv40 * 1e-6, kv100 * 1e-6)) == reported


def test_the_procedure_of_each_example_is_the_one_the_standard_uses():
    assert procedure_a(73.30e-6, 8.86e-6) == pytest.approx(92.4296, abs=5e-5)
    assert procedure_b(22.83e-6, 5.05e-6) == pytest.approx(156.42, abs=5e-3)


def test_the_printed_rows_of_the_index_table():
    rows = np.array([[float(x) for x in row.split()] for row in D2270_ROWS.split("|")])
    low, high = reference_viscosities(rows[:, 0] * 1e-6)
    # The table is printed to four figures, and these are the printed numbers themselves.
    np.testing.assert_allclose(low * 1e6, rows[:, 1], rtol=1e-9)
    np.testing.assert_allclose(high * 1e6, rows[:, 2], rtol=1e-9)


def test_the_equations_join_the_table_at_70():
    # The equations give L 4903.87 and H 1557.66 at Y = 70, against 4905 and 1558 in the table.
    low, high = reference_viscosities(np.nextafter(70e-6, 1.0) * (1 + 1e-12))
    assert low * 1e6 == pytest.approx(4903.87, abs=0.01)
    assert high * 1e6 == pytest.approx(1557.66, abs=0.01)


@pytest.mark.parametrize(("kv40", "kv100", "index"), INDEX_PAIRS)
def test_further_index_pairs(kv40, kv100, index):
    """Further pairs of viscosities give their published indices."""
    assert viscosity_index(kv40 * 1e-6, kv100 * 1e-6) == pytest.approx(index, abs=0.01)


def test_d341_constants_of_a_worked_sheet_with_273():
    """A worked sheet's constants come out with its rounded absolute zero."""
    # Source: ASTM D341, two points, (40 degC, 32) and (100, 5.4) mm^2/s, with T = t + 273. A 9.5259, B 3.7449
    # and 8.5 at 80 degC are the printed results of a worked sheet, quoted from memory.
    line = walther_line(313.0, 32e-6, 373.0, 5.4e-6)
    assert line.intercept == pytest.approx(9.5259, abs=5e-5)
    assert line.slope == pytest.approx(3.7449, abs=5e-5)
    assert kinematic_viscosity(line, 353.0) * 1e6 == pytest.approx(8.533104, rel=1e-6, abs=0)


@pytest.mark.parametrize(
    ("kv40", "kv100", "intercept", "slope", "points"),
    [
        (32, 5.4, 9.530815, 3.746578, {80: 8.533215}),
        (68, 9.1, 9.0473439, 3.5192774, {0: 935.7326, 20: 206.9042, 60: 29.31376, 150: 3.632802}),
    ],
)
def test_d341_with_273_15(kv40, kv100, intercept, slope, points):
    """The line of ASTM D341 agrees with independent computation."""
    # Source: ASTM D341, ``log log (nu + 0.7) = A - B log T``; independent computation. The exponential term
    # is nil here.
    line = walther_line(313.15, kv40 * 1e-6, 373.15, kv100 * 1e-6)
    assert line.intercept == pytest.approx(intercept, rel=1e-7, abs=5e-7)
    assert line.slope == pytest.approx(slope, rel=1e-7, abs=5e-7)
    for celsius, viscosity in points.items():
        assert kinematic_viscosity(line, celsius + 273.15) * 1e6 == pytest.approx(viscosity, rel=1e-6, abs=0)


def test_the_line_of_an_oil_passes_through_its_two_printed_points():
    # Source: ASTM D2270, example of procedure A: 73.30 mm^2/s at 40 degC and 8.86 at 100 degC. The line by
    # hand from D341: Z = nu + 0.7 (its exponential term is nil above 2 mm^2/s), T = t + 273.15.
    line = walther_line_40_100(73.30e-6, 8.86e-6)
    y_40, y_100 = (math.log10(math.log10(nu + 0.7)) for nu in (73.30, 8.86))
    slope = (y_40 - y_100) / (math.log10(373.15) - math.log10(313.15))
    assert line.slope == pytest.approx(slope, rel=1e-9, abs=0)
    assert line.intercept == pytest.approx(y_40 + slope * math.log10(313.15), rel=1e-9, abs=0)
    found = kinematic_viscosity(line, np.array([313.15, 373.15])) * 1e6
    np.testing.assert_allclose(found, [73.30, 8.86], rtol=1e-12)
    with pytest.raises(ValueError, match="must be below kinematic_viscosity_40"):
        walther_line_40_100(8.86e-6, 73.30e-6)


def test_d341_from_the_values_at_40_and_100():
    """The line through 40 and 100 degC agrees with independent computation."""
    # Source: ASTM D341, two points; independent computation.
    found = kinematic_viscosity(walther_line_40_100(73.3e-6, 8.86e-6), [273.15, 353.15]) * 1e6
    np.testing.assert_allclose(found, [1233.066, 15.18039], rtol=1e-6)
    at_once = kinematic_viscosity_at([273.15, 353.15], 73.3e-6, 8.86e-6) * 1e6
    np.testing.assert_allclose(at_once, [1233.066, 15.18039], rtol=1e-6)


def test_the_viscosity_from_z_agrees_with_the_inverse_that_d341_prints():
    # The standard prints an approximate inverse beside the equation for Z: two formulas that check each
    # other.
    nu = np.array([0.21, 0.3, 0.5, 0.8, 1.0, 1.5, 2.0, 3.0, 8.0])
    z = walther_z(nu * 1e-6)
    x = z - 0.7
    printed = x - np.exp(-0.7487 - 3.295 * x + 0.6119 * x**2 - 0.3193 * x**3)
    np.testing.assert_allclose(viscosity_from_z(z) * 1e6, printed, rtol=3e-4)
    np.testing.assert_allclose(nu, printed, rtol=3e-4)


def test_the_density_agrees_with_the_same_tables_in_fahrenheit():
    # API MPMS 11.1 prints K1 = 0.34878 with the base at 60 degF; the metric table has the base at 15 degC.
    # An oil given at 60 degF and taken to 15 degC by the one must follow the other.
    rho_60f = 875.0
    alpha = 0.34878 / rho_60f

    def by_fahrenheit(fahrenheit):
        step = fahrenheit - 60.0
        return rho_60f * np.exp(-alpha * step * (1 + 0.8 * alpha * step))

    rho_15 = by_fahrenheit(59.0)
    for fahrenheit in (32.0, 104.0, 140.0, 212.0):
        kelvin = (fahrenheit + 459.67) / 1.8
        assert density_api(rho_15, kelvin) == pytest.approx(by_fahrenheit(fahrenheit), rel=2e-5, abs=0)
    # The change itself, not only the density, must agree: 1 in 1000 of it.
    fall = rho_15 - density_api(rho_15, 373.15)
    assert fall == pytest.approx(rho_15 - by_fahrenheit(212.0), rel=1e-3, abs=0)


def test_woosters_formula_where_its_logarithm_is_whole():
    # Source: Wooster's formula, alpha = (0.6 + 0.965 log10(eta / mPa s)) 1e-8 (from memory). 1000 mPa s:
    # 0.6 + 0.965 * 3 = 3.495, by hand.
    assert wooster(1.0) * 1e8 == pytest.approx(3.495, rel=1e-12, abs=0)


def test_so_and_klaus_at_50_digits():
    """The correlation of So and Klaus agrees with 50 digits."""
    with mpmath.workdps(50):
        log_nu = mpmath.log10(mpmath.mpf(68))
        value = (
            mpmath.mpf("1.216")
            + mpmath.mpf("4.143") * log_nu ** mpmath.mpf("3.0627")
            + mpmath.mpf("2.848e-4")
            * mpmath.mpf("3.519") ** mpmath.mpf("5.1903")
            * log_nu ** mpmath.mpf("1.5976")
            - mpmath.mpf("3.999")
            * log_nu ** mpmath.mpf("3.0975")
            * mpmath.mpf("0.856") ** mpmath.mpf("0.1162")
        )
    assert so_klaus(68e-6, 856.0, 3.519) * 1e8 == pytest.approx(float(value), rel=1e-12, abs=0)
