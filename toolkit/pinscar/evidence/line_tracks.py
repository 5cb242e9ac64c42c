"""Lines followed from strip to strip: where each is in each strip, how dark and how wide."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.evidence.line_strips import FEWEST, Row, Strips

FloatArray = NDArray[np.float64]
MOST = 400
"""Most lines to either side of the middle one."""
MORE = 3
"""Lines beyond the last one that are looked for in each further strip."""
PRESENT, OVER_NOISE, STRONGEST = 0.45, 4.0, 3.0
"""Step from which on a line is there, over the usual one and over the noise, and the strongest one."""
OFF = 0.25
"""How far a line may lie from where it is looked for, over the distance of lines."""
MOST_OF_THEM = 0.75
"""Share of the lines known so far that a strip must show."""
HIDDEN, STRIPS_HIDDEN = 0.5, 2
"""Strips that may be passed over where other lines cross: so many lines' distances, and strips more."""
HALF, FLANK, FOOT = 0.35, 0.1, 0.35
"""Half the width in which a line is looked at and half that of the ground beside it, over the distance of
lines; and the share of a line's step over which it counts."""


@dataclass(frozen=True, slots=True)
class Tracks:
    """Lines in strips; NaN where a line is not seen.

    Parameters
    ----------
    pitch : float
        About the distance of the lines [points].
    strips : array of int, shape (strips,)
        Which strips show the lines.
    place : array, shape (strips, lines)
        Places across the lines [points].
    step : array, shape (strips, lines)
        How much darker or brighter than the ground they are, over the ground's brightness [1].
    width : array, shape (strips, lines)
        Their widths, as a standard deviation [points].
    ground : array, shape (strips, lines)
        Brightness beside them [-].
    usual : float
        Usual step in the first strip [1].
    """

    pitch: float
    strips: NDArray[np.intp]
    place: FloatArray
    step: FloatArray
    width: FloatArray
    ground: FloatArray
    usual: float


@dataclass(frozen=True, slots=True)
class _Seen:
    """Lines as they were measured in one strip."""

    place: FloatArray
    step: FloatArray
    width: FloatArray
    ground: FloatArray


def follow(strips: Strips, row: Row) -> Tracks:
    """Follow the lines of a row through the strips on both sides, and find further ones beyond its ends.

    The ground beside a line is taken as straight from its one side to the other, and a line's step as a share
    of it: so light that falls off does not move a line. A line's place is the centroid of what stands out.

    Parameters
    ----------
    strips : Strips
        The picture in strips.
    row : Row
        A row of lines in one of them.

    Returns
    -------
    Tracks
        The lines in the strips next to each other that show three quarters of the lines known so far. Strips
        that other lines hide are passed over.

    Raises
    ------
    ValueError
        If even the row's own strip does not show its lines so.

    References
    ----------
    Own method.

    Examples
    --------
    >>> from pinscar.evidence.line_strips import longest_row, strips_across
    >>> picture = np.tile(np.where(np.arange(200) % 20 < 4, 0.1, 0.9), (100, 1))
    >>> strips = strips_across(picture, 0.0, 0.0)
    >>> found = follow(strips, longest_row(strips))
    >>> found.place.shape, float(np.diff(found.place[0]).mean().round(6))
    ((25, 9), 20.0)
    """
    pitch = float(np.ptp(row.places)) / (len(row.places) - 1)
    lines = 2 * MOST + 1
    count = len(strips.along)
    layers = [np.full((count, lines), np.nan) for _ in range(4)]
    known = np.full(lines, np.nan)
    first = MOST - len(row.places) // 2
    if len(row.places) > MOST:
        raise ValueError(f"more than {MOST} lines are not followed")
    known[first : first + len(row.places)] = row.places
    usual = float(np.nanmedian(_measured(strips, row, row.strip, row.places, pitch).step))
    known = _step_to(strips, row, row.strip, known, (pitch, usual), layers)
    if not np.isfinite(layers[0][row.strip]).any():
        raise ValueError("no regular lines stand out in the picture")
    most_hidden = HIDDEN * pitch / strips.high + STRIPS_HIDDEN
    for way in (-1, 1):
        latest, hidden, strip = known.copy(), 0, row.strip + way
        while 0 <= strip < count and hidden <= most_hidden:
            if np.isfinite(strips.ends[strip, 0]):
                latest = _step_to(strips, row, strip, latest, (pitch, usual), layers)
            hidden = 0 if np.isfinite(layers[0][strip]).any() else hidden + 1
            strip += way
    seen = np.isfinite(layers[0])
    shown, numbers = np.flatnonzero(seen.any(axis=1)), np.flatnonzero(seen.any(axis=0))
    cut = np.ix_(shown, np.arange(numbers[0], numbers[-1] + 1))
    place, step, width, ground = (layer[cut] for layer in layers)
    return Tracks(pitch, shown, place, step, width, ground, usual)


def _step_to(
    strips: Strips,
    row: Row,
    strip: int,
    known: FloatArray,
    usual: tuple[float, float],
    layers: list[FloatArray],
) -> FloatArray:
    """Look for the lines in a strip and note them down if most are there; give what is known then."""
    pitch, step = usual
    numbers, places = _looked_for(known)
    seen = _measured(strips, row, strip, places, pitch)
    inside = np.isfinite(seen.step)
    noise = OVER_NOISE * strips.noise / np.maximum(seen.ground, 1e-3)
    there = inside & (seen.step > np.maximum(PRESENT * step, noise)) & (seen.step < STRONGEST * step + 0.1)
    there &= np.abs(seen.place - places) < OFF * pitch
    expected = inside & np.isfinite(known[numbers])
    if there.sum() < FEWEST or (there & expected).sum() < max(FEWEST, MOST_OF_THEM * expected.sum()):
        return known
    for layer, values in zip(layers, (seen.place, seen.step, seen.width, seen.ground), strict=True):
        layer[strip, numbers[there]] = values[there]
    latest = known.copy()
    before = known[numbers[there]]
    latest[numbers[there]] = np.where(
        np.isfinite(before), 0.5 * (before + seen.place[there]), seen.place[there]
    )
    if np.isfinite(latest[numbers[inside]]).sum() >= FEWEST:
        # Turned lines leave the picture on one side and come in on the other.
        latest[numbers[~inside]] = np.nan
    return latest


def _looked_for(known: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    """Numbers of the lines that are looked for next, and where: known ones, those between, some beyond."""
    at = np.flatnonzero(np.isfinite(known))
    numbers = np.arange(max(at[0] - MORE, 0), min(at[-1] + MORE + 1, known.size))
    places = np.interp(numbers, at, known[at])
    for ends, beyond in ((at[:6], numbers < at[0]), (at[-6:], numbers > at[-1])):
        places[beyond] = np.polyval(np.polyfit(ends, known[ends], 1), numbers[beyond])
    return numbers, places


def _measured(strips: Strips, row: Row, strip: int, places: FloatArray, pitch: float) -> _Seen:
    """Measure lines near some places of a strip."""
    profile, across = strips.brightness[strip], strips.across
    off = np.arange(-0.45 * pitch, 0.45 * pitch, max(0.25, pitch / 60))
    off -= off.mean()
    beside = np.linspace(-FLANK * pitch, FLANK * pitch, 5)
    near = np.abs(off) < HALF * pitch
    centre = places.copy()
    for _ in range(2):
        left, right = (
            np.interp((centre + side * pitch)[:, None] + beside, across, profile).mean(axis=1)
            for side in (-0.5, 0.5)
        )
        ground = left[:, None] + (right - left)[:, None] * (off / pitch + 0.5)
        shown = np.interp(centre[:, None] + off, across, profile) / np.maximum(ground, 1e-3) - 1.0
        shown = np.where(near, shown if row.bright else -shown, -1.0)
        step = shown.max(axis=1)
        weight = np.where(near, np.maximum(shown - FOOT * step[:, None], 0.0), 0.0)
        total = np.maximum(weight.sum(axis=1), 1e-9)
        shift = (weight * off).sum(axis=1) / total
        centre = centre + shift
    width = np.sqrt(np.maximum((weight * off**2).sum(axis=1) / total - shift**2, 0.0))
    margin = (0.5 + FLANK) * pitch
    outside = (places - margin < strips.ends[strip, 0]) | (places + margin > strips.ends[strip, 1])
    return _Seen(centre, np.where(outside, math.nan, step), width, 0.5 * (left + right))
