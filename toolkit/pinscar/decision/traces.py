"""What the traces of a campaign tell: energy, temperatures, friction of each phase of a run.

The zero is taken off the friction force first. A run falls into phases: its load steps, and the last of them
before and after the rubbing noise stopped, where that was noted. Motor power is not turned into friction:
what the drive takes for itself is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.kept_traces import Traces
from pinscar.contact.heat import TraceFriction, friction_from_trace
from pinscar.contact.wear import FrictionEnergy, friction_energy
from pinscar.decision.force_readings import with_zero_taken_off
from pinscar.evidence.force_zero import ForceZero
from pinscar.evidence.friction_stop import FrictionStop, friction_stop
from pinscar.evidence.recorder import (
    Bridge,
    Gap,
    bridges,
    find_gaps,
    longest_step,
    mean_over,
    over_holes,
)
from pinscar.evidence.warming import Warming, read_warming

FloatArray = NDArray[np.float64]

MOST_MISSING = 0.25
"""A phase without readings for more of its time, its gaps not bridged, has no mean [1]."""


def readings_between(
    trace: pd.DataFrame, column: str, start: float, end: float
) -> tuple[FloatArray, FloatArray]:
    """Take the readings of one column that lie in a span of time, both ends included."""
    inside = trace[trace[column].notna() & (trace["time"] >= start) & (trace["time"] <= end)]
    return inside["time"].to_numpy(dtype=float), inside[column].to_numpy(dtype=float)


def loads_at(time: FloatArray, run: Mapping[Any, Any], load_steps: pd.DataFrame) -> FloatArray:
    """Look up the load at times of a run; the first one before it."""
    if not len(load_steps):
        return np.full(np.shape(time), float(run["load"]))
    starts, loads = (load_steps[name].to_numpy(dtype=float) for name in ("start", "load"))
    return np.asarray(loads[np.clip(np.searchsorted(starts, time, side="right") - 1, 0, None)])


def friction_course(
    trace: pd.DataFrame, run: Mapping[Any, Any], load_steps: pd.DataFrame
) -> tuple[FloatArray, FloatArray, tuple[Bridge, ...]]:
    """Give the friction coefficient against time, and its gaps bridged."""
    times, force = readings_between(trace, "friction_force", 0.0, run["duration"])
    ratio = force / loads_at(times, run, load_steps)
    return times, ratio, bridges(times, ratio, 0.0, float(run["duration"]), load_steps["start"])


def energy_of(
    trace: pd.DataFrame, zero: ForceZero, run: Mapping[Any, Any], load_steps: pd.DataFrame
) -> FrictionEnergy | None:
    """Integrate the friction energy of a run, its gaps bridged where they are a small part of it."""
    times, force = readings_between(trace, "friction_force", 0.0, run["duration"])
    longest = longest_step(times, 0.0, run["duration"])
    if not np.any(np.diff(times) <= longest):
        return None
    known = zero.uncertainty if zero.checked else 0.0
    read = friction_energy(times, force, run["sliding_speed"], 0.0, run["duration"], longest, known)
    holes = float(run["sliding_speed"]) * over_holes(times, force, longest)
    read = replace(read, uncertainty=float(np.hypot(read.uncertainty, holes)))
    over = friction_course(trace, run, load_steps)[2]
    return _with_gaps_bridged(read, over, run, load_steps) if over else read


def _with_gaps_bridged(
    read: FrictionEnergy, over: Sequence[Bridge], run: Mapping[Any, Any], load_steps: pd.DataFrame
) -> FrictionEnergy:
    speed, duration = float(run["sliding_speed"]), float(run["duration"])
    added, variance = 0.0, read.uncertainty**2
    for one in over:
        starts = load_steps["start"].to_numpy(dtype=float)
        marks = [one.start, *starts[(starts > one.start) & (starts < one.end)].tolist(), one.end]
        middles, wide = 0.5 * (np.array(marks[1:]) + np.array(marks[:-1])), np.diff(marks)
        loads = loads_at(
            middles, run, load_steps
        )  # the line is straight: its value at the middle is its mean
        added += speed * float(np.sum(one.at(middles) * loads * wide))
        variance += (speed * one.uncertainty * float(np.sum(loads * wide))) ** 2
    energy, slid = read.energy + added, speed * duration
    return replace(
        read,
        energy=energy,
        uncertainty=float(np.sqrt(variance)),
        covered=duration,
        missing=0.0,
        distance=slid,
        per_distance=energy / slid,
        bridged=sum(one.end - one.start for one in over),
    )


def add_trace_temperatures(runs: pd.DataFrame, warmings: Mapping[str, Warming | None]) -> pd.DataFrame:
    """Fill in blank peak and ambient temperatures from what the traces tell of the temperature.

    The peak is that of the course within the run; where the ambient temperature is blank, the temperature
    that the trace starts from takes its place, since the rise counts from there (`read_warming`). What was
    typed stays.
    """
    peaks, starts, filled = [], [], []
    for run in runs.to_dict("records"):
        peak, start = run["peak_temperature"], run["ambient_temperature"]
        blank = pd.isna(peak) or pd.isna(start)
        read = warmings.get(run["run_id"]) if blank else None
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


def warming_of(trace: pd.DataFrame | None, duration: float, starts: Sequence[float] = ()) -> Warming | None:
    """Read how warm a run became off its trace; its friction, zero taken off, tells of the sensor's lag."""
    if trace is None:
        return None
    heat = readings_between(trace, "friction_force", 0.0, duration) if "friction_force" in trace else None
    there = trace[trace["temperature"].notna()]
    if there["time"].between(0.0, duration).sum() < 2:
        return None
    time, warmth = (there[name].to_numpy(dtype=float) for name in ("time", "temperature"))
    return read_warming(time, warmth, duration, starts, heat)


@dataclass(frozen=True, slots=True, kw_only=True)
class FrictionPhase:
    """Friction in one phase of one run.

    Attributes
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


def final_friction(phases: Iterable[FrictionPhase]) -> dict[str, tuple[float, float]]:
    """Give the friction that each run ended with."""
    return {
        one.run_id: (one.friction.low, one.friction.high)
        for one in phases
        if one.is_last and one.friction.low > 0.0
    }


def friction_phases(
    run: Mapping[Any, Any], load_steps: pd.DataFrame, trace: pd.DataFrame, zero: ForceZero | None = None
) -> Iterator[FrictionPhase]:
    """Read the friction coefficient off the trace of one run, a phase of it at a time, its gaps bridged.

    A phase of which readings tell less than three quarters, with gaps that were not bridged, is left out.
    """
    spans = _spans(run, load_steps)
    course = friction_course(trace, run, load_steps)
    doubt = zero.uncertainty if zero is not None and zero.checked else 0.0
    longest = longest_step(
        readings_between(trace, "friction_force", 0.0, run["duration"])[0], 0.0, run["duration"]
    )
    for number, (start, end, load) in enumerate(spans):
        is_last = number == len(spans) - 1
        times, force = readings_between(trace, "friction_force", start, end)
        if not is_last:  # a reading at the moment of change belongs to what comes after it
            times, force = times[times < end], force[times < end]
        wide = np.diff([start, *times, end])
        missing = float(np.sum(wide[wide > longest])) / (end - start)
        if np.any(np.diff(times) <= longest) and (course[2] or missing <= MOST_MISSING):
            read = friction_from_trace(times, force, load, longest)
            friction = _whole_phase(
                read, (times, force / load, course[2]), (start, end), longest, doubt / load
            )
            after_noise = is_last and start == run["quiet_time"]
            yield FrictionPhase(
                run_id=run["run_id"],
                lubricant=run["lubricant"],
                start=start,
                end=end,
                load=load,
                is_last=is_last,
                after_noise=after_noise,
                friction=friction,
            )


def _whole_phase(
    read: TraceFriction,
    course: tuple[FloatArray, FloatArray, tuple[Bridge, ...]],
    span: tuple[float, float],
    longest: float,
    doubt: float,
) -> TraceFriction:
    """Give the mean over a whole phase; that of its readings only, where a gap in it was not bridged."""
    times, ratio, over = course
    torn = np.any(np.diff(np.concatenate([span[:1], times, span[1:]])) > longest)
    if torn and not over:
        return read
    whole = mean_over(times, ratio, *span, over)
    holes = over_holes(times, ratio, longest) / (span[1] - span[0])
    return replace(
        read, mean=whole.mean, uncertainty=float(np.linalg.norm([whole.uncertainty, doubt, holes]))
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


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTrace:
    """What the trace of one run tells.

    Attributes
    ----------
    run_id, lubricant : str
        The run.
    load, duration : float
        Load of the last step [N] and length of the run [s].
    ambient : float
        Temperature that was typed as that of the room [K]; NaN where it was not.
    wear_volume : float
        Wear volume of the run [m^3]; NaN where the scar was not measured.
    kept : DataFrame or None
        ``time`` [s], ``temperature`` [K] and ``friction_force`` [N], its zero taken off; None where it takes
        too much memory to keep, as the trace of every run of a large campaign.
    again : callable or None
        What makes it anew then.
    zero : ForceZero
        The zero of the force.
    energy : FrictionEnergy or None
        Friction energy; None without readings of the force.
    force_gaps : tuple of tuple of float
        Gaps of the force within the run [s].
    force_spikes : int
        Readings of the force that were left out as spikes [1].
    warming : Warming or None
        How warm the run became; None without readings of the temperature.
    phases : tuple of FrictionPhase
        Friction coefficient, a phase of the run at a time.
    """

    run_id: str
    lubricant: str
    load: float
    duration: float
    ambient: float
    wear_volume: float
    kept: pd.DataFrame | None
    zero: ForceZero
    energy: FrictionEnergy | None
    force_gaps: tuple[Gap, ...]
    force_spikes: int
    warming: Warming | None
    phases: tuple[FrictionPhase, ...] = ()
    again: Callable[[], pd.DataFrame] | None = None

    @property
    def trace(self) -> pd.DataFrame:
        """The trace itself, read once more where it was not kept."""
        if self.kept is not None:
            return self.kept
        if self.again is None:
            raise ValueError(f"the trace of {self.run_id} was neither kept, nor can it be read again")
        return self.again()

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
    runs: pd.DataFrame, load_steps: pd.DataFrame, traces: Mapping[str, pd.DataFrame]
) -> tuple[RunTrace, ...]:
    """Read every trace of the runs, one at a time; those that the campaign keeps are kept here too."""
    kept = traces.kept if isinstance(traces, Traces) else traces
    found = []
    for run in runs.to_dict("records"):
        name = run["run_id"]
        if name not in traces:
            continue
        steps = load_steps[load_steps["run_id"] == name]
        told = _run_trace(run, steps, traces[name])
        found.append(
            told if name in kept else replace(told, kept=None, again=partial(_anew, run, steps, traces))
        )
    return tuple(found)


def _anew(
    run: Mapping[Any, Any], load_steps: pd.DataFrame, traces: Mapping[str, pd.DataFrame]
) -> pd.DataFrame:
    largest = float(np.nanmax([run["load"], *load_steps["load"]]))
    starts = load_steps["start"].to_list()
    return with_zero_taken_off(traces[run["run_id"]], float(run["duration"]), largest, starts)[0]


def _run_trace(run: Mapping[Any, Any], load_steps: pd.DataFrame, trace: pd.DataFrame) -> RunTrace:
    duration = float(run["duration"])
    largest = float(np.nanmax([run["load"], *load_steps["load"]]))
    starts = load_steps["start"].to_list()
    corrected, zero = with_zero_taken_off(trace, duration, largest, starts)
    times, _ = readings_between(corrected, "friction_force", 0.0, duration)
    spikes = trace["friction_force"].count() - corrected["friction_force"].count()
    return RunTrace(
        run_id=run["run_id"],
        lubricant=run["lubricant"],
        load=float(run["load"]),
        duration=duration,
        ambient=float(run["ambient_temperature"]),
        wear_volume=float(run["wear_volume"]),
        kept=corrected,
        zero=zero,
        energy=energy_of(corrected, zero, run, load_steps),
        force_gaps=find_gaps(times, 0.0, duration) if times.size else (),
        force_spikes=int(spikes),
        warming=warming_of(corrected, duration, starts),
        phases=tuple(friction_phases(run, load_steps, corrected, zero)),
    )


def stop_told(
    trace: pd.DataFrame, load_steps: pd.DataFrame, run: Mapping[Any, Any], confidence: float
) -> FrictionStop | None:
    """Find when friction came down to its plateau, in the last load step of a run."""
    if trace["friction_force"].notna().sum() == 0:
        return None
    starts = load_steps.loc[load_steps["run_id"] == run["run_id"], "start"]
    start = float(starts.max()) if len(starts) else 0.0
    times, force = readings_between(trace, "friction_force", start, float(run["duration"]))
    return friction_stop(times, force, confidence, start)


def add_trace_responses(runs: pd.DataFrame, traces: Sequence[RunTrace]) -> pd.DataFrame:
    """Add what the traces tell as columns: friction of the last phase, friction energy, heating rate.

    An energy with gaps in it that were not bridged is no energy of the run, and is left out; so is the
    friction of a phase with such gaps.
    """
    last = {
        one.run_id: one.friction.mean
        for told in traces
        for one in told.phases
        if one.is_last and np.isfinite(one.friction.uncertainty)
    }
    energy = {one.run_id: one.energy.energy for one in traces if one.energy and not one.energy.missing}
    rate = {one.run_id: one.warming.rate.value for one in traces if one.warming and one.warming.rate}
    return runs.assign(
        friction_coefficient=runs["run_id"].map(last).astype(float),
        friction_energy=runs["run_id"].map(energy).astype(float),
        heating_rate=runs["run_id"].map(rate).astype(float),
    )
