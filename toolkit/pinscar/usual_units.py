"""The units that most tables are written in, as numbers: reading them waits for no registry of all units.

Pint's registry takes longer to build than all the rest of a check. A test holds this table to it; any other
unit is left to pint.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Usual:
    """A unit as numbers: a value in SI is that in the unit times the factor, plus the zero.

    Pint rounds the way back on its own, and the numbers of a report are those that pint gives.

    Attributes
    ----------
    factor : float
        SI units in one of it, as pint rounds it.
    back : float or None
        It in one SI unit, as pint rounds that; None where the way back is left to pint.
    kinds : frozenset of str
        The kinds of quantity that it measures, keys of `pinscar.units.DIMENSIONS`.
    zero : float
        Where its scale begins, in SI; more than 0 for degC and degF only.
    """

    factor: float
    back: float | None
    kinds: frozenset[str]
    zero: float = 0.0


_TEMPERATURES = "temperature", "temperature difference"
_WEAR = "wear coefficient", "inverse pressure"

_TABLE: Mapping[tuple[str, ...], Mapping[str, float]] = {
    ("length",): {"m": 1.0, "cm": 0.01, "mm": 1e-3, "um": 1e-6, "µm": 1e-6, "nm": 1e-9, "in": 0.0254},
    ("area",): {"m^2": 1.0, "mm^2": 1e-6, "mm²": 1e-6},
    ("volume",): {
        "m^3": 1.0,
        "mm^3": 1e-9,
        "mm³": 1e-9,
        "L": 1.0000000000000002e-3,
        "mL": 1.0000000000000002e-6,
        "uL": 1.0000000000000003e-9,
    },
    ("time",): {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0},
    ("mass",): {"kg": 1.0, "g": 1e-3, "mg": 1e-6},
    ("force",): {"N": 1.0, "kN": 1000.0, "kgf": 9.80665},
    ("pressure",): {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9},
    ("power",): {"W": 1.0, "kW": 1000.0},
    ("speed",): {"m/s": 1.0, "mm/s": 1e-3},
    ("rotational speed",): {"rad/s": 1.0, "rpm": 0.10471975511965977},
    ("angle",): {"rad": 1.0, "deg": 0.017453292519943295},
    ("pure number",): {"1": 1.0, "-": 1.0, "%": 0.01},
    ("density",): {"kg/m^3": 1.0},
    ("kinematic viscosity",): {"m^2/s": 1.0, "mm^2/s": 1e-6, "mm²/s": 1e-6},
    ("dynamic viscosity",): {"Pa s": 1.0, "mPa s": 1e-3},
    ("image scale",): {"m/px": 1.0, "um/px": 1e-6},
    ("specific heat capacity",): {"J/(kg K)": 1.0},
    ("thermal conductivity",): {"W/(m K)": 1.0},
    _TEMPERATURES: {"K": 1.0},
    _WEAR: {"m^2/N": 1.0, "mm^3/(N m)": 1e-9, "1/Pa": 1.0, "1/GPa": 1e-9},
}

_BACK: Mapping[str, float] = {"L": 999.9999999999999, "uL": 999999999.9999999, "1/GPa": 1e9}
"""The way back of units whose factor pint makes of parts."""

USUAL: Mapping[str, Usual] = MappingProxyType(
    {
        text: Usual(one, _BACK.get(text, 1.0 / one), frozenset(kinds))
        for kinds, units in _TABLE.items()
        for text, one in units.items()
    }
    | {
        "degC": Usual(1.0, 1.0, frozenset({"temperature"}), 273.15),
        "°C": Usual(1.0, 1.0, frozenset({"temperature"}), 273.15),
        "degF": Usual(0.5555555555555556, None, frozenset({"temperature"}), 255.37222222222223),
    }
)
"""The units by how they are written."""
