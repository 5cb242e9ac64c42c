"""What the traces of a campaign tell, a run at a time; and the columns of the runs that come from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pinscar.contact.friction_energy import FrictionEnergy
from pinscar.decision.friction import friction_phases
from pinscar.decision.trace_force import energy_of, with_zero_taken_off
from pinscar.decision.trace_temperature import warming_of
from pinscar.decision.trace_window import readings_between
from pinscar.evidence.force_zero import ForceZero
from pinscar.evidence.friction_stop import FrictionStop, friction_stop
from pinscar.evidence.readings import Gap, find_gaps
from pinscar.evidence.warming import Warming


@dataclass(frozen=True, slots=True)
class RunTrace:
    """What the trace of one run tells.

    Parameters
    ----------
    run_id, lubricant : str
        The run.
    load, duration : float
        Load of the last step [N] and length of the run [s].
    ambient : float
        Temperature that was typed as that of the room [K]; NaN where it was not.
    wear_volume : float
        Wear volume of the run [m^3]; NaN where the scar was not measured.
    trace : DataFrame
        ``time`` [s], ``temperature`` [K] and ``friction_force`` [N], its zero taken off.
    zero : ForceZero
        The zero of the force.
    energy : FrictionEnergy or None
        Friction energy; None without readings of the force.
    force_gaps : tuple of tuple of float
        Gaps of the force within the run [s].
    warming : Warming or None
        How warm the run became; None without readings of the temperature.
    """

    run_id: str
    lubricant: str
    load: float
    duration: float
    ambient: float
    wear_volume: float
    trace: pd.DataFrame
    zero: ForceZero
    energy: FrictionEnergy | None
    force_gaps: tuple[Gap, ...]
    warming: Warming | None

    @property
    def rise(self) -> float:
        """Peak of the trace above the typed ambient temperature, or else above its own start [K]."""
        if self.warming is None:
            return float("nan")
        return self.warming.rise if np.isnan(self.ambient) else self.warming.peak - self.ambient

    @property
    def rise_uncertainty(self) -> float:
        """Standard uncertainty of the rise from the scatter of the readings [K]."""
        if self.warming is None:
            return float("nan")
        return self.warming.rise_uncertainty if np.isnan(self.ambient) else self.warming.peak_uncertainty

    @property
    def specific_energy(self) -> float:
        """Friction energy over wear volume [J/m^3]; NaN where either lacks."""
        return self.energy.energy / self.wear_volume if self.energy is not None else float("nan")


def run_traces(
    runs: pd.DataFrame, typed: pd.DataFrame, traces: Mapping[str, pd.DataFrame]
) -> tuple[RunTrace, ...]:
    """Read every trace of the runs.

    Parameters
    ----------
    runs : DataFrame
        Runs with ``duration``, ``sliding_speed`` and ``wear_volume``, SI units.
    typed : DataFrame
        Runs as typed: ``run_id`` and ``ambient_temperature`` [K].
    traces : mapping of str to DataFrame
        The traces by run_id.

    Returns
    -------
    tuple of RunTrace
        In the order of the runs.
    """
    ambient = dict(zip(typed["run_id"], typed["ambient_temperature"].astype(float), strict=True))
    return tuple(
        _run_trace(run, float(ambient[run["run_id"]]), traces[run["run_id"]])
        for run in runs.to_dict("records")
        if run["run_id"] in traces
    )


def _run_trace(run: Mapping[Any, Any], ambient: float, trace: pd.DataFrame) -> RunTrace:
    duration = float(run["duration"])
    corrected, zero = with_zero_taken_off(trace, duration)
    times, _ = readings_between(corrected, "friction_force", 0.0, duration)
    return RunTrace(
        run["run_id"],
        run["lubricant"],
        float(run["load"]),
        duration,
        ambient,
        float(run["wear_volume"]),
        corrected,
        zero,
        energy_of(corrected, zero, run),
        find_gaps(times, 0.0, duration) if times.size else (),
        warming_of(trace, duration),
    )


def stop_told(
    trace: pd.DataFrame, load_steps: pd.DataFrame, run: Mapping[Any, Any], confidence: float
) -> FrictionStop | None:
    """Find when friction came down to its plateau, in the last load step of a run.

    Parameters
    ----------
    trace : DataFrame
        Trace of the run.
    load_steps : DataFrame
        Load steps of the campaign.
    run : mapping
        ``run_id`` and ``duration`` [s].
    confidence : float
        Confidence of the interval.

    Returns
    -------
    FrictionStop or None
        None where the trace has no friction force.
    """
    if trace["friction_force"].notna().sum() == 0:
        return None
    starts = load_steps.loc[load_steps["run_id"] == run["run_id"], "start"]
    start = float(starts.max()) if len(starts) else 0.0
    times, force = readings_between(trace, "friction_force", start, float(run["duration"]))
    return friction_stop(times, force, confidence)


def add_trace_responses(
    runs: pd.DataFrame, load_steps: pd.DataFrame, traces: Mapping[str, pd.DataFrame]
) -> pd.DataFrame:
    """Add what the traces tell as columns: friction of the last phase, friction energy, heating rate.

    An energy with gaps in it is no energy of the run, and is left out.

    Parameters
    ----------
    runs : DataFrame
        Evaluated runs.
    load_steps : DataFrame
        Load steps of the campaign.
    traces : mapping of str to DataFrame
        The traces by run_id.

    Returns
    -------
    DataFrame
        The runs with ``friction_coefficient`` [1], ``friction_energy`` [J] and ``heating_rate`` [K/s]; NaN
        where no trace tells them.
    """
    told = {one.run_id: one for one in run_traces(runs, runs, traces)}
    phases = friction_phases(runs, load_steps, {name: one.trace for name, one in told.items()})
    last = {one.run_id: one.friction.mean for one in phases if one.is_last}
    energy = {name: one.energy.energy for name, one in told.items() if one.energy and not one.energy.missing}
    rate = {name: one.warming.rate.value for name, one in told.items() if one.warming and one.warming.rate}
    return runs.assign(
        friction_coefficient=runs["run_id"].map(last).astype(float),
        friction_energy=runs["run_id"].map(energy).astype(float),
        heating_rate=runs["run_id"].map(rate).astype(float),
    )
