"""What the film functions promise beyond the computed values: scaling, flags, words, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.contact.film import (
    entrainment_speed,
    film_ellipticity,
    hamrock_dowson,
    lambda_ratio,
    lubrication_regime,
)

BASE = {
    "load": 450.0,
    "entrainment_speed": 0.7,
    "dynamic_viscosity": 0.08,
    "pressure_viscosity": 20e-9,
    "reduced_modulus": 115e9,
    "radius_along": 0.020,
    "radius_across": 0.006,
}


@given(st.floats(0.1, 10.0))
def test_the_powers_of_each_quantity(factor):
    """Film thickness goes with each quantity by the power that the source prints."""
    base = hamrock_dowson(**BASE)
    for name, power in (("entrainment_speed", 0.68), ("dynamic_viscosity", 0.68), ("load", -0.073)):
        changed = hamrock_dowson(**{**BASE, name: BASE[name] * factor})
        assert changed.minimum / base.minimum == pytest.approx(factor**power, rel=1e-12, abs=0)
    changed = hamrock_dowson(**{**BASE, "pressure_viscosity": BASE["pressure_viscosity"] * factor})
    assert changed.central / base.central == pytest.approx(factor**0.53, rel=1e-12, abs=0)


def test_the_film_is_a_length_in_any_unit_of_length():
    # Everything in millimetres (N, s, mm): the film must come out 1000 times larger.
    in_mm = hamrock_dowson(450.0, 700.0, 0.08e-6, 20e-3, 115e3, 20.0, 6.0)
    assert in_mm.minimum == pytest.approx(hamrock_dowson(**BASE).minimum * 1e3, rel=1e-12, abs=0)


def test_a_long_ellipse_reaches_the_limit_without_side_leakage():
    film = hamrock_dowson(**{**BASE, "radius_across": 1e3})
    limit = 3.63 * film.speed**0.68 * film.materials**0.49 * film.load**-0.073 * BASE["radius_along"]
    assert film.minimum == pytest.approx(limit, rel=1e-12, abs=0)
    assert not bool(film.within_fit)


def test_arrays_of_runs_give_arrays_and_missing_stays_missing():
    film = hamrock_dowson(**{**BASE, "dynamic_viscosity": np.array([0.05, np.nan, 0.1])})
    assert film.minimum.shape == (3,)
    assert np.isnan(film.minimum).tolist() == [False, True, False]
    assert lubrication_regime(lambda_ratio(film.minimum, 2e-7, 2e-7)).tolist() == [
        "boundary",
        "not computed",
        "boundary",
    ]


def test_a_standing_contact_has_no_film():
    assert hamrock_dowson(**{**BASE, "entrainment_speed": 0.0}).minimum == 0.0
    assert entrainment_speed(1.0, -1.0) == 0.0


@pytest.mark.parametrize("name", ["load", "reduced_modulus", "radius_along", "radius_across"])
def test_impossible_inputs_are_refused_by_name(name):
    with pytest.raises(ValueError, match=name):
        hamrock_dowson(**{**BASE, name: 0.0})


def test_regime_limits_belong_to_the_upper_regime():
    found = lubrication_regime([0.0, np.nextafter(1, 0), 1.0, np.nextafter(3, 0), 3.0, 1e6])
    assert found.tolist() == ["boundary", "boundary", "mixed", "mixed", "full film", "full film"]
    with pytest.raises(ValueError, match="lambda_ratio"):
        lubrication_regime(-0.1)


def test_one_lambda_gives_one_word():
    assert lubrication_regime(0.4).item() == "boundary"


def test_perfectly_smooth_surfaces_have_no_lambda():
    with pytest.raises(ValueError, match="composite roughness"):
        lambda_ratio(1e-7, 0.0, 0.0)


def test_equal_radii_are_not_quite_a_circle_in_the_fit():
    # The published fit gives 1.03, not 1, for equal radii: that is the source's number.
    assert film_ellipticity(1.0, 1.0) == 1.03
