"""The friction force as a recorder wrote it: spikes and what went beyond its range left out, its zero off."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.columns import UNLOADED
from pinscar.evidence.force_zero import ForceZero, find_zero, zero_at
from pinscar.evidence.off_course import LONGEST_RUN, off_course
from pinscar.evidence.overdriven import at_its_end
from pinscar.evidence.recorder import short_spikes

FloatArray = NDArray[np.float64]

FRICTION_AT_MOST = 3.0
"""No friction force is so many times the load: it is an overflow or a blow (common practice) [1]."""

JUST_LOADED = 3
"""Readings after the start of a load step in which friction may stand out for a moment [1]."""

AGAINST_AT_MOST = 0.1
"""Nor does it pull the other way by more than that share of the load (common practice) [1]."""


TOWERS, ONSET_TOWERS = 4.0, 5.5
"""Up to six readings beyond so many times the median of their load step are a spike; the second just after
the load came on, when metal rubs [1]."""

MOST_OVERDRIVEN = 0.02
"""Share of a run's readings at the end of the recorder's range from which on its force tells nothing [1]."""

LASTS = 1.0
"""A spike of the force lasts no longer where readings come fast [s]."""

STANDS_OUT = 0.15
"""Readings that a course leaves out differ from it by that share of the force [1]."""


def with_zero_taken_off(
    trace: pd.DataFrame, duration: float, largest: float = float("inf"), starts: Sequence[float] = ()
) -> tuple[pd.DataFrame, ForceZero]:
    """Leave out spikes and an overdriven force, and take its zero off as far as the unloaded pin tells it."""
    spikes = force_spikes(trace, largest, starts, duration)
    force = trace["friction_force"].mask(spikes)
    beyond = at_its_end(force.to_numpy(dtype=float))
    inside = force.notna().to_numpy() & trace["time"].between(0.0, duration).to_numpy()
    if np.count_nonzero(beyond & inside) > MOST_OVERDRIVEN * np.count_nonzero(inside):
        beyond = inside  # how high it went is not known: nothing is told of this force
    trace = trace.assign(friction_force=force.mask(beyond))
    zero = find_zero(trace["time"], trace["friction_force"], duration, UNLOADED)
    if not zero.checked:
        return trace, zero
    return trace.assign(friction_force=trace["friction_force"] - zero_at(zero, trace["time"])), zero


def force_spikes(
    trace: pd.DataFrame,
    largest: float = float("inf"),
    starts: Sequence[float] = (),
    duration: float = float("inf"),
) -> NDArray[np.bool_]:
    """Find the rows whose friction force is an impossible one, or stands out as a short spike.

    Metal rubs on metal for a moment where a load is put on: what stands out in the first readings after the
    start of a load step is no spike, unless friction was at the step's level before it.
    """
    force = trace["friction_force"].to_numpy(dtype=float)
    with_run = 1.0 if float(trace["friction_force"].median()) >= 0.0 else -1.0
    found: NDArray[np.bool_] = (np.abs(force) > FRICTION_AT_MOST * largest) | (
        with_run * force < -AGAINST_AT_MOST * largest
    )
    there = np.isfinite(force) & ~found
    time = trace["time"].to_numpy(dtype=float)
    t, y = time[there], with_run * force[there]
    # unloaded readings beside the run, or those of another load, tell nothing of a spike
    ends = np.unique([0.0, *starts, duration])
    pieces = [0, *np.searchsorted(t, ends).tolist(), t.size]
    least = STANDS_OUT * float(np.median(np.abs(y[(t >= 0.0) & (t <= duration)]))) if t.size else 0.0
    spikes = np.concatenate([_towers(y[a:b], least) for a, b in pairwise(pieces)])
    short = np.zeros(t.shape, dtype=np.bool_)
    for a, b in pairwise(pieces):
        own = np.flatnonzero(~spikes[a:b]) + a
        short[own] = short_spikes(t[own], y[own], least=0.5 * least)
    for first in pieces[1:-1]:
        _keep_onset(short, y, first)
    spikes |= short
    left = np.flatnonzero(~spikes)
    spikes[left] = off_course(
        t[left], y[left], changes=ends, share=STANDS_OUT, least=0.5 * least, lasts=LASTS
    )
    found[there] = spikes
    return found


def _towers(force: FloatArray, least: float) -> NDArray[np.bool_]:
    """Find up to six readings in a row that tower over what lies between two changes of the load."""
    level = float(np.median(force)) if force.size else 0.0
    found = np.zeros(force.shape, dtype=np.bool_)
    if level <= least:  # the pin is unloaded
        return found
    towers = (force > TOWERS * level) | (force < -0.5 * level)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], towers, [False]]).astype(int)))
    for first, after in edges.reshape(-1, 2).tolist():
        onset = first == 0 and float(np.max(force[first:after])) < ONSET_TOWERS * level
        found[first:after] = after - first <= LONGEST_RUN and not onset
    return found


def _keep_onset(spikes: NDArray[np.bool_], force: FloatArray, first: int) -> None:
    """Take back a spike in the first readings of a load step that may be the load's coming on."""
    for begin in range(first, min(first + JUST_LOADED, force.size)):
        if not spikes[begin] or (begin > first and spikes[begin - 1]):
            continue
        end = begin + int(np.argmin(np.append(spikes[begin:], False)))
        came_on = begin > first and end < force.size and force[begin - 1] >= force[end]
        spikes[begin:end] = came_on
