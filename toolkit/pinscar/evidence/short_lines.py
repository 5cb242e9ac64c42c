"""Rulers whose lines are short: the band that they lie in, and whether it stands alone in the picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates, uniform_filter1d

FloatArray = NDArray[np.float64]
BANDS, LEAST_BAND = 14, 24
"""Bands that a side is divided into, each half over the next, and least width of one [points]."""
FEWEST_LINES = 8
"""Fewest lines that a band is taken for a ruler with."""
SHORTEST_PITCH = 6.0
"""Shortest distance of lines [points]."""
OWN = 0.9
"""Least power of a period over that of the half or the third of it for being the lines' own."""
PRESENT, OF_LINES = 0.4, 0.8
"""Share of the usual darkness from which on a line is there, and share of the lines that must be there."""
LEAST_LENGTH = 0.25
"""Least length of the lines over their distance."""
ALONE = 0.25
"""Most darkness that other places may have at the lines and between them, over that of the lines: rows of
keys, bricks or letters have as much."""
BESIDE = 1.5
"""How far from the lines' ends other places begin, over the lines' length: some lines are longer."""


@dataclass(frozen=True, slots=True)
class Band:
    """A band in which short lines lie.

    Parameters
    ----------
    place : tuple of slice
        Rows and columns of the picture.
    frequency : float
        Of the lines [1/points].
    angle : float
        About across the lines, from the image's x axis towards its y axis [rad].
    """

    place: tuple[slice, slice]
    frequency: float
    angle: float

    @property
    def around(self) -> tuple[slice, slice]:
        """Rows and columns with as much again on both sides of the band."""
        rows, columns = self.place
        if self.angle:
            wide = columns.stop - columns.start
            return rows, slice(max(columns.start - wide, 0), columns.stop + wide)
        high = rows.stop - rows.start
        return slice(max(rows.start - high, 0), rows.stop + high), columns


def band_of_lines(flat: FloatArray) -> Band:
    """Find the band of rows or of columns with the strongest regular lines.

    Parameters
    ----------
    flat : array, shape (rows, columns)
        Brightness less its wide means [-].

    Returns
    -------
    Band
        The band whose mean along the lines has the most of one period.

    Raises
    ------
    ValueError
        If the picture has no band.

    References
    ----------
    Periodogram with a Hann window: textbook. The bands: own.

    Examples
    --------
    >>> flat = np.zeros((240, 300))
    >>> flat[100:130, ::15] = -0.5
    >>> found = band_of_lines(flat)
    >>> round(1 / found.frequency), found.angle
    (15, 0.0)
    """
    best, strongest = None, -1.0
    for standing in (False, True):
        turned = flat.T if standing else flat
        rows, columns = turned.shape
        high = max(LEAST_BAND, rows // BANDS)
        window = np.hanning(columns)
        frequencies = np.fft.rfftfreq(4 * columns)
        looked_at = (frequencies >= (FEWEST_LINES - 1) / columns) & (frequencies <= 1.0 / SHORTEST_PITCH)
        for top in range(0, max(rows - high, 0) + 1, high // 2):
            profile = turned[top : top + high].mean(axis=0)
            power = np.abs(np.fft.rfft((profile - profile.mean()) * window, 4 * columns)) ** 2
            power[~looked_at] = 0.0
            peak = int(power.argmax())
            for part in (3, 2):
                # Thin lines have overtones as strong as their own period.
                below = power * (np.abs(frequencies - frequencies[peak] / part) < 0.6 / columns)
                if below.max() > OWN * power[peak]:
                    peak = int(below.argmax())
                    break
            near = np.abs(frequencies - frequencies[peak]) < 3.0 / columns
            strength = float(power[near].sum()) / columns
            if strength > strongest:
                rows_kept, columns_kept = slice(top, top + high), slice(0, columns)
                place = (columns_kept, rows_kept) if standing else (rows_kept, columns_kept)
                strongest = strength
                best = Band(place, float(frequencies[peak]), 0.5 * math.pi if standing else 0.0)
    if best is None:
        raise ValueError("no regular lines stand out in the picture")
    return best


def stand_alone(flat: FloatArray, angle: float, centres: FloatArray) -> bool:
    """Tell whether short lines are whole over one length, and the rest of the picture is bare.

    Parameters
    ----------
    flat : array, shape (rows, columns)
        Brightness less its wide means [-].
    angle : float
        Direction across the lines, from the image's x axis towards its y axis [rad].
    centres : array, shape (lines,)
        Their places across [points].

    Returns
    -------
    bool
        Whether nearly all lines are there over one length, without gaps between the lines, and little is
        seen beyond.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> flat = np.zeros((240, 300))
    >>> flat[100:130, 5::15] = -0.5
    >>> stand_alone(flat, 0.0, np.arange(5.0, 300.0, 15.0))
    True
    >>> flat[10:50, 12::15] = -0.5
    >>> stand_alone(flat, 0.0, np.arange(5.0, 300.0, 15.0))
    False
    """
    pitch = float(np.median(np.diff(centres)))
    whole = np.abs(np.diff(centres) / pitch - 1.0) < 0.25
    if len(centres) < FEWEST_LINES or whole.mean() < OF_LINES:
        return False
    reach = math.hypot(*flat.shape)
    along = np.arange(-reach, reach)
    column = centres[:, None] * math.cos(angle) - along * math.sin(angle)
    row = centres[:, None] * math.sin(angle) + along * math.cos(angle)
    inside = (row >= 0) & (row <= flat.shape[0] - 1) & (column >= 0) & (column <= flat.shape[1] - 1)
    half = 0.5 * pitch * np.array([math.cos(angle), math.sin(angle)])
    on, before, after = (
        map_coordinates(flat, [row + side * half[1], column + side * half[0]], order=1, mode="nearest")
        for side in (0, -1, 1)
    )
    step = uniform_filter1d(np.where(inside, on - 0.5 * (before + after), 0.0), 3, axis=1)
    told = inside.mean(axis=0) > 0.5
    middle = np.median(step, axis=0)
    at = int(np.argmax(np.where(told, np.abs(middle), 0.0)))
    step = step * np.sign(middle[at])
    strongest = np.abs(middle[told])
    darkness = float(np.median(strongest[strongest > 0.5 * strongest.max()]))
    there = told & ((step > PRESENT * darkness).mean(axis=0) >= OF_LINES)
    run = _run_about(there, at)
    length = run[1] - run[0]
    if length < max(LEAST_LENGTH * pitch, 6.0):
        return False
    away = np.maximum(run[0] - np.arange(along.size), np.arange(along.size) - run[1] + 1)
    other = told & (away > BESIDE * length)
    if np.count_nonzero(other) < length:
        return False
    seen = np.abs(step).mean(axis=0)[other]
    return bool(np.quantile(seen, 0.85) < ALONE * darkness)


def _run_about(there: NDArray[np.bool_], at: int) -> tuple[int, int]:
    """Give the ends of the run of places about one."""
    gaps = np.flatnonzero(~there)
    before, after = gaps[gaps <= at], gaps[gaps >= at]
    start = int(before[-1]) + 1 if before.size else 0
    return start, int(after[0]) if after.size else there.size
