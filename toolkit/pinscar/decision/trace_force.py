"""The friction force of each trace with its zero taken off, and the energy that friction took."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from pinscar.campaign.traces import UNLOADED
from pinscar.contact.friction_energy import FrictionEnergy, friction_energy
from pinscar.decision.trace_window import readings_between
from pinscar.evidence.force_zero import ForceZero, find_zero, zero_at
from pinscar.evidence.readings import longest_step


def with_zero_taken_off(trace: pd.DataFrame, duration: float) -> tuple[pd.DataFrame, ForceZero]:
    """Take the zero off the friction force, as far as readings of the unloaded pin tell it.

    Parameters
    ----------
    trace : DataFrame
        ``time`` [s] and ``friction_force`` [N].
    duration : float
        Length of the run [s].

    Returns
    -------
    tuple of DataFrame and ForceZero
        The trace, its force corrected (unchanged where no zero is known), and the zero.
    """
    zero = find_zero(trace["time"], trace["friction_force"], duration, UNLOADED)
    if not zero.checked:
        return trace, zero
    return trace.assign(friction_force=trace["friction_force"] - zero_at(zero, trace["time"])), zero


def corrected_traces(runs: pd.DataFrame, traces: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Take the zero off the friction force of every trace.

    Parameters
    ----------
    runs : DataFrame
        ``run_id`` and ``duration`` [s].
    traces : mapping of str to DataFrame
        The traces by run_id.

    Returns
    -------
    dict of str to DataFrame
        The traces of these runs.
    """
    return {
        run["run_id"]: with_zero_taken_off(traces[run["run_id"]], run["duration"])[0]
        for run in runs.to_dict("records")
        if run["run_id"] in traces
    }


def energy_of(trace: pd.DataFrame, zero: ForceZero, run: Mapping[Any, Any]) -> FrictionEnergy | None:
    """Integrate the friction energy of a run.

    Parameters
    ----------
    trace : DataFrame
        Trace with its zero taken off.
    zero : ForceZero
        That zero.
    run : mapping
        ``duration`` [s] and ``sliding_speed`` [m/s].

    Returns
    -------
    FrictionEnergy or None
        None without two readings of the force that are no gap apart.
    """
    times, force = readings_between(trace, "friction_force", 0.0, run["duration"])
    longest = longest_step(times, 0.0, run["duration"])
    if not np.any(np.diff(times) <= longest):
        return None
    known = zero.uncertainty if zero.checked else 0.0
    return friction_energy(times, force, run["sliding_speed"], 0.0, run["duration"], longest, known)
