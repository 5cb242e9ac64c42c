"""Like with like: whether two lubricants were run under the same conditions at a load."""

from __future__ import annotations

import math

import pandas as pd

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

    Parameters
    ----------
    subject, reference : DataFrame
        Evaluated, included runs of the two lubricants at one load level.
    other_name : str
        What the second set is called in the reason.
    response : str, optional
        Name of the response that is compared.

    Returns
    -------
    str or None
        The reason in plain words; None where nothing stands against the comparison.

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
        return f"ring at {_rpm(own):.4g} rpm against {_rpm(other):.4g} rpm for {other_name}"
    return None


def all_stopped(runs: pd.DataFrame) -> bool:
    """Say whether wear had stopped in every one of the runs.

    Parameters
    ----------
    runs : DataFrame
        Evaluated runs.

    Returns
    -------
    bool
        False also where it was not judged.
    """
    return "wear_stopped" in runs and all(state is True for state in runs["wear_stopped"])


def _differ(own: float, other: float, tolerance: float) -> bool:
    return abs(own - other) > tolerance * max(own, other)


def _rpm(angular_speed: float) -> float:
    return angular_speed * 60.0 / math.tau
