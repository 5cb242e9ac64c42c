"""Flash, moving, stationary and transient heat sources against values computed independently of pinscar."""

from __future__ import annotations

import mpmath
import numpy as np
import pytest

from pinscar.contact.heat import band_rise, contact_flash, disc_centre_rise, disc_rise, half_space_rise
from pinscar.contact.heat_sources import (
    band_hottest_position,
    band_maximum,
    band_mean,
    band_profile,
    disc_centreline,
    disc_maximum,
    disc_mean,
    hertzian_disc_rise,
    isothermal_disc_rise,
    tian_kennedy_maximum,
    tian_kennedy_mean,
    uniform_disc_maximum,
    uniform_disc_mean,
)

STEEL = (46.0, 7850.0, 460.0)
"""Conductivity, density, specific heat of the transient cases."""

# Jaeger's moving band (1942) by quadrature: L, maximum, place, mean, fast limit 2 sqrt(pi L).
BAND = np.array(
    [
        [0.1, 0.69125, 0.2435, 0.64773, 1.12100],
        [0.5, 2.04859, 0.5367, 1.76191, 2.50663],
        [1, 3.11599, 0.6664, 2.51284, 3.54491],
        [2, 4.62947, 0.7747, 3.50287, 5.01326],
        [5, 7.61271, 0.8759, 5.41958, 7.92665],
        [10, 10.94844, 0.9244, 7.58141, 11.20998],
        [20, 15.63973, 0.9552, 10.65175, 15.85331],
        [50, 24.90673, 0.9783, 16.76697, 25.06628],
    ]
)
# Moving uniform disc, by quadrature of the moving point source (Jaeger, 1942): Pe, maximum, mean. Last
# column: fit of the maximum, 2 / sqrt(pi (1.273 + Pe)) (Tian and Kennedy, 1994, from memory).
DISC = np.array(
    [
        [0, 1, 0.84883, 1.00009],
        [0.1, 0.95446, 0.80202, 0.96299],
        [0.5, 0.82876, 0.66334, 0.84742],
        [1, 0.73244, 0.55541, 0.74844],
        [2, 0.61661, 0.43533, 0.62371],
        [5, 0.45270, 0.29427, 0.45052],
        [10, 0.33838, 0.21284, 0.33607],
        [20, 0.24558, 0.15222, 0.24465],
        [50, 0.15775, 0.09693, 0.15758],
    ]
)


def test_the_moving_band_of_jaeger():
    peclet, maximum, place, mean, fast = BAND.T
    np.testing.assert_allclose(band_maximum(peclet), maximum, atol=6e-6)
    # The top is flat: the place has the accuracy of a maximum search, the value that of the quadrature.
    np.testing.assert_allclose(band_hottest_position(peclet), place, atol=1.5e-4)
    np.testing.assert_allclose(band_mean(peclet), mean, atol=6e-6)
    np.testing.assert_allclose(2 * np.sqrt(np.pi * peclet), fast, atol=6e-6)


@pytest.mark.parametrize("peclet", [0.02, 0.5, 3.0, 40.0])
def test_the_closed_band_against_its_own_integral(peclet):
    def kernel(u):
        return mpmath.exp(u) * mpmath.besselk(0, abs(u))

    for share in (-1.5, -0.4, 0.3, 0.9, 2.0):
        x = share * peclet
        ends = sorted({x - peclet, x + peclet} | ({0.0} if abs(share) < 1 else set()))
        # Far ahead of a fast band the rise is nothing beside its maximum of order 1.
        expected = float(mpmath.quad(kernel, ends))
        assert band_profile(peclet, x) == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_the_fast_band_tends_to_the_half_space_heated_for_the_time_of_passage():
    # At the trailing edge a point has been heated for 2 l / v: 2 q sqrt(t / (pi k rho c)).
    conductivity, density, heat = STEEL
    kappa = conductivity / (density * heat)
    limit = half_space_rise(1e7, 2 * 1e-3 / 500.0, 0.0, *STEEL)
    assert band_rise(1e7, 1e-3, 500.0, conductivity, kappa) == pytest.approx(limit, rel=1e-3, abs=0)


def test_the_moving_disc():
    peclet, maximum, mean, fit = DISC.T
    np.testing.assert_allclose(disc_maximum(peclet), maximum, rtol=1e-4)
    np.testing.assert_allclose(disc_mean(peclet), mean, rtol=1e-4)
    np.testing.assert_allclose(tian_kennedy_maximum(peclet), fit, atol=6e-6)


def test_the_published_fits_are_as_near_as_their_docstrings_say():
    peclet = np.concatenate([[0.0], np.logspace(-3, 5, 400)])
    assert np.max(np.abs(tian_kennedy_maximum(peclet) / disc_maximum(peclet) - 1)) < 0.024
    assert np.max(np.abs(tian_kennedy_mean(peclet) / disc_mean(peclet) - 1)) < 0.04


def test_the_moving_disc_by_a_plane_sum_of_point_sources():
    # Second route: rings about the field point, in plain double quadrature at Pe = 2 and x = 0.5.
    peclet, x = 2.0, 0.5
    angle = (np.arange(4000) + 0.5) * 2 * np.pi / 4000
    reach = x * np.cos(angle) + np.sqrt(1 - (x * np.sin(angle)) ** 2)
    radius = (np.arange(1000) + 0.5) / 1000
    kernel = np.exp(-peclet * radius * reach[:, None] * (1 - np.cos(angle)[:, None])) * reach[:, None]
    assert disc_centreline(peclet, x) == pytest.approx(kernel.mean(axis=1).mean(), rel=1e-6, abs=0)


def test_the_fast_disc_has_the_coefficient_of_the_textbook():
    # Stachowiak and Batchelor, fast circular source (from memory): mean rise 0.308 Q / (k a) sqrt(kappa /
    # (v a)). The limit of the quadrature is 0.3100: the book's figure is 0.6 % low there and exact near Pe
    # 50.
    conductivity, kappa, radius = 46.0, 12.739e-6, 1e-3
    power = 1e7 * np.pi * radius**2
    for peclet, tolerance in ((50.0, 2e-3), (1e5, 8e-3)):
        speed = 2 * peclet * kappa / radius
        book = 0.308 * power / (conductivity * radius) * np.sqrt(kappa / (speed * radius))
        assert disc_rise(1e7, radius, speed, conductivity, kappa, "mean") == pytest.approx(
            book, rel=tolerance
        )


def test_stationary_sources():
    # Carslaw and Jaeger (1959) ch. 8; in Q / (a k): uniform 1/pi, mean 8/(3 pi^2); Hertz flux 3/8;
    # isothermal 1/4.
    power, radius, conductivity = 10.0, 1e-3, 46.0
    unit = power / (radius * conductivity)
    assert uniform_disc_maximum(power, radius, conductivity) == pytest.approx(unit / np.pi, rel=1e-12, abs=0)
    flux = power / (np.pi * radius**2)
    assert uniform_disc_mean(power, radius, conductivity) == pytest.approx(
        0.8488264 * flux * radius / conductivity, rel=1e-7
    )
    assert hertzian_disc_rise(power, radius, conductivity, 0.0) == pytest.approx(
        0.375 * unit, rel=1e-12, abs=0
    )
    assert isothermal_disc_rise(power, radius, conductivity) == pytest.approx(0.25 * unit, rel=1e-12, abs=0)


def test_the_hertzian_flux_averages_to_nine_thirty_seconds():
    r = (np.arange(20000) + 0.5) / 20000
    mean = np.sum(hertzian_disc_rise(1.0, 1.0, 1.0, r) * 2 * r) / 20000
    assert mean == pytest.approx(9 / 32, rel=1e-8, abs=0)


def test_the_hertzian_flux_by_quadrature_of_point_sources():
    # theta(r) = q0 / (2 pi k) times the integral of sqrt(1 - s^2) / R over the disc, R the distance; at r =
    # 0.6 a.
    place = 0.6

    def along(angle):
        cos, sin = mpmath.cos(angle), mpmath.sin(angle)
        reach = -place * cos + mpmath.sqrt(1 - (place * sin) ** 2)
        return mpmath.quad(
            lambda rr: mpmath.sqrt(abs(1 - place**2 - rr**2 - 2 * rr * place * cos)), [0, reach]
        )

    with mpmath.workdps(15):
        integral = 2 * mpmath.quad(along, [0, mpmath.pi / 2, mpmath.pi])
    q0 = 3 / (2 * np.pi)
    assert hertzian_disc_rise(1.0, 1.0, 1.0, place) == pytest.approx(
        float(integral) * q0 / (2 * np.pi), rel=1e-6
    )


def test_the_half_space_in_time():
    # Source: Carslaw and Jaeger, Conduction of Heat in Solids (page from memory), 2 q sqrt(t / (pi k rho c)):
    # q 1 MW/m^2, 1 s, k 50, rho c 3.6e6; then steel at three depths. Independent arithmetic.
    assert half_space_rise(1e6, 1.0, 0.0, 50.0, 3600.0, 1000.0) == pytest.approx(84.104417, rel=1e-7, abs=0)
    np.testing.assert_allclose(
        half_space_rise(1e6, 1.0, [0.0, 1e-3, 5e-3], *STEEL), [87.551260, 67.524725, 18.614614], rtol=1e-7
    )


def test_the_disc_in_time():
    # Source: Carslaw and Jaeger, Conduction of Heat in Solids (page from memory), centre of a uniform disc:
    # 2 q sqrt(kappa t) / k (1 / sqrt(pi) - ierfc(a / (2 sqrt(kappa t)))). Independent arithmetic.
    assert disc_centre_rise(1e6, 0.5e-3, 0.01, *STEEL) == pytest.approx(6.8936647, rel=1e-7, abs=0)
    # Its end is q a / k, which it nears as 1 / sqrt(t): hence the long time.
    assert disc_centre_rise(1e6, 0.5e-3, 1e12, *STEEL) == pytest.approx(10.869565, rel=1e-7, abs=0)


def test_the_temperature_of_a_contact_against_a_hand_calculation():
    # 52.8 W over a circle of 1.478 mm, steel on steel (k 46, kappa 12.739e-6), ring at 1.466 m/s. Pin: q a
    # / k with q = P / (pi a^2), 247.20 K. Ring: Pe 85.04, by the fit 2 / sqrt(pi (1.273 + Pe)) of Tian and
    # Kennedy, 1994 (from memory). Hand calculation.
    flash = contact_flash(52.8, 1.478e-3, 0.0, 46.0, 12.739e-6, 1.466, 46.0, 12.739e-6, "tian-kennedy")
    pin = 52.8 / (np.pi * 1.478e-3 * 46.0) * 2 / np.sqrt(np.pi * 1.273)
    ring = pin * np.sqrt(1.273 / (1.273 + 1.466 * 1.478e-3 / (2 * 12.739e-6)))
    assert flash.maximum == pytest.approx(pin * ring / (pin + ring), rel=1e-12, abs=0)
    assert flash.share_1 == pytest.approx(ring / (pin + ring), rel=1e-12, abs=0)
