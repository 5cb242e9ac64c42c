"""Flash temperature and moving heat sources against values computed independently of pinscar."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.contact.heat import (
    contact_flash,
    disc_hottest_position,
    disc_maximum,
    disc_mean,
    disc_rise,
    tian_kennedy_maximum,
    tian_kennedy_mean,
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


def test_the_moving_disc():
    """Maximum and mean under a moving disc agree with independent quadrature at nine Peclet numbers."""
    peclet, maximum, mean, fit = DISC.T
    np.testing.assert_allclose(disc_maximum(peclet), maximum, rtol=1e-4)
    np.testing.assert_allclose(disc_mean(peclet), mean, rtol=1e-4)
    np.testing.assert_allclose(tian_kennedy_maximum(peclet), fit, atol=6e-6)


def test_the_published_fits_are_as_near_as_their_docstrings_say():
    peclet = np.concatenate([[0.0], np.logspace(-3, 5, 400)])
    assert np.max(np.abs(tian_kennedy_maximum(peclet) / disc_maximum(peclet) - 1)) < 0.024
    assert np.max(np.abs(tian_kennedy_mean(peclet) / disc_mean(peclet) - 1)) < 0.04


def test_the_moving_disc_by_a_plane_sum_of_point_sources():
    # Second route: rings about each field point of the centreline, in plain double quadrature at Pe = 2.
    peclet = 2.0
    angle = (np.arange(4000) + 0.5) * 2 * np.pi / 4000
    radius = (np.arange(400) + 0.5)[:, None, None] / 400
    places = np.linspace(0.2, 0.8, 25)[:, None]
    reach = places * np.cos(angle) + np.sqrt(1 - (places * np.sin(angle)) ** 2)
    rises = (np.exp(-peclet * radius * reach * (1 - np.cos(angle))) * reach).mean(axis=(0, 2))
    assert disc_maximum(peclet) == pytest.approx(rises.max(), rel=2e-5, abs=0)
    assert disc_hottest_position(peclet) == pytest.approx(places[rises.argmax(), 0], abs=0.0126)  # grid step


def test_the_disc_at_rest_has_the_values_of_the_textbook():
    # Carslaw and Jaeger, Conduction of Heat in Solids, 1959, section 8.2 (page from memory), in q a / k: 1 at
    # the centre of a uniform source and 8 / (3 pi) on average.
    assert disc_rise(1e6, 1e-3, 0.0, 46.0, 12.739e-6) == pytest.approx(1e3 / 46.0, rel=1e-9, abs=0)
    mean = disc_rise(1e6, 1e-3, 0.0, 46.0, 12.739e-6, "mean")
    assert mean == pytest.approx(8 / (3 * np.pi) * 1e3 / 46.0, rel=1e-9, abs=0)


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


def test_the_temperature_of_a_contact_against_a_hand_calculation():
    """Temperature and heat share of a contact agree with a hand calculation."""
    # 52.8 W over a circle of 1.478 mm, steel on steel (k 46, kappa 12.739e-6), ring at 1.466 m/s. Pin: q a
    # / k with q = P / (pi a^2), 247.20 K. Ring: Pe 85.04, by the fit 2 / sqrt(pi (1.273 + Pe)) of Tian and
    # Kennedy, 1994 (from memory). Hand calculation.
    flash = contact_flash(52.8, 1.478e-3, 0.0, 46.0, 12.739e-6, 1.466, 46.0, 12.739e-6, "tian-kennedy")
    pin = 52.8 / (np.pi * 1.478e-3 * 46.0) * 2 / np.sqrt(np.pi * 1.273)
    ring = pin * np.sqrt(1.273 / (1.273 + 1.466 * 1.478e-3 / (2 * 12.739e-6)))
    assert flash.maximum == pytest.approx(pin * ring / (pin + ring), rel=1e-12, abs=0)
    assert flash.share_1 == pytest.approx(ring / (pin + ring), rel=1e-12, abs=0)
