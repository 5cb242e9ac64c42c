"""Where in a recording that is longer than its run the run began: where the rubbing noise set in."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

LEAST_ONSET = 6.0
"""Least rise of the level where a run begins [dB]: handling and voices are weaker or pass."""
LONGER = (2.0, 0.05)
"""A recording is as long as its run if it is so close [s], or by that share of it."""
HEARD_WITHIN = 0.3
"""How well the start is placed by the cuts of the level [s]."""


def is_longer(length: float, duration: float) -> bool:
    """Tell whether a recording is so much longer than its run that the start of the run must be sought.

    Parameters
    ----------
    length : float
        Length of the recording [s].
    duration : float
        Duration of the run [s].

    Returns
    -------
    bool
        Whether it is longer by more than 2 s and by more than 5 %.

    References
    ----------
    Own rule: a recorder is stopped by hand a second or so after the run.

    Examples
    --------
    >>> is_longer(61.0, 60.0), is_longer(75.0, 60.0)
    (False, True)
    """
    return length - duration > max(LONGER[0], LONGER[1] * duration)


def start_of_run(parts: Sequence[tuple[int, int, float]], frame: float, duration: float) -> float | None:
    """Find when the run began in a longer recording.

    The recording must begin quieter than the rubbing noise, by 6 dB. What is louder than half way between
    is grouped; the first group must be the longest, since a voice or a trial before the run would shift
    every time, and all that is loud must fit into the run.

    Parameters
    ----------
    parts : sequence of tuple
        Stretches of one level, in order: first frame, the frame after the last, and level [dB].
    frame : float
        Length of a frame [s].
    duration : float
        Duration of the run [s].

    Returns
    -------
    float or None
        The start [s]; None where it can't be told.

    References
    ----------
    Own method.

    Examples
    --------
    >>> parts = [(0, 100, -60.0), (100, 500, -20.0), (500, 800, -50.0)]
    >>> start_of_run(parts, 0.1, 60.0), start_of_run(parts[1:], 0.1, 60.0)
    (10.0, None)
    """
    if len(parts) < 2:
        return None
    # Rubbing is what lasts: the level that the loudest tenth of the run reaches.
    levels = np.repeat([level for _, _, level in parts], [stop - start for start, stop, _ in parts])
    share = min(0.1 * duration / frame / levels.size, 0.5)
    rubbing = float(np.quantile(levels, 1.0 - share))
    before = parts[0][2]
    if rubbing - before < LEAST_ONSET:
        return None
    groups: list[list[int]] = []
    for first, stop, level in parts:
        if level <= 0.5 * (rubbing + before):
            continue
        if groups and groups[-1][1] == first:
            groups[-1][1] = stop
        else:
            groups.append([first, stop])
    lengths = [stop - first for first, stop in groups]
    fits = (groups[-1][1] - groups[0][0]) * frame <= duration + LONGER[0]
    if lengths[0] < max(lengths) or not fits:
        return None
    begun = groups[0][0] * frame
    return begun if begun + duration <= levels.size * frame + LONGER[0] else None
