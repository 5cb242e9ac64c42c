"""From SI to the units that are printed, and back: the one place with powers of ten for showing numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

T = TypeVar("T", float, "NDArray[np.float64]", "pd.Series[float]")

FACTORS: Mapping[str, float] = MappingProxyType(
    {
        **{"N": 1.0, "m": 1.0, "s": 1.0, "K": 1.0, "m/s": 1.0, "kg/m³": 1.0, "1": 1.0, "°C": 1.0},
        **{"mm": 1e3, "µm": 1e6, "mm²": 1e6, "mm³": 1e9, "mL": 1e6, "µm/px": 1e6, "MB": 1e-6, "GB": 1e-9},
        **{"MPa": 1e-6, "GPa": 1e-9, "1/GPa": 1e9, "mPa s": 1e3, "mm²/s": 1e6, "mg": 1e6, "kJ": 1e-3},
        **{"W/mm²": 1e-6, "J/mm³": 1e-9, "kJ/mm³": 1e-12, "mm³/(N m)": 1e9, "10⁻⁶ mm³/(N m)": 1e15, "%": 1e2},
        **{"rpm": 60.0 / math.tau, "°": math.degrees(1.0)},
    }
)
"""How many of each printed unit are one of the SI unit."""
ZERO_CELSIUS = 273.15
"""Zero of the Celsius scale [K] (SI brochure, 9th edition, section 2.3.1)."""


def to_shown(value: T, unit: str) -> T:
    """Turn SI into a unit that is printed.

    Examples
    --------
    >>> [round(to_shown(*one), 2) for one in ((0.00334, "mm"), (319.15, "°C"), (73.3038, "rpm"))]
    [3.34, 46.0, 700.0]
    """
    return (value - ZERO_CELSIUS if unit == "°C" else value) * FACTORS[unit]


def from_shown(value: T, unit: str) -> T:
    """Turn a number in a printed unit into SI.

    Examples
    --------
    >>> round(from_shown(46.0, "°C"), 2), round(from_shown(3.34, "mm"), 6)
    (319.15, 0.00334)
    """
    si = value / FACTORS[unit]
    return si + ZERO_CELSIUS if unit == "°C" else si
