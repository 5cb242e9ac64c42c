"""Runs sorted for comparison: by load level and lubricant, and whether two lubricants were run alike."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from pinscar.shown import to_shown
from pinscar.wording import date_range

TOLERANCE = 0.005
"""Relative spread of the loads that still count as one level (0.5 %)."""


def load_levels(load: ArrayLike, included: ArrayLike) -> NDArray[np.float64]:
    """Give each run the load level that it belongs to.

    Sorted loads start a new level where they exceed the level's smallest load by more than 0.5 %; a level is
    shown as the median load of its included runs.

    Examples
    --------
    >>> load_levels([450.0, 451.0, 600.0, 449.5], [True, True, True, False])
    array([450.5, 450.5, 600. ,   nan])
    """
    loads = np.asarray(load, dtype=float)
    counted = np.asarray(included, dtype=bool) & np.isfinite(loads)
    levels = np.full(loads.shape, np.nan)
    remaining = np.sort(loads[counted])
    while remaining.size:
        members = remaining[remaining <= remaining[0] * (1.0 + TOLERANCE)]
        inside = counted & (loads >= members[0]) & (loads <= members[-1])
        levels[inside] = np.median(members)
        remaining = remaining[members.size :]
    return levels


def same_level(load: float, level: float) -> bool:
    """Tell whether a load given by a person means a level.

    Examples
    --------
    >>> same_level(450.0, 451.0), same_level(450.0, 460.0)
    (True, False)
    """
    return abs(load - level) <= TOLERANCE * max(load, level)


def by_level(runs: pd.DataFrame) -> Iterator[tuple[float, pd.DataFrame]]:
    """Take runs apart by load level."""
    key: Any
    for key, group in runs.groupby("load_level"):
        yield float(key), group


def by_lubricant(runs: pd.DataFrame) -> Iterator[tuple[str, pd.DataFrame]]:
    """Take runs apart by lubricant."""
    for name, group in runs.groupby("lubricant", sort=False):
        yield str(name), group


def by_cell(runs: pd.DataFrame) -> Iterator[tuple[float, str, pd.DataFrame]]:
    """Take runs apart by load level and lubricant."""
    order = list(dict.fromkeys(runs["lubricant"]))
    for level, at_level in by_level(runs):
        groups = dict(by_lubricant(at_level))
        for name in order:
            if name in groups:
                yield level, name, groups[name]


DURATION_TOLERANCE = 0.02
"""Relative difference of the median durations that still counts as the same test."""
SETTLED_WHERE_STOPPED = "film_pressure"
"""The response that no longer changes once wear has stopped, however long the run goes on."""
SPEED_TOLERANCE = 0.02
"""Relative difference of the median ring speeds that still counts as the same test."""


def unlike_reason(
    subject: pd.DataFrame,
    reference: pd.DataFrame,
    other_name: str = "the reference",
    response: str | None = None,
) -> str | None:
    """Say why two sets of runs at one load can't be compared as like for like.

    Unlike durations do not make film pressures unlike where wear had stopped in all runs of both.

    Examples
    --------
    >>> a = pd.DataFrame({"duration": [60.0], "ring_speed": [73.3]})
    >>> unlike_reason(a, a) is None
    True
    >>> unlike_reason(a.assign(duration=90.0), a)
    'run for 90 s against 60 s for the reference'
    """
    settled = response == SETTLED_WHERE_STOPPED and all_stopped(subject) and all_stopped(reference)
    own, other = subject["duration"].median(), reference["duration"].median()
    if not settled and _differ(own, other, DURATION_TOLERANCE):
        return f"run for {own:.4g} s against {other:.4g} s for {other_name}"
    own, other = subject["ring_speed"].median(), reference["ring_speed"].median()
    if _differ(own, other, SPEED_TOLERANCE):
        here, there = (f"{to_shown(speed, 'rpm'):.4g} rpm" for speed in (own, other))
        return f"ring at {here} against {there} for {other_name}"
    return None


def all_stopped(runs: pd.DataFrame) -> bool:
    """Say whether wear had stopped in every one of the runs."""
    return "wear_stopped" in runs and all(state is True for state in runs["wear_stopped"])


def _differ(own: float, other: float, tolerance: float) -> bool:
    return abs(own - other) > tolerance * max(own, other)


def run_days(runs: pd.DataFrame) -> list[str]:
    """List the days that runs were made on.

    Examples
    --------
    >>> run_days(pd.DataFrame({"run_day": ["2026-04-16", "", "2026-04-14", None]}))
    ['2026-04-14', '2026-04-16']
    """
    return sorted({day for day in runs["run_day"].dropna() if day})


def when_run(runs: pd.DataFrame) -> str:
    """Say when runs were made.

    Examples
    --------
    >>> when_run(pd.DataFrame({"run_day": [""]}))
    'dates of the runs not recorded'
    """
    days = run_days(runs)
    return f"runs of {date_range(days)}" if days else "dates of the runs not recorded"
