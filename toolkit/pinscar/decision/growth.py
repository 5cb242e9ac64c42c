"""How the scars grew: the wear-arrest model through each oil's quiet times and final scars."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.contact.arrest_exact import worn_depth_exact
from pinscar.contact.crossed_cylinders import CrossedCylinders
from pinscar.contact.geometry import Geometry
from pinscar.contact.quiet_time import film_from_quiet_time
from pinscar.decision.grouping import by_cell

POINTS = 120


@dataclass(frozen=True, slots=True)
class Growth:
    """Scar length against time for one oil and load.

    Parameters
    ----------
    lubricant : str
        Lubricant id.
    load_level : float
        Load level [N].
    n : int
        Runs with a quiet time that the curve rests on.
    wear_coefficient, film_pressure : float
        Medians over those runs [m^2/N], [Pa].
    time, length : ndarray
        The curve [s], [m].
    quiet_time, quiet_length : float
        Median quiet time [s], and the length that the curve has reached by then [m].
    end_time, end_length : ndarray
        End of each run [s] and its measured scar length [m], runs without quiet time too.
    """

    lubricant: str
    load_level: float
    n: int
    wear_coefficient: float
    film_pressure: float
    time: NDArray[np.float64]
    length: NDArray[np.float64]
    quiet_time: float
    quiet_length: float
    end_time: NDArray[np.float64]
    end_length: NDArray[np.float64]


def scar_growth_curves(runs: pd.DataFrame, geometry: Geometry) -> tuple[Growth, ...]:
    """Fit the wear-arrest model to each run with a quiet time and draw each oil's median curve.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    geometry : Geometry
        The contact; the model holds for crossed cylinders.

    Returns
    -------
    tuple of Growth
        By load, then lubricant; empty for other geometries, oils without any quiet time left out.
    """
    if not isinstance(geometry, CrossedCylinders):
        return ()
    stepped = np.array(["load-steps" in flags for flags in runs["flags"]], dtype=bool)
    usable = runs[~stepped & runs["scar_length"].notna().to_numpy()]
    return tuple(
        _growth(level, lubricant, group, geometry)
        for level, lubricant, group in by_cell(usable)
        if group["quiet_time"].notna().any()
    )


def _growth(level: float, lubricant: str, group: pd.DataFrame, pair: CrossedCylinders) -> Growth:
    heard = group[group["quiet_time"].notna()]
    length, quiet, duration, load, pace = (
        heard[name].to_numpy(dtype=float)
        for name in ("scar_length", "quiet_time", "duration", "load", "sliding_speed")
    )
    fits = film_from_quiet_time(length, quiet, duration, load, pace, pair)
    wear, film = (float(np.median(values)) for values in fits)
    speed, stop = float(group["sliding_speed"].median()), float(np.median(quiet))
    # Length grows with the fourth root of time at first, so the points stand closest there.
    time = float(group["duration"].max()) * np.linspace(0.0, 1.0, POINTS) ** 3

    def length_at(at: NDArray[np.float64]) -> NDArray[np.float64]:
        return pair.scar_length(worn_depth_exact(at, [0.0], [level], speed, wear, film, pair))

    return Growth(
        lubricant,
        level,
        len(heard),
        wear,
        film,
        time,
        length_at(time),
        stop,
        float(length_at(np.array([stop]))[0]),
        group["duration"].to_numpy(dtype=float),
        group["scar_length"].to_numpy(dtype=float),
    )
