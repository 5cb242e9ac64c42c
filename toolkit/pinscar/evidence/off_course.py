"""Readings that no course joins to those beside them: spikes next to one another, to a gap or to an end."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import median_filter

from pinscar.evidence.recorder import LONGEST_SPIKE, SPIKE, TO_SD, rounding_sd, scatter

FloatArray = NDArray[np.float64]
Flags = NDArray[np.bool_]

_BESIDE = 4  # readings beyond the longest spike that the course is sought through
_MOST = 30  # readings of a spike, however fast they come
LONGEST_RUN = 6
"""Up to so many readings in a row off a course that goes on as it was on both sides are a spike [1]."""

_FAR = 2.0  # runs of more than three readings must lie so many times the room off
_FEWEST = 6
_AT_AN_EDGE = 3  # readings beside a change that may lie between the two levels: clocks differ
_ONSET = 2.0  # just after a load came on, friction may stand above all the rest of its step by that factor
_STEEP = 0.75  # quantile of the slopes about a place that tells how fast the course goes there


def off_course(
    time: ArrayLike,
    values: ArrayLike,
    *,
    changes: ArrayLike = (),
    share: float = 0.0,
    least: float = 0.0,
    fastest: float = np.inf,
    lasts: float = 0.0,
) -> Flags:
    r"""Find readings, up to six in a row, that lie off the course which the most readings follow.

    Between two changes, the longest chain of readings is sought in which each differs from the one before by
    no more than six times the scatter, or `share` of the median level, or `least`, whichever is largest, plus
    what a course may go in the time between: twice the upper quartile of the slopes of a running median
    thereabouts, and no more than `fastest`. What lies off the chain is off course if it is no more than three
    readings in a row on one side of it, or six where they lie twice as far off; more may be the run itself.
    Next to a change, three readings may lie between the levels on its two sides, since clocks differ, and
    what stands out upwards just after one by less than 2 times may be the load coming on.

    Parameters
    ----------
    time : array_like
        Times [s], rising, none missing.
    values : array_like
        Readings, same length, none missing [any unit].
    changes : array_like
        Moments at which the course begins anew [s].
    share : float
        Least difference that counts, as a share of the median level between two changes [1].
    least : float
        Least difference that counts [unit of the values].
    fastest : float
        The course changes no faster [unit of the values a second].
    lasts : float
        Where readings come fast, what lies off the course for so long counts too, up to thirty readings [s].

    Returns
    -------
    ndarray of bool
        True for the readings off the course.

    References
    ----------
    Longest chain by dynamic programming: R. Bellman, Dynamic Programming, 1957. The limits are own choices.

    Examples
    --------
    >>> warmth = [20.0, 20.5, 21.0, 90.0, 91.0, 22.0, 60.0, 61.0, 23.0, 23.5, 24.0, 24.5, 25.0]
    >>> np.flatnonzero(off_course(np.arange(13.0), warmth, least=2.0, fastest=8.0))
    array([3, 4, 6, 7])
    """
    t, y = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    found = np.zeros(y.shape, dtype=np.bool_)
    if t.size < _FEWEST:
        return found
    moments = np.unique(np.asarray(changes, dtype=np.float64))
    marks = np.searchsorted(t, moments)
    longest = int(np.clip(lasts / float(np.median(np.diff(t))), LONGEST_RUN, _MOST))
    pieces = [(a, b) for a, b in pairwise([0, *marks.tolist(), t.size]) if b > a]
    for first, after in pieces:
        own = slice(first, after)
        found[own] = _of_piece(t[own], y[own], (share, least), fastest, longest)
    for first, after in pieces:
        # a recorder that was started with the run has no reading before its load came on
        begun = first > 0 or bool((moments <= t[0]).any())
        _take_back(found, y, (first, after), begun=begun)
    return found


def _of_piece(
    t: FloatArray, y: FloatArray, differ: tuple[float, float], fastest: float, longest: int
) -> Flags:
    """Find the readings off course between two changes."""
    found = np.zeros(y.shape, dtype=np.bool_)
    if t.size < _FEWEST:
        return found
    course = median_filter(y, size=min(2 * longest + 3, t.size - (t.size + 1) % 2), mode="nearest")
    # many spikes in few readings widen the one, a steep course the other
    spread = min(scatter(t, y), TO_SD * float(np.median(np.abs(y - course))))
    room = max(SPIKE * spread, SPIKE * rounding_sd(y), differ[0] * abs(float(np.median(y))), differ[1])
    slopes = np.abs(np.diff(course)) / np.diff(t)
    suspect = np.flatnonzero(np.abs(y - course) > 0.5 * room)
    for low, high in _zones(suspect, t.size, longest + _BESIDE):
        rate = 2.0 * float(np.quantile(slopes[low : max(high - 1, low + 1)], _STEEP))
        on = _longest_chain(t[low:high], y[low:high], (room, min(rate, fastest)), longest + _BESIDE)
        found[low:high] |= _short_runs(on, y[low:high], room, longest)
    return found


def _zones(suspect: NDArray[np.int_], size: int, beside: int) -> list[tuple[int, int]]:
    """Join suspect readings, with those beside them, to zones."""
    zones: list[tuple[int, int]] = []
    for one in suspect.tolist():
        low, high = max(one - beside, 0), min(one + beside + 1, size)
        if zones and low <= zones[-1][1]:
            zones[-1] = zones[-1][0], high
        else:
            zones.append((low, high))
    return zones


def _longest_chain(t: FloatArray, y: FloatArray, limits: tuple[float, float], skipped: int) -> Flags:
    """Find the longest chain; of two that are as long, the one that goes the least way."""
    times, values = t.tolist(), y.tolist()
    size, (room, rate) = len(times), limits
    best, way, back = [1] * size, [0.0] * size, [-1] * size
    for i in range(size):
        for j in range(max(i - skipped - 1, 0), i):
            apart = abs(values[i] - values[j])
            if apart > room + rate * (times[i] - times[j]):
                continue
            longer, further = best[j] + 1, way[j] + apart
            if longer > best[i] or (longer == best[i] and further < way[i]):
                best[i], way[i], back[i] = longer, further, j
    on = np.zeros(size, dtype=np.bool_)
    at = max(range(size), key=lambda one: (best[one], -way[one]))
    while at >= 0:
        on[at] = True
        at = back[at]
    return on


def _short_runs(on: Flags, y: FloatArray, room: float, longest: int) -> Flags:
    """Keep what lies off a chain for up to three readings in a row on one side of it, or far off for six."""
    off = np.zeros(on.shape, dtype=np.bool_)
    there = np.flatnonzero(on)
    course = np.interp(np.arange(y.size), there, y[there])
    side = np.where(on, 0, np.sign(y - course)).astype(int)
    edges = [0, *(np.flatnonzero(np.diff(side)) + 1).tolist(), y.size]
    for first, after in pairwise(edges):
        if side[first] == 0:
            continue
        inside = first > 0 and after < y.size
        far = inside and float(np.min(np.abs(y - course)[first:after])) > _FAR * room
        if after - first <= (longest if far else LONGEST_SPIKE):
            off[first:after] = True
    return off


def _take_back(found: Flags, y: FloatArray, piece: tuple[int, int], *, begun: bool) -> None:
    """Take back what two clocks that differ, or a load that comes on, may make of the readings of a piece."""
    first, after = piece
    own = np.arange(first, after)
    good = own[~found[first:after]]
    if good.size == 0:
        return
    before, later = np.flatnonzero(~found[:first]), np.flatnonzero(~found[after:])
    sides = []
    if before.size:
        sides.append((own[:_AT_AN_EDGE], y[before[-1]], y[good[0]]))
    if later.size:
        sides.append((own[-_AT_AN_EDGE:], y[after + later[0]], y[good[-1]]))
    for edge, beyond, inner in sides:
        low, high = min(beyond, inner), max(beyond, inner)
        found[edge] &= (y[edge] < low) | (y[edge] > high)
    if not begun:
        return
    top = _ONSET * float(np.max(np.abs(y[good])))
    for one in own[:LONGEST_SPIKE].tolist():
        if not found[one]:
            break
        found[one] = not abs(float(y[good[0]])) < abs(float(y[one])) <= top
