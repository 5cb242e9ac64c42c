"""What the viscosity, density and pressure-viscosity functions promise beyond the printed values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.contact.viscosity import (
    density,
    density_api,
    density_linear,
    dynamic_viscosity,
    kinematic_viscosity,
    pressure_viscosity,
    reported_viscosity_index,
    so_klaus,
    viscosity_from_z,
    viscosity_index,
    walther_line,
    walther_line_40_100,
    walther_z,
    wooster,
)

# Stachowiak and Batchelor, Engineering Tribology, Table 2.3: dynamic viscosity [mPa s] at 30, 60, 100 degC,
# and measured pressure-viscosity coefficient [1/GPa] there (0: not given), mineral oils.
MEASURED = np.array(
    [
        [38, 12.1, 5.3, 0, 18.4, 13.4],
        [153, 34, 9.1, 23.7, 20.5, 15.8],
        [250, 50.5, 12.6, 25.0, 21.3, 17.6],
        [810, 135, 26.8, 34, 28, 22],
        [18.6, 6.3, 2.4, 20, 16, 13],
        [45, 12, 3.9, 28, 20, 16],
        [107, 23.3, 6.4, 29.6, 22.8, 17.8],
        [122, 26.3, 7.3, 27.0, 21.6, 17.5],
        [171, 31, 7.5, 28, 23, 18],
        [30.7, 8.6, 3.1, 25.7, 20.3, 15.4],
        [165, 30.0, 6.8, 33.0, 23.8, 16.0],
        [310, 44.2, 9.4, 34.6, 26.3, 19.5],
        [2000, 180, 24, 41.5, 29.4, 25.0],
    ]
)


@given(
    nu40=st.floats(2.5, 5000),
    fall=st.floats(1.5, 40),
    t1=st.floats(-20, 60),
)
def test_the_line_goes_through_its_points(nu40, fall, t1):
    nu100 = max(nu40 / fall, 0.3)
    line = walther_line(t1 + 273.15, nu40 * 1e-6, 393.15, nu100 * 1e-6)
    assert kinematic_viscosity(line, t1 + 273.15) == pytest.approx(nu40 * 1e-6, rel=1e-9, abs=0)
    assert kinematic_viscosity(line, 393.15) == pytest.approx(nu100 * 1e-6, rel=1e-9, abs=0)


@given(st.floats(0.21, 2e7))
def test_z_and_viscosity_are_inverse(nu):
    assert viscosity_from_z(walther_z(nu * 1e-6)) == pytest.approx(nu * 1e-6, rel=1e-11, abs=0)


def test_there_is_no_step_at_2_square_millimetres():
    below, above = walther_z(np.nextafter(2e-6, 0)), walther_z(np.nextafter(2e-6, 1))
    assert above - below == pytest.approx(0, abs=1e-12)


def test_viscosity_outside_the_range_of_the_equation_is_missing_not_invented():
    assert np.isnan(kinematic_viscosity(walther_line_40_100(10e-6, 2.5e-6), 1000.0))
    assert np.isnan(kinematic_viscosity(walther_line_40_100(320e-6, 24e-6), 150.0))
    assert np.isnan(kinematic_viscosity(walther_line_40_100(320e-6, 24e-6), 5.0))


def test_missing_viscosities_stay_missing():
    found = kinematic_viscosity(walther_line_40_100([68e-6, np.nan], [9.1e-6, 9.1e-6]), 353.15)
    assert np.isnan(found).tolist() == [False, True]


@pytest.mark.parametrize(
    ("points", "part"),
    [
        ((313.15, 68e-6, 313.15, 9.1e-6), "must differ"),
        ((313.15, 9.1e-6, 373.15, 68e-6), "must fall"),
        ((313.15, 68e-6, 373.15, 0.1e-6), "must lie between"),
        ((-1.0, 68e-6, 373.15, 9.1e-6), "temperature_1"),
    ],
)
def test_points_that_make_no_line_are_refused(points, part):
    with pytest.raises(ValueError, match=part):
        walther_line(*points)


def test_the_index_is_refused_under_2_square_millimetres():
    with pytest.raises(ValueError, match="at least 2 mm"):
        viscosity_index(6e-6, 1.99e-6)
    assert np.isfinite(viscosity_index(7e-6, 2e-6))


@given(kv100=st.floats(2.0, 100.0), fraction=st.floats(0.5, 1.5))
def test_the_index_falls_when_the_oil_is_thicker_in_the_cold(kv100, fraction):
    from pinscar.contact.viscosity import reference_viscosities

    _, high = reference_viscosities(kv100 * 1e-6)
    thin, thick = viscosity_index([fraction * high, fraction * high * 1.01], kv100 * 1e-6)
    assert thin > thick
    assert (viscosity_index(high, kv100 * 1e-6)) == pytest.approx(100, abs=1e-9)


def test_ties_round_to_the_even_number():
    assert reported_viscosity_index([88.5, 89.5, -0.5, np.nan])[:3].tolist() == [88.0, 90.0, 0.0]


def test_density_ranges_are_kept():
    with pytest.raises(ValueError, match="density_15"):
        density_api(700.0, 313.15)
    with pytest.raises(ValueError, match="temperature"):
        density_api(872.0, 500.0)
    with pytest.raises(ValueError, match="relation"):
        density(872.0, 313.15, "guess")


def test_the_two_densities_agree_near_their_common_point():
    assert density_api(872.0, 288.15) == 872.0
    assert density_linear(872.0, 288.15, 0.65) == 872.0
    assert density(872.0, 323.15, "linear").density == pytest.approx(
        density(872.0, 323.15).density, rel=3e-3, abs=0
    )


def test_the_chooser_names_what_it_used_and_gives_the_same_number():
    by_default = pressure_viscosity(68e-6, 856.0, 3.519)
    assert by_default.coefficient == wooster(dynamic_viscosity(68e-6, 856.0))
    other = pressure_viscosity(68e-6, 856.0, 3.519, "so-klaus")
    assert other.coefficient == so_klaus(68e-6, 856.0, 3.519)
    assert by_default.correlation != other.correlation
    with pytest.raises(ValueError, match="correlation"):
        pressure_viscosity(68e-6, 856.0, 3.519, "none")


def test_the_correlations_against_measured_oils_as_accurate_as_their_docstrings_say():
    eta, alpha = MEASURED[:, :3], MEASURED[:, 3:]
    seen = alpha > 0
    wooster_ratio = np.log(wooster(eta * 1e-3)[seen] * 1e9 / alpha[seen])
    # The book's values have two digits.
    assert np.exp(wooster_ratio.mean()) == pytest.approx(0.88, abs=0.02)
    assert wooster_ratio.std() < 0.13
    # The source gives no density: 880 kg/m^3 at 15 degC is taken for all.
    rho = density_api(880.0, [303.15, 333.15, 373.15])
    nu = eta * 1e-3 / rho
    slope = walther_line(303.15, nu[:, 0], 373.15, nu[:, 2]).slope
    klaus_ratio = np.log(so_klaus(nu, rho, slope[:, None])[seen] * 1e9 / alpha[seen])
    # The book's values have two digits.
    assert np.exp(klaus_ratio.mean()) == pytest.approx(1.10, abs=0.02)
    assert klaus_ratio.std() < 0.13


def test_thin_fluids_get_no_coefficient():
    assert np.isnan(wooster(0.5e-3))
    assert np.isnan(so_klaus(0.5e-6, 800.0, 4.0))
