"""Units as people write them come out in SI; what could be misread is refused with what to write."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

import pinscar.units as units_module
from pinscar.units import (
    DIMENSIONS,
    EXAMPLES,
    Q_,
    USUAL,
    UnitError,
    check_dimension,
    is_offset_unit,
    parse_quantity,
    parse_unit,
    registry,
    same_dimension,
    split_quantity,
    to_si,
    to_unit,
)

# Exact by definition: inch and pound (international yard and pound agreement, 1959), kilogram-force
# (3rd CGPM, 1901), Celsius scale (SI brochure, 2.3.1); the others are SI prefixes or 2 pi.
EXACT = [
    ("in", "length", 0.0254),
    ("inch", "length", 0.0254),
    ("thou", "length", 2.54e-5),
    ("µm", "length", 1e-6),  # micro sign, U+00B5
    ("μm", "length", 1e-6),  # Greek mu, U+03BC
    ("um", "length", 1e-6),
    ("mm", "length", 1e-3),
    ("kgf", "force", 9.80665),
    ("kp", "force", 9.80665),
    ("lbf", "force", 0.45359237 * 9.80665),
    ("N", "force", 1.0),
    ("min", "time", 60.0),
    ("h", "time", 3600.0),
    ("mL", "volume", 1e-6),
    ("ml", "volume", 1e-6),
    ("mm³", "volume", 1e-9),
    ("mg", "mass", 1e-6),
    ("MPa", "pressure", 1e6),
    ("N/mm^2", "pressure", 1e6),
    ("kgf/mm^2", "pressure", 9.80665e6),
    ("mm^2/s", "kinematic viscosity", 1e-6),
    ("mm²/s", "kinematic viscosity", 1e-6),
    ("cSt", "kinematic viscosity", 1e-6),
    ("um/px", "image scale", 1e-6),
    ("%", "pure number", 0.01),
    ("1", "pure number", 1.0),
    ("-", "pure number", 1.0),
    ("rpm", "rotational speed", math.pi / 30),
    ("rev/min", "rotational speed", math.pi / 30),
    ("revolution/s", "rotational speed", 2 * math.pi),
    ("rad/s", "rotational speed", 1.0),
    ("deg/s", "rotational speed", math.pi / 180),
    ("deg", "angle", math.pi / 180),
    ("°", "angle", math.pi / 180),
    ("K", "temperature difference", 1.0),
    ("mm^3/(N m)", "wear coefficient", 1e-9),
]


@pytest.mark.parametrize(("unit", "dimension", "factor"), EXACT)
def test_a_unit_has_its_exact_factor(unit: str, dimension: str, factor: float) -> None:
    assert float(to_si(3.0, unit, dimension)) == pytest.approx(3.0 * factor, rel=1e-15, abs=0)


@pytest.mark.parametrize(
    ("value", "unit", "kelvin"),
    [(20.0, "degC", 293.15), (20.0, "°C", 293.15), (68.0, "degF", 293.15), (0, "K", 0)],
)
def test_temperatures_have_their_zero(value: float, unit: str, kelvin: float) -> None:
    assert float(to_si(value, unit, "temperature")) == pytest.approx(kelvin, abs=1e-10)


@pytest.mark.parametrize("unit", ["Hz", "1/s", "1/min", "s^-1", "Bq"])
def test_a_bare_frequency_is_no_rotational_speed(unit: str) -> None:
    with pytest.raises(UnitError) as caught:
        check_dimension(unit, "rotational speed")
    assert caught.value.code == "unit-ambiguous"
    assert caught.value.mend == "write rpm or revolution/s"


@pytest.mark.parametrize(
    ("unit", "dimension", "mend"),
    [
        ("kg", "force", "write kgf for a force given by its weight"),
        ("N", "mass", "write kg, g or mg"),
        ("m", "time", "write s or min"),
        ("degC", "temperature difference", "write K for a difference of temperatures"),
        ("C", "temperature", "write degC"),
        ("deg", "pure number", "write 1 or %"),
        ("%", "angle", "write deg or rad"),
        ("mm2", "area", "write mm^2"),
        ("kg/m3", "density", "write kg/m^3"),
        ("Mpa", "pressure", "write MPa"),
        ("Sec", "time", "write s or min"),
        ("celsius degrees", "temperature", "write degC or K"),
        ("delta_degC", "temperature", "write degC or K"),
        ("mm deg", "length", "write mm or um"),
        ("oC", "temperature", "write degC"),
        ("gr", "mass", "write g (gram) or grain"),
        ("furlongs per", "length", "write mm or um"),
    ],
)
def test_a_wrong_unit_is_refused_with_what_to_write(unit: str, dimension: str, mend: str) -> None:
    with pytest.raises(UnitError) as caught:
        check_dimension(unit, dimension)
    assert caught.value.mend == mend


@pytest.mark.parametrize(
    "text", ["", "10 mm", "m^9^9^9^9", "m**99999999", "m^(9^9)", "__import__('os')", "mm;", "a" * 99]
)
def test_what_is_no_unit_is_refused_and_never_computed(text: str) -> None:
    with pytest.raises(UnitError):
        parse_unit(text)


def test_a_logarithmic_unit_is_refused() -> None:
    with pytest.raises(UnitError) as caught:
        parse_unit("dB")
    assert caught.value.code == "unit-logarithmic"


def test_a_rate_of_temperature_is_one_of_differences() -> None:
    assert float(to_si(30.0, "degC/min")) == pytest.approx(0.5, rel=1e-15, abs=0)


@given(st.text(max_size=12))
def test_any_text_is_a_unit_or_a_plain_refusal(text: str) -> None:
    try:
        parse_unit(text)
    except UnitError as failure:
        assert failure.mend


@given(st.floats(-1e6, 1e6), st.sampled_from([(unit, dimension) for unit, dimension, _ in EXACT]))
def test_to_unit_undoes_to_si(value: float, case: tuple[str, str]) -> None:
    assert float(to_unit(to_si(value, *case), case[0])) == pytest.approx(value, rel=1e-14, abs=1e-300)


def test_arrays_keep_their_shape() -> None:
    values = np.arange(6.0).reshape(2, 3)
    np.testing.assert_allclose(to_si(values, "mm"), values * 1e-3, rtol=1e-15)


def test_every_dimension_has_its_si_unit_and_examples_that_fit() -> None:
    assert set(DIMENSIONS) == set(EXAMPLES)
    for dimension, unit in DIMENSIONS.items():
        assert float(to_si(1.0, unit, dimension)) == pytest.approx(1.0, rel=1e-15, abs=0)
        for example in EXAMPLES[dimension].replace(" or ", ", ").split(", "):
            check_dimension(example, dimension)


@pytest.mark.parametrize(
    ("text", "expected"),
    [("12 mm", (12.0, "mm")), ("1%", (1.0, "%")), ("0.8", (0.8, "1")), ("-1e-6 m^2/s", (-1e-6, "m^2/s"))],
)
def test_a_quantity_splits(text: str, expected: tuple[float, str]) -> None:
    assert split_quantity(text) == expected


@pytest.mark.parametrize(
    "text", ["12,5 mm", "1,200 N", "1'200 N", "1 200 N", "mm", "", "twelve mm", "nan mm", "inf N"]
)
def test_a_number_that_can_be_misread_is_no_quantity(text: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_quantity(text)
    assert caught.value.code == "quantity-unreadable"


def test_a_quantity_without_unit_says_what_to_add() -> None:
    with pytest.raises(UnitError, match="the number has no unit; write it with mm or um"):
        parse_quantity("12", "length")


def test_offset_units_are_known() -> None:
    assert [is_offset_unit(unit) for unit in ("degC", "degF", "K", "delta_degC", "mm")] == [
        True,
        True,
        False,
        False,
        False,
    ]


def test_the_registry_is_our_own() -> None:
    assert registry() is registry()
    assert registry() is not pint.get_application_registry().get()
    assert not any(isinstance(value, pint.UnitRegistry) for value in vars(units_module).values())


def test_quantities_for_notebooks() -> None:
    assert Q_([1.0, 2.0], "in").to("mm").magnitude.tolist() == pytest.approx([25.4, 50.8], rel=1e-15, abs=0)
    assert Q_(0.3).dimensionless


NUMBERS = np.concatenate(
    [np.random.default_rng(1).lognormal(0.0, 8.0, 500), [0.0, -1.0, 1.0, np.nan, np.inf]]
)


@pytest.mark.parametrize("text", USUAL)
def test_a_usual_unit_is_what_pint_says(text: str) -> None:
    quantity = units_module.registry().Quantity(NUMBERS, parse_unit(text))
    # pint rounds a factor differently from version to version, by a few units of the last place
    np.testing.assert_allclose(to_si(NUMBERS, text), quantity.to_base_units().magnitude, rtol=1e-15)
    np.testing.assert_allclose(to_unit(NUMBERS, text), to_unit(NUMBERS, f" {text}"), rtol=1e-15)
    measured = set()
    for kind in DIMENSIONS:
        try:
            check_dimension(f" {text}", kind)  # written so that it is left to pint
        except UnitError:
            continue
        measured.add(kind)
    assert set(USUAL[text].kinds) == measured
    assert is_offset_unit(text) == is_offset_unit(f" {text}")


@pytest.mark.parametrize("one", ["mm", "degC", "1", "rad", "1/GPa", "%", "N", "um/px"])
@pytest.mark.parametrize("other", ["in", "K", "deg", "mm^3/(N m)", "kg m/s^2", "m"])
def test_the_same_dimension_is_what_pint_says(one: str, other: str) -> None:
    wanted = parse_unit(one).dimensionality == parse_unit(other).dimensionality
    assert same_dimension(one, other) == same_dimension(f" {one}", f" {other}") == wanted


def test_pint_looks_for_no_other_library() -> None:
    code = "import sys, pinscar.units as u; u.registry(); print({'dask', 'babel', 'xarray'} & {*sys.modules})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
