"""Friction coefficients from the traces of the runs, a phase of the run at a time.

A run falls into phases: its load steps, and the last of them before and after the rubbing noise stopped,
where that was noted. Each phase has its own friction, since metal that scrapes drags more than a film.
Motor power is not turned into friction: what the drive takes for itself is not known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pinscar.contact.heat import TraceFriction, friction_from_trace
from pinscar.decision.trace_window import readings_between
from pinscar.evidence.readings import longest_step


@dataclass(frozen=True, slots=True)
class FrictionPhase:
    """Friction in one phase of one run.

    Parameters
    ----------
    run_id : str
        The run.
    lubricant : str
        Lubricant id.
    start, end : float
        When the phase began and ended, from the run's start [s].
    load : float
        Load in it [N].
    is_last : bool
        Whether the run ended with it; the final scar belongs to this phase.
    after_noise : bool
        Whether it began when the rubbing noise stopped.
    friction : TraceFriction
        Friction coefficient: mean over time, and the 5 and 95 % points over time [1].
    """

    run_id: str
    lubricant: str
    start: float
    end: float
    load: float
    is_last: bool
    after_noise: bool
    friction: TraceFriction


def friction_phases(
    runs: pd.DataFrame, load_steps: pd.DataFrame, traces: Mapping[str, pd.DataFrame]
) -> tuple[FrictionPhase, ...]:
    """Read the friction coefficient off every trace of the friction force.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    load_steps : DataFrame
        ``run_id``, ``start`` [s] and ``load`` [N] of the runs whose load was raised.
    traces : mapping of str to DataFrame
        ``time`` [s] and ``friction_force`` [N] by run_id, the zero taken off.

    Returns
    -------
    tuple of FrictionPhase
        In the order of the runs; gaps are left out, and so are phases without two readings that are no gap
        apart.
    """
    return tuple(
        phase
        for run in runs.to_dict("records")
        if run["run_id"] in traces
        for phase in _phases(run, load_steps[load_steps["run_id"] == run["run_id"]], traces[run["run_id"]])
    )


def final_friction(phases: tuple[FrictionPhase, ...]) -> dict[str, tuple[float, float]]:
    """Give the friction that each run ended with.

    Parameters
    ----------
    phases : tuple of FrictionPhase
        Phases of the runs that have a trace.

    Returns
    -------
    dict of str to tuple of float
        5 and 95 % points over time of the last phase, by run_id [1]. A trace whose 5 % point isn't above
        zero has a wrong sign or zero, and is left out.
    """
    return {
        one.run_id: (one.friction.low, one.friction.high)
        for one in phases
        if one.is_last and one.friction.low > 0.0
    }


def _phases(run: Mapping[Any, Any], load_steps: pd.DataFrame, trace: pd.DataFrame) -> Iterator[FrictionPhase]:
    spans = _spans(run, load_steps)
    longest = longest_step(
        readings_between(trace, "friction_force", 0.0, run["duration"])[0], 0.0, run["duration"]
    )
    for number, (start, end, load) in enumerate(spans):
        is_last = number == len(spans) - 1
        times, force = readings_between(trace, "friction_force", start, end)
        if not is_last:  # a reading at the moment of change belongs to what comes after it
            times, force = times[times < end], force[times < end]
        if np.any(np.diff(times) <= longest):
            friction = friction_from_trace(times, force, load, longest)
            after_noise = is_last and start == run["quiet_time"]
            yield FrictionPhase(
                run["run_id"], run["lubricant"], start, end, load, is_last, after_noise, friction
            )


def _spans(run: Mapping[Any, Any], load_steps: pd.DataFrame) -> list[tuple[float, float, float]]:
    """Split a run into start, end and load of its phases."""
    steps = list(zip(load_steps["start"], load_steps["load"], strict=True)) or [(0.0, run["load"])]
    last_start, last_load = steps[-1]
    if last_start < run["quiet_time"] < run["duration"]:
        steps.append((run["quiet_time"], last_load))
    starts = [float(start) for start, _ in steps]
    ends = [*starts[1:], float(run["duration"])]
    return [(start, end, float(load)) for start, end, (_, load) in zip(starts, ends, steps, strict=True)]
