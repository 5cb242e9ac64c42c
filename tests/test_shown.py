"""The factors between SI and printed units, held to pint's definitions (SI brochure and CODATA)."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.shown import FACTORS, from_shown, to_shown
from pinscar.units import registry

AS_PINT_READS = {
    "µm": "um",
    "mm²": "mm^2",
    "mm³": "mm^3",
    "1": "dimensionless",
    "°C": "degC",
    "°": "deg",
    "kg/m³": "kg/m^3",
    "µm/px": "um/px",
    "MB": "MB",
    "GB": "GB",
    "mPa s": "mPa*s",
    "mm²/s": "mm^2/s",
    "W/mm²": "W/mm^2",
    "J/mm³": "J/mm^3",
    "kJ/mm³": "kJ/mm^3",
    "mm³/(N m)": "mm^3/(N*m)",
    "10⁻⁶ mm³/(N m)": "1e-6*mm^3/(N*m)",
    "%": "percent",
}
BYTES = ("MB", "GB")


@pytest.mark.parametrize("unit", [unit for unit in FACTORS if unit not in BYTES])
def test_factor_is_pints(unit: str) -> None:
    """Going to a printed unit and to SI agree with pint's own conversion."""
    one = registry()(AS_PINT_READS.get(unit, unit)) if unit != "°C" else registry().Quantity(1.0, "degC")
    si = float(one.to_base_units().magnitude)
    assert to_shown(si, unit) == pytest.approx(1.0, rel=1e-12, abs=1e-12)
    assert from_shown(1.0, unit) == pytest.approx(si, rel=1e-14)


def test_arrays_keep_their_shape() -> None:
    """A column is converted as a whole."""
    assert to_shown(np.array([[273.15], [373.15]]), "°C").tolist() == [[0.0], [100.0]]


def test_unknown_unit_is_refused() -> None:
    """A unit that is not printed anywhere is a mistake of the code."""
    with pytest.raises(KeyError):
        to_shown(1.0, "furlong")
