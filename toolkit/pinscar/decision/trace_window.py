"""The readings of a trace in a span of its run."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def readings_between(
    trace: pd.DataFrame, column: str, start: float, end: float
) -> tuple[FloatArray, FloatArray]:
    """Take the readings of one column that lie in a span of time, both ends included.

    Parameters
    ----------
    trace : DataFrame
        Trace of a run: ``time`` [s] and the column, SI units; NaN where a reading is missing.
    column : str
        Name of the column.
    start, end : float
        Ends of the span, from the run's start [s].

    Returns
    -------
    tuple of ndarray
        Times [s] and readings [SI]; missing readings are left out.
    """
    inside = trace[trace[column].notna() & (trace["time"] >= start) & (trace["time"] <= end)]
    return inside["time"].to_numpy(dtype=float), inside[column].to_numpy(dtype=float)
