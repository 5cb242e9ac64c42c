"""Whether a piece of a picture has the shape of a scale bar, and where two such pieces are one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_fill_holes

PlaneArray = NDArray[np.floating[Any]]
Mask = NDArray[np.bool_]
SHORTEST = 0.05
"""Shortest bar, as a share of the picture's side along it."""
FEWEST = 20
"""Fewest points that a bar is long."""
LONGEST = 0.8
"""Longest bar, as a share of the picture's side along it; longer ones are frames."""
SLENDER = 3.5
"""Least length over thickness."""
CROOKED = 0.5
"""Largest root mean square distance of a bar's centre from a straight line [points]."""
STEEPEST = np.radians(1.0)
"""Largest angle of a bar to the rows or columns of the picture [rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BarShape:
    """A rectangle that may be a scale bar, lying along the rows of `plane`.

    Parameters
    ----------
    plane : array, shape (rows, columns)
        Brightness in which the bar is the brighter one; columns and rows swapped for a standing bar.
    standing : bool
        Whether columns and rows are swapped.
    first, last : int
        First and last column of the bar.
    height : float
        Its thickness [points].
    slope, middle : float
        Its centre line: row = middle + slope * column.
    ticks : int
        Width of its end ticks [points], 0 where there are none.
    level : float
        Brightness of the bar in `plane`.
    cut : float
        Brightness in `plane` that divides it from what is beside it.
    cut_out : bool
        Whether it was cut out of what touches it.
    """

    plane: PlaneArray
    standing: bool
    first: int
    last: int
    height: float
    slope: float
    middle: float
    ticks: int
    level: float
    cut: float
    cut_out: bool = False

    @property
    def long(self) -> int:
        """Length in whole points."""
        return self.last - self.first + 1


def as_bar(
    plane: PlaneArray, piece: Mask, corner: tuple[int, int], standing: bool, levels: tuple[float, float]
) -> BarShape | None:
    """Check the shape of a piece of a picture.

    Parameters
    ----------
    plane : array, shape (rows, columns)
        Brightness of the picture [-].
    piece : array of bool, shape (some rows, some columns)
        The piece, in some of the picture's rows and columns.
    corner : tuple of int
        First of those rows and columns.
    standing : bool
        Whether columns and rows of the picture are swapped.
    levels : tuple of float
        Brightness of the piece, and that which divides it from what is beside it [-].

    Returns
    -------
    BarShape or None
        The bar; None where it is none.

    References
    ----------
    Own rules: one straight band of even thickness without holes, clear of the border, its ends plain or both
    with a tick.

    Examples
    --------
    >>> picture = np.full((120, 160), 0.3)
    >>> picture[100:104, 20:80] = 1.0
    >>> as_bar(picture, picture > 0.65, (0, 0), False, (1.0, 0.65)).long
    60
    """
    low, left = corner
    heights = piece.sum(axis=0)
    there = np.flatnonzero(heights)
    start, end = int(there[0]), int(there[-1])
    first, last = start + left, end + left
    long, side = last - first + 1, plane.shape[1]
    used_rows = np.flatnonzero(piece.any(axis=1)) + low
    clear = first > 0 and last < side - 1 and used_rows[0] > 0 and used_rows[-1] < plane.shape[0] - 1
    if not clear or not max(FEWEST, SHORTEST * side) <= long <= LONGEST * side:
        return None
    heights = heights[start : end + 1]
    if heights.min() == 0 or (binary_fill_holes(piece) ^ piece).any():
        return None
    typical = float(np.median(heights))
    zone = int(np.ceil(min(0.15 * long, 3 * typical + 4)))
    core = np.arange(start + zone, end + 1 - zone)
    strip = plane[low : low + len(piece), left : left + piece.shape[1]]
    line = _centre_line(strip, piece, core, levels)
    if line is None or long < SLENDER * typical:
        return None
    slope, middle = line
    ticks = _tick_width(heights, typical, zone)
    if ticks is None or abs(np.arctan(slope)) >= STEEPEST:
        return None
    level, cut = levels
    return BarShape(
        plane=plane,
        standing=standing,
        first=first,
        last=last,
        height=float(heights[core - start].mean()),
        slope=slope,
        middle=middle + low - slope * left,
        ticks=ticks,
        level=level,
        cut=cut,
    )


def _centre_line(
    strip: PlaneArray, piece: Mask, core: NDArray[np.intp], levels: tuple[float, float]
) -> tuple[float, float] | None:
    """Slope and row at column 0 of the centre line; None where the band is uneven, crooked or torn."""
    if core.size < 5:
        return None
    part = piece[:, core]
    heights, top = part.sum(axis=0), part.argmax(axis=0)
    bottom = part.shape[0] - 1 - part[::-1].argmax(axis=0)
    typical = float(np.median(heights))
    even = (np.abs(heights - typical) <= max(1.0, 0.15 * typical)) & (bottom - top + 1 == heights)
    crossed = (heights > typical + max(2.0, 0.6 * typical)).any()
    if even.mean() < 0.97 or crossed:
        return None
    inside, cut = levels
    # A row at the side counts by the share of it that is bar; the limit is half.
    share = np.clip((strip[:, core] - (2 * cut - inside)) / (2 * (inside - cut)), 0.0, 1.0)
    rows = np.arange(len(piece))[:, None]
    share = np.where((rows >= top - 1) & (rows <= bottom + 1), share, 0.0)
    centre = (share * rows).sum(axis=0) / share.sum(axis=0)
    slope, middle = np.polyfit(core[even], centre[even], 1)
    left = centre[even] - np.polyval((slope, middle), core[even])
    return (float(slope), float(middle)) if float(np.sqrt(np.mean(left**2))) < CROOKED else None


def _tick_width(heights: NDArray[np.intp], typical: float, zone: int) -> int | None:
    """Mean width of the end ticks, 0 without any; None where the ends are of another shape."""
    tall = heights >= typical + max(2.0, 0.6 * typical)
    widths = []
    for end in (tall[: zone + 1], tall[::-1][: zone + 1]):
        places = np.flatnonzero(end)
        if places.size == 0:
            widths.append(0)
        elif places[0] > 1 or places[-1] == zone or np.ptp(places) + 1 != places.size:
            return None
        else:
            widths.append(places.size)
    one, other = widths
    if (one == 0) != (other == 0) or abs(one - other) > max(1.0, 0.3 * max(widths)):
        return None
    return round((one + other) / 2)


def same_place(one: BarShape, other: BarShape) -> bool:
    """Tell whether two rectangles are the same bar, seen in two colours, or one of them is its faint edge.

    Parameters
    ----------
    one, other : BarShape
        The rectangles.

    Returns
    -------
    bool
        Whether they lie on each other, or side by side with one of less than half the other's step.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> picture = np.full((120, 160), 0.3)
    >>> picture[100:104, 20:80] = 1.0
    >>> bar = as_bar(picture, picture > 0.65, (0, 0), False, (1.0, 0.65))
    >>> same_place(bar, bar)
    True
    """
    if one.standing != other.standing:
        return False
    shared = min(one.last, other.last) - max(one.first, other.first) + 1
    if shared <= 0.7 * min(one.long, other.long):
        return False
    centre = (one.first + one.last) / 2
    rows = abs((one.middle - other.middle) + (one.slope - other.slope) * centre)
    steps = sorted((one.level - one.cut, other.level - other.cut))
    faint = steps[0] < 0.5 * steps[1] and rows < (one.height + other.height) / 2 + 4
    return faint or (rows < max(one.height, other.height) and shared > 0.7 * max(one.long, other.long))
