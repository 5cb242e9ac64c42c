"""Temperatures of runs from their traces, where nobody typed them."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pinscar.contact.heat import temperature_from_trace
from pinscar.decision.trace_window import readings_between


def add_trace_temperatures(runs: pd.DataFrame, traces: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Fill in blank peak and ambient temperatures from the traces of the temperature.

    The peak is the highest reading within the run; where the ambient temperature is blank, the mean of the
    trace's opening second takes its place, since the rise counts from there. What was typed stays.

    Parameters
    ----------
    runs : DataFrame
        Runs with ``peak_temperature`` and ``ambient_temperature`` [K], NaN where blank.
    traces : mapping of str to DataFrame
        ``time`` [s] and ``temperature`` [K] by run_id.

    Returns
    -------
    DataFrame
        The runs with the two columns filled, and ``temperature_from_trace`` (true where either was).
    """
    peaks, starts, filled = [], [], []
    for run in runs.to_dict("records"):
        peak, start = run["peak_temperature"], run["ambient_temperature"]
        trace = traces.get(run["run_id"])
        blank = pd.isna(peak) or pd.isna(start)
        times, readings = (
            readings_between(trace, "temperature", 0.0, run["duration"])
            if trace is not None and blank
            else ((), ())
        )
        filled.append(len(times) > 1)
        if filled[-1]:
            read = temperature_from_trace(times, readings)
            peak, start = read.peak if pd.isna(peak) else peak, read.start if pd.isna(start) else start
        peaks.append(peak)
        starts.append(start)
    return runs.assign(
        peak_temperature=pd.Series(peaks, index=runs.index, dtype=float),
        ambient_temperature=pd.Series(starts, index=runs.index, dtype=float),
        temperature_from_trace=filled,
    )
