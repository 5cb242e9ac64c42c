"""Mean brightness in strips across lines, and the longest row of evenly spaced lines in one of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.signal import find_peaks

from pinscar.evidence.recorder import robust_sd

FloatArray = NDArray[np.float64]
FEWEST = 5
"""Fewest lines that a scale is read from."""
LEAST_PITCH = 6.0
"""Least distance of lines [points]."""
PER_PICTURE, LEAST_HIGH = 100, 4
"""Strips to the shorter side of the picture, and least height of one [points]."""
COVERED = 0.3
"""Share of a strip's height from which on a place in it lies in the picture."""
STANDS_OUT, OVER_NOISE = 0.35, 5.0
"""How much a line must stand out in its strip, over the strongest lines and over the noise."""
OFF_EVEN = 0.12
"""How far the next line may lie off an even place to belong to a row, over the distance of lines."""
WIDEST = 0.55
"""Greatest share of their distance that lines take: of two sorts of stripes, the narrower are lines."""
NEARLY = 0.8
"""Share of the most lines, less what their spacing is uneven, from which on a row may be chosen."""


@dataclass(frozen=True, slots=True)
class Strips:
    """Mean brightness in strips across lines.

    Parameters
    ----------
    angle : float
        Direction of the strips, across the lines, from the image's x axis towards its y axis [rad].
    across : array, shape (places,)
        Places across the lines from the picture's middle, a point apart [points].
    along : array, shape (strips,)
        Middles of the strips along the lines, from the picture's middle [points].
    brightness : array, shape (strips, places)
        Means over the height of a strip [-].
    ends : array, shape (strips, 2)
        Between which places a strip lies in the picture [points]; NaN where it does not.
    noise : float
        Standard deviation of the noise in `brightness` [-].
    """

    angle: float
    across: FloatArray
    along: FloatArray
    brightness: FloatArray
    ends: FloatArray
    noise: float

    @property
    def high(self) -> float:
        """Height of a strip [points]."""
        return float(self.along[1] - self.along[0])


def strips_across(brightness: FloatArray, angle: float, noise: float) -> Strips:
    """Add a picture up in strips.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        Brightness [-].
    angle : float
        Direction across the lines, from the image's x axis towards its y axis [rad].
    noise : float
        Standard deviation of the noise of a point [-].

    Returns
    -------
    Strips
        Strips of a hundredth of the shorter side.

    References
    ----------
    Arithmetic mean of the points in each square of the strip; straight lines between their mean places.

    Examples
    --------
    >>> picture = np.tile(np.arange(200.0) % 20 < 4, (100, 1)).astype(float)
    >>> found = strips_across(picture, 0.0, 0.0)
    >>> found.brightness.shape, found.high
    ((25, 202), 4.0)
    """
    rows, columns = brightness.shape
    high = max(LEAST_HIGH, round(min(brightness.shape) / PER_PICTURE))
    x = (np.arange(columns) - 0.5 * (columns - 1))[None, :]
    y = (np.arange(rows) - 0.5 * (rows - 1))[:, None]
    cos, sin = math.cos(angle), math.sin(angle)
    reach = 0.5 * (columns * abs(cos) + rows * abs(sin))
    aside = 0.5 * (columns * abs(sin) + rows * abs(cos))
    wide, count = int(2 * reach) + 2, int(2 * aside / high)
    place = x * cos + y * sin
    number = np.floor((y * cos - x * sin + aside) / high).astype(np.int32) * np.int32(wide)
    number += np.floor(place + reach).astype(np.int32)
    shape, size = (-1, wide), (count + 2) * wide
    points = np.bincount(number.ravel(), minlength=size)[:size].reshape(shape)[:count].astype(float)
    total = np.bincount(number.ravel(), brightness.ravel(), size)[:size].reshape(shape)[:count]
    middle = np.bincount(number.ravel(), place.ravel(), size)[:size].reshape(shape)[:count]
    across = np.arange(wide) + 0.5 - reach
    mean, ends = np.zeros((count, wide)), np.full((count, 2), np.nan)
    typical = float(np.median(points[points > 0]))
    for strip in range(count):
        seen = np.flatnonzero(points[strip] > COVERED * typical)
        if seen.size > 2 * LEAST_PITCH:
            at = middle[strip, seen] / points[strip, seen]
            # Lines parallel to rows or columns leave some squares empty.
            mean[strip] = np.interp(across, at, total[strip, seen] / points[strip, seen])
            ends[strip] = at[0], at[-1]
    along = (np.arange(count) + 0.5) * high - aside
    return Strips(angle, across, along, mean, ends, noise / math.sqrt(typical))


@dataclass(frozen=True, slots=True)
class Row:
    """A row of evenly spaced lines in a strip.

    Parameters
    ----------
    strip : int
        Number of the strip.
    places : array, shape (lines,)
        Places of the lines across [points].
    bright : bool
        Whether the lines are brighter than what is between them.
    """

    strip: int
    places: FloatArray
    bright: bool


def longest_row(strips: Strips, near: float | None = None) -> Row:
    """Find the strip with the longest row of evenly spaced lines.

    Parameters
    ----------
    strips : Strips
        The picture in strips.
    near : float, optional
        Look only close to that place along the lines [points].

    Returns
    -------
    Row
        Of the rows with the most lines and the most even spacing, that with the strongest lines.

    Raises
    ------
    ValueError
        If no strip has five lines.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> picture = np.tile(np.where(np.arange(200) % 20 < 4, 0.1, 0.9), (100, 1))
    >>> found = longest_row(strips_across(picture, 0.0, 0.0))
    >>> len(found.places), found.bright, float(np.median(np.diff(found.places)))
    (9, False, 20.0)
    """
    chosen = np.arange(0, len(strips.along), 2)
    if near is not None:
        chosen = np.flatnonzero(np.abs(strips.along - near) < 4 * strips.high)
    rows = [row for strip in chosen for row in _rows_in(strips, int(strip))]
    if not rows:
        raise ValueError("no regular lines stand out in the picture")
    # A strip that holds the lines' ends only shows them as faint.
    most = max(value for value, _, _ in rows)
    return max((one for one in rows if one[0] > NEARLY * most), key=lambda one: one[1])[2]


def row_in(strips: Strips, strip: int) -> Row:
    """Find the longest row of evenly spaced lines in one strip.

    Parameters
    ----------
    strips : Strips
        The picture in strips.
    strip : int
        Number of the strip.

    Returns
    -------
    Row
        The row with the most lines and the most even spacing.

    Raises
    ------
    ValueError
        If the strip does not have five lines.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> picture = np.tile(np.where(np.arange(200) % 20 < 4, 0.1, 0.9), (100, 1))
    >>> len(row_in(strips_across(picture, 0.0, 0.0), 3).places)
    9
    """
    rows = _rows_in(strips, strip)
    if not rows:
        raise ValueError("no regular lines stand out in the strip")
    return max(rows, key=lambda one: one[0])[2]


def _rows_in(strips: Strips, strip: int) -> list[tuple[float, float, Row]]:
    """Rows in a strip, each with how long and even it is and how strong its lines are."""
    if not np.isfinite(strips.ends[strip, 0]):
        return []
    rows = []
    inside = (strips.across > strips.ends[strip, 0]) & (strips.across < strips.ends[strip, 1])
    at = strips.across[inside]
    seen = gaussian_filter1d(strips.brightness[strip, inside], 1.0)
    for bright in (False, True):
        shown = (seen - np.median(seen)) * (1.0 if bright else -1.0)
        for places in _rows(at, shown, strips.noise):
            apart = np.diff(places)
            uneven = robust_sd(apart - np.median(apart)) / float(np.median(apart))
            if _narrow(at, shown, places):
                value = len(places) * (1.0 - min(6.0 * uneven, 0.7))
                rows.append((value, float(np.interp(places, at, shown).mean()), Row(strip, places, bright)))
    return rows


def _rows(at: FloatArray, shown: FloatArray, noise: float) -> list[FloatArray]:
    """Rows of lines in one strip, for some distances that are frequent in it."""
    least = max(STANDS_OUT * float(np.quantile(shown, 0.98)), OVER_NOISE * noise)
    peaks, _ = find_peaks(shown, prominence=least, distance=0.8 * LEAST_PITCH)
    if len(peaks) < FEWEST:
        return []
    places = at[peaks]
    pitches = {round(float(one), 1) for one in np.quantile(np.diff(places), (0.25, 0.5, 0.75))}
    rows = [_evenly_spaced(places, pitch) for pitch in sorted(pitches) if pitch >= LEAST_PITCH]
    return [row for row in rows if len(row) >= FEWEST]


def _evenly_spaced(places: FloatArray, pitch: float) -> FloatArray:
    """Give the most of the places that follow each other at a distance; others may lie between them."""
    first = np.searchsorted(places, places - (1.0 + OFF_EVEN) * pitch).tolist()
    after = np.searchsorted(places, places - (1.0 - OFF_EVEN) * pitch).tolist()
    length, before = [1] * len(places), [-1] * len(places)
    for number, (start, stop) in enumerate(zip(first, after, strict=True)):
        for other in range(start, stop):
            if length[other] + 1 > length[number]:
                length[number], before[number] = length[other] + 1, other
    number = length.index(max(length))
    row = []
    while number >= 0:
        row.append(number)
        number = before[number]
    return places[row[::-1]]


def _narrow(at: FloatArray, shown: FloatArray, row: FloatArray) -> bool:
    """Tell whether lines are narrower than what is between them."""
    pitch = float(np.median(np.diff(row)))
    mean = np.interp(row[1:-1, None] + np.linspace(-0.5, 0.5, 41) * pitch, at, shown).mean(axis=0)
    return bool(np.mean(mean > 0.5 * (mean.max() + mean.min())) < WIDEST)
