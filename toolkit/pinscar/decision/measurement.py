"""Measurement uncertainty of each run, kept apart from the spread between runs."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import Rig
from pinscar.contact.geometry import Geometry
from pinscar.stats import uncertainty


def relative_uncertainty(
    runs: pd.DataFrame, rig: Rig, geometry: Geometry, response: str
) -> NDArray[np.float64] | None:
    """Give the relative standard uncertainty of one measurement of a response, for each run.

    Parameters
    ----------
    runs : DataFrame
        Evaluated runs.
    rig : Rig
        States the uncertainty of load and reading.
    geometry : Geometry
        Relates width, volume and length.
    response : str
        ``scar_area``, ``scar_pressure``, ``film_pressure``, ``wear_volume`` or ``wear_coefficient``.

    Returns
    -------
    ndarray or None
        Relative standard uncertainty [1], shape (n,); None where the rig doesn't state what it needs, or the
        response isn't computed from a scar.
    """
    reading, load = rig.reading_uncertainty, rig.load_uncertainty
    if reading is None:
        return None
    length, width = runs["scar_length"].to_numpy(dtype=float), runs["scar_width_used"].to_numpy(dtype=float)
    implied = runs["width_is_implied"].to_numpy(dtype=bool)
    if response == "scar_area":
        return uncertainty.relative_area_uncertainty(length, width, reading, geometry.implied_width, implied)
    if response == "wear_volume":
        return uncertainty.relative_volume_uncertainty(length, reading, geometry.wear_volume)
    if load is None:
        return None
    if response in ("scar_pressure", "film_pressure"):
        return uncertainty.relative_pressure_uncertainty(
            length, width, load, reading, geometry.implied_width, implied
        )
    if response == "wear_coefficient":
        return uncertainty.relative_wear_coefficient_uncertainty(length, load, reading, geometry.wear_volume)
    return None
