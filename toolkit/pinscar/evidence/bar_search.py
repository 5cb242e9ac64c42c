"""Where on a picture a scale bar may lie: long, thin, even rectangles with sharp sides."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import (
    binary_dilation,
    find_objects,
    label,
    maximum_filter1d,
    minimum_filter1d,
)
from skimage.color import rgba2rgb
from skimage.util import img_as_float64

from pinscar.evidence.bar_shape import FEWEST, SHORTEST, BarShape, as_bar
from pinscar.evidence.grey import grey

FloatArray = NDArray[np.float64]
Mask = NDArray[np.bool_]
THICKEST = 0.07
"""Greatest thickness, as a share of the picture's side across the bar."""
CONTRAST = 0.1
"""Least step in brightness between a bar and what is beside it."""
LARGEST_LETTER = 0.3
"""Greatest height of a letter, as a share of the picture's side along it."""


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
        bar = as_bar(plane, piece, low, standing, (inside, cut))
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
