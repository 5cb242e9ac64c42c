"""How small and how large a number of each kind can be: what lies beyond is a slip and would overflow."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

MAGNITUDES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "length": (1e-10, 100.0),
        "area": (1e-40, 1e3),
        "volume": (1e-60, 1e3),
        "mass": (1e-40, 1e6),
        "force": (1e-9, 1e9),
        "time": (1e-9, 1e9),
        "power": (1e-15, 1e12),
        "pressure": (1e-6, 1e15),
        "temperature": (1e-3, 1e5),
        "rotational speed": (1e-6, 1e6),
    }
)
"""Smallest and largest size of a number that is not zero, by kind of quantity [SI]; wide of any bench."""

OTHERS = (1e-30, 1e30)
"""The same of every other kind: its powers and products still are numbers."""


def beyond(values: ArrayLike, dimension: str) -> NDArray[np.bool_]:
    """Tell which numbers are too small or too large to be of a kind; zero and NaN (not measured) are not."""
    least, most = MAGNITUDES.get(dimension, OTHERS)
    size = np.abs(np.asarray(values, dtype=float))
    return np.asarray((size > most) | ((size > 0.0) & (size < least)))
