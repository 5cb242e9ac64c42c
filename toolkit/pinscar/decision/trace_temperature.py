"""Temperatures of runs from their traces, where nobody typed them."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pinscar.evidence.warming import Warming, read_warming


def add_trace_temperatures(runs: pd.DataFrame, traces: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Fill in blank peak and ambient temperatures from the traces of the temperature.

    The peak is the highest reading within the run; where the ambient temperature is blank, the temperature
    that the trace starts from takes its place, since the rise counts from there (`read_warming`). What was
    typed stays.

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
        blank = pd.isna(peak) or pd.isna(start)
        read = warming_of(traces.get(run["run_id"]), run["duration"]) if blank else None
        filled.append(read is not None)
        if read is not None:
            peak, start = read.peak if pd.isna(peak) else peak, read.start if pd.isna(start) else start
        peaks.append(peak)
        starts.append(start)
    return runs.assign(
        peak_temperature=pd.Series(peaks, index=runs.index, dtype=float),
        ambient_temperature=pd.Series(starts, index=runs.index, dtype=float),
        temperature_from_trace=filled,
    )


def warming_of(trace: pd.DataFrame | None, duration: float) -> Warming | None:
    """Read how warm a run became off its trace.

    Parameters
    ----------
    trace : DataFrame or None
        ``time`` [s] and ``temperature`` [K]; None where the run has none.
    duration : float
        Length of the run [s].

    Returns
    -------
    Warming or None
        None without two temperatures within the run.
    """
    if trace is None:
        return None
    there = trace[trace["temperature"].notna()]
    if there["time"].between(0.0, duration).sum() < 2:
        return None
    return read_warming(
        there["time"].to_numpy(dtype=float), there["temperature"].to_numpy(dtype=float), duration
    )
