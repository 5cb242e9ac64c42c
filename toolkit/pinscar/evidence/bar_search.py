"""Where on a picture a scale bar may lie: long, thin, even rectangles with sharp sides."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import (
    binary_dilation,
    binary_fill_holes,
    find_objects,
    label,
    maximum_filter1d,
    minimum_filter1d,
)
from skimage.color import rgba2rgb
from skimage.util import img_as_float64

from pinscar.evidence.grey import grey

FloatArray = NDArray[np.float64]
Mask = NDArray[np.bool_]
SHORTEST = 0.05
"""Shortest bar, as a share of the picture's side along it."""
FEWEST = 20
"""Fewest points that a bar is long."""
LONGEST = 0.9
"""Longest bar, as a share of the picture's side along it; longer ones are frames."""
THICKEST = 0.07
"""Greatest thickness, as a share of the picture's side across the bar."""
SLENDER = 3.5
"""Least length over thickness."""
CONTRAST = 0.1
"""Least step in brightness between a bar and what is beside it."""
LARGEST_LETTER = 0.3
"""Greatest height of a letter, as a share of the picture's side along it."""
CROOKED = 0.5
"""Largest root mean square distance of a bar's centre from a straight line [points]."""
STEEPEST = np.radians(1.0)
"""Largest angle of a bar to the rows or columns of the picture [rad]."""


@dataclass(frozen=True, slots=True)
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
    """

    plane: FloatArray
    standing: bool
    first: int
    last: int
    height: float
    slope: float
    middle: float
    ticks: int
    level: float
    cut: float

    @property
    def long(self) -> int:
        """Length in whole points."""
        return self.last - self.first + 1


def find_bars(image: NDArray[np.generic]) -> list[BarShape]:
    """Find the rectangles on a picture that may be a scale bar.

    In each colour, light and dark, lying and standing: what remains of the brightness after an opening along
    the rows and vanishes in one across them is long and thin. Round each such place the picture is cut half
    way between the bar and its surroundings; the piece must be a bar: one straight band of even thickness
    without holes, clear of the picture's border, its ends plain or both with a tick.

    Parameters
    ----------
    image : array, shape (rows, columns) or (rows, columns, channels)
        The picture.

    Returns
    -------
    list of BarShape
        One for each place and each colour in which it is seen.

    Raises
    ------
    ValueError
        If the array is no picture.

    References
    ----------
    Opening and top-hat by line segments: J. Serra, Image Analysis and Mathematical Morphology, 1982. The
    rules of shape: own.

    Examples
    --------
    >>> picture = np.full((120, 160), 0.3)
    >>> picture[100:104, 20:80] = 1.0
    >>> [(bar.first, bar.last, bar.height) for bar in find_bars(picture)]
    [(20, 79, 4.0)]
    """
    found: list[BarShape] = []
    for plane in _planes(image):
        for standing in (False, True):
            turned = np.ascontiguousarray(plane.T) if standing else plane
            for one in (turned, 1.0 - turned):
                found += _bars_in(one, standing)
    return found


def _planes(image: NDArray[np.generic]) -> list[FloatArray]:
    """Brightness, and each colour where they are not alike: a bar may be of the brightness around it."""
    brightness = grey(image)
    pixels = np.asarray(image)
    if pixels.ndim == 2 or pixels.shape[2] <= 2:
        return [brightness]
    values = np.asarray(img_as_float64(pixels), dtype=np.float64)
    if values.shape[2] == 4:
        values = np.asarray(rgba2rgb(values), dtype=np.float64)
    if float(np.ptp(values, axis=2).max()) < 0.02:
        return [brightness]
    return [brightness, *(np.ascontiguousarray(values[..., channel]) for channel in range(3))]


def _odd(value: float) -> int:
    return 2 * round(value / 2) + 1


def _bars_in(plane: FloatArray, standing: bool) -> list[BarShape]:
    rows, columns = plane.shape
    segment = _odd(max(FEWEST, SHORTEST * columns) - 4)
    thickest = _odd(max(9.0, THICKEST * rows))
    # Whole numbers of 16 bits are filtered faster than floats, and lose nothing of an 8-bit picture.
    level = np.rint(plane * 65535).astype(np.uint16)
    along = maximum_filter1d(minimum_filter1d(level, segment, axis=1), segment, axis=1)
    across = maximum_filter1d(minimum_filter1d(along, thickest, axis=0), thickest, axis=0)
    marks, _ = label(along.astype(np.int32) - across > CONTRAST * 65535, np.ones((3, 3)))
    bars = []
    taken = np.zeros(plane.shape, dtype=bool)
    for number, place in enumerate(find_objects(marks), start=1):
        if place[1].stop - place[1].start < segment:
            continue
        low, high = max(place[0].start - thickest, 0), min(place[0].stop + thickest, rows)
        seed = marks[low:high] == number
        if (taken[low:high] & seed).any():
            continue
        piece, inside, cut = _piece(plane[low:high], seed)
        if piece is None:
            continue
        taken[low:high] |= piece
        bar = _as_bar(plane, piece, low, standing, (inside, cut))
        if bar is not None and not _is_letter(bar):
            bars.append(bar)
    return bars


def _piece(strip: FloatArray, seed: Mask) -> tuple[Mask | None, float, float]:
    """Cut the strip half way between the seed and its surroundings; give the piece the seed is in."""
    every = np.ones((3, 3), dtype=bool)
    ring = binary_dilation(seed, every, 3) & ~binary_dilation(seed, every, 1)
    # Of a thin bar most points lie on its sides: its brightness is that of the brightest point across it.
    columns = np.flatnonzero(seed.any(axis=0))
    inside = float(np.median(np.where(seed[:, columns], strip[:, columns], 0.0).max(axis=0)))
    # Ticks and letters close by are as bright as the bar; they are a small part of what is round it.
    outside = float(np.quantile(strip[ring], 0.8))
    if inside - outside < CONTRAST:
        return None, inside, outside
    cut = (inside + outside) / 2
    pieces, _ = label(strip > cut)
    numbers = np.bincount(pieces[seed])
    numbers[0] = 0
    if not numbers.any():
        return None, inside, cut
    return pieces == numbers.argmax(), inside, cut


def _as_bar(
    plane: FloatArray, piece: Mask, low: int, standing: bool, levels: tuple[float, float]
) -> BarShape | None:
    """Check the piece's shape; None where it is no bar."""
    heights = piece.sum(axis=0)
    there = np.flatnonzero(heights)
    first, last = int(there[0]), int(there[-1])
    long, side = last - first + 1, plane.shape[1]
    used_rows = np.flatnonzero(piece.any(axis=1)) + low
    clear = first > 0 and last < side - 1 and used_rows[0] > 0 and used_rows[-1] < plane.shape[0] - 1
    if not clear or not max(FEWEST, SHORTEST * side) <= long <= LONGEST * side:
        return None
    if heights[first : last + 1].min() == 0 or (binary_fill_holes(piece) ^ piece).any():
        return None
    typical = float(np.median(heights[first : last + 1]))
    zone = int(np.ceil(min(0.15 * long, 3 * typical + 4)))
    core = np.arange(first + zone, last + 1 - zone)
    line = _centre_line(plane[low : low + len(piece)], piece, core, levels)
    if line is None or long < SLENDER * typical:
        return None
    slope, middle = line
    ticks = _tick_width(heights[first : last + 1], typical, zone)
    if ticks is None or abs(np.arctan(slope)) >= STEEPEST:
        return None
    height = float(heights[core].mean())
    return BarShape(plane, standing, first, last, height, slope, middle + low, ticks, *levels)


def _centre_line(
    strip: FloatArray, piece: Mask, core: NDArray[np.intp], levels: tuple[float, float]
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
    # Rows on the sides count by the share of them that is bar; the cut is half way from the outside.
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


def _is_letter(bar: BarShape) -> bool:
    """Tell a stroke of a label: close beside it stands something of about its height on the same line."""
    if bar.long > LARGEST_LETTER * bar.plane.shape[1]:
        return False
    reach, middle = int(0.8 * bar.long), round(bar.middle + bar.slope * (bar.first + bar.last) / 2)
    top, left = max(middle - reach, 0), max(bar.first - bar.long // 2, 0)
    window = bar.plane[top : middle + reach, left : bar.last + bar.long // 2] > bar.cut
    marks, _ = label(window)
    for number, place in enumerate(find_objects(marks), start=1):
        start, stop = place[1].start + left, place[1].stop - 1 + left
        itself = (marks == number)[middle - top, bar.first - left : bar.last - left].any()
        on_line = min(abs(start - bar.first), abs(stop - bar.last)) <= max(2.0, 0.12 * bar.long)
        if not itself and on_line and 0.5 < (stop - start + 1) / bar.long < 1.4:
            return True
    return False


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
    >>> bar, = find_bars(picture)
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
