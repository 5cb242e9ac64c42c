"""Film thickness by Hamrock and Dowson (1977) against independently computed values."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.contact.film import (
    central_film_parameter,
    composite_roughness,
    entrainment_speed,
    film_ellipticity,
    hamrock_dowson,
    lambda_ratio,
    minimum_film_parameter,
)

STEEL = 210e9 / (2 * (1 - 0.3**2))
"""Reduced modulus of steel on steel [Pa]."""


def test_dimensionless_films():
    """Minimum and central film parameters agree with independent arithmetic."""
    # U 0.1683e-11, G 4522, W 0.1106e-6; formulas of the 1977 paper, arithmetic done independently.
    assert minimum_film_parameter(0.1683e-11, 4522, 0.1106e-6, 6) == pytest.approx(
        7.000935e-6, rel=1e-6, abs=0
    )
    assert central_film_parameter(0.1683e-11, 4522, 0.1106e-6, 6) == pytest.approx(
        8.735571e-6, rel=1e-6, abs=0
    )
    assert minimum_film_parameter(0.1683e-11, 4522, 0.1106e-6, 1) == pytest.approx(
        3.513548e-6, rel=1e-6, abs=0
    )
    assert central_film_parameter(0.1683e-11, 4522, 0.1106e-6, 1) == pytest.approx(
        6.215110e-6, rel=1e-6, abs=0
    )


def test_ellipticity():
    """The fitted ellipticity agrees with independent arithmetic."""
    # Source: Hamrock and Dowson, 1977: k = 1.03 (Ry/Rx)^0.64; independent arithmetic.
    found = film_ellipticity([1.0, 6.0, 20.0], [1.0, 20.0, 6.0])
    np.testing.assert_allclose(found, [1.03, 2.225767, 0.476645], rtol=1e-6)


def test_two_steel_balls():
    """Two steel balls agree with independent arithmetic, parameter by parameter."""
    # Balls of 10 and 15 mm radius (Stachowiak and Batchelor, first example of the chapter on EHL, inputs),
    # 0.1 Pa s, 20 per GPa, 0.75 m/s, 5 N. The films: formulas of Hamrock and Dowson, 1977 (the central one
    # from memory), independent arithmetic.
    film = hamrock_dowson(5.0, 0.75, 0.1, 20e-9, STEEL, 6e-3, 6e-3)
    assert film.speed == pytest.approx(5.416667e-11, rel=1e-6, abs=0)
    assert film.materials == pytest.approx(4615.385, rel=1e-6, abs=0)
    assert film.load == pytest.approx(6.018519e-7, rel=1e-6, abs=0)
    assert film.minimum * 1e6 == pytest.approx(0.2035411, rel=1e-6, abs=0)
    assert film.central * 1e6 == pytest.approx(0.3475637, rel=1e-6, abs=0)
    assert bool(film.within_fit)


def test_ball_rolling_down_a_plate_and_the_books_other_convention():
    """A rolling ball agrees with the book once its other definition of the modulus is allowed for."""
    # A textbook problem, quoted from memory (ball 30 mm, 45 degrees, 50 mPa s, 22 per GPa, 7800 kg/m^3),
    # prints 0.059 and 0.281 um after 1 cm and 1 m. It puts 1/(1/Rx + 1/Ry) in the place of Rx and half the
    # speed of the ball's centre in the place of u. With Rx and u as Hamrock and Dowson define them the films
    # are 0.1297 and 0.6206 um.
    path = np.array([0.01, 1.0])
    speed = np.sqrt(10 / 7 * 9.81 * np.sin(np.pi / 4) * path)
    load = 7800 * 4 / 3 * np.pi * 0.015**3 * 9.81 * np.cos(np.pi / 4)
    film = hamrock_dowson(load, entrainment_speed(speed, speed), 0.05, 22e-9, STEEL, 0.015, 0.015)
    np.testing.assert_allclose(film.minimum * 1e6, [0.1297, 0.6206], rtol=1e-3)
    books = hamrock_dowson(load, speed / 2, 0.05, 22e-9, STEEL, 0.0075, 0.0075)
    np.testing.assert_allclose(books.minimum * 1e6, [0.059, 0.281], atol=6e-4)


def test_pin_on_ring_lies_outside_the_fit_and_says_so():
    # Pin 6 mm, ring 20 mm whose surface moves along the pin: Rx = 20 mm, Ry = 6 mm. Source: formulas of
    # Hamrock and Dowson, 1977 (the central one from memory), independent arithmetic.
    film = hamrock_dowson(450.0, 1.466077 / 2, 0.08, 20e-9, STEEL, 20e-3, 6e-3)
    assert film.ellipticity == pytest.approx(0.47664, abs=5e-6)
    assert film.minimum * 1e6 == pytest.approx(0.1194329, rel=1e-6, abs=0)
    assert film.central * 1e6 == pytest.approx(0.3045885, rel=1e-6, abs=0)
    assert not bool(film.within_fit)
    assert lambda_ratio(film.minimum, 0.2e-6, 0.2e-6) == pytest.approx(0.42226, abs=5e-6)
    swapped = hamrock_dowson(450.0, 1.466077 / 2, 0.08, 20e-9, STEEL, 6e-3, 20e-3)
    assert swapped.ellipticity == pytest.approx(2.2258, abs=5e-5)
    assert swapped.minimum * 1e6 == pytest.approx(0.1919823, rel=1e-6, abs=0)
    assert swapped.central * 1e6 == pytest.approx(0.2692789, rel=1e-6, abs=0)
    assert bool(swapped.within_fit)


def test_composite_roughness_of_a_3_4_5_triangle():
    """Roughnesses of 3 and 4 make 5."""
    assert composite_roughness(3e-7, 4e-7) == pytest.approx(5e-7, rel=1e-12, abs=0)
