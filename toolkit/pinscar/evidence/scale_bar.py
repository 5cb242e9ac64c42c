"""The scale of a micrograph from the bar burnt into it: its ends to a fraction of a point.

Candidates are long, thin, even rectangles with sharp sides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import (
    binary_dilation,
    find_objects,
    label,
    map_coordinates,
    maximum_filter1d,
    minimum_filter1d,
)
from skimage.color import rgba2rgb
from skimage.util import img_as_float64

from pinscar.evidence.bar_shape import FEWEST, SHORTEST, BarShape, as_bar, same_place
from pinscar.evidence.grey import grey

FloatArray = NDArray[np.float64]
Mask = NDArray[np.bool_]
Place = tuple[slice, slice]
THICKEST = 0.07
"""Greatest thickness, as a share of the picture's side across the bar."""
COARSE = 250_000
"""Points that a large picture is looked over on first."""
FAINTER = 0.6
"""Share of the least step that is enough there."""
CONTRAST = 0.1
"""Least step in brightness between a bar and what is beside it."""
RING = 3
"""How far from a bar its surroundings are taken [points]."""
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
        The picture [grey or colour values].

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
        small, block = _small(plane)
        for dark in (False, True):
            brightest = 65535 - small[1] if dark else small[0]
            places = [
                _places(brightest.T if standing else brightest, block, *_sizes(plane.shape, standing))
                for standing in (False, True)
            ]
            if not any(places):
                continue
            bright = 1.0 - plane if dark else plane
            for standing in (False, True):
                found += _bars_in(bright.T if standing else bright, places[standing], standing)
    return found


def _planes(image: NDArray[np.generic]) -> Iterator[FloatArray]:
    """Brightness, and each colour where they are not alike: a bar may be of the brightness around it."""
    yield grey(image)
    pixels = np.asarray(image)
    if pixels.ndim == 2 or pixels.shape[2] <= 2:
        return
    values = np.asarray(rgba2rgb(img_as_float64(pixels))) if pixels.shape[2] == 4 else pixels
    red, green, blue = (np.ascontiguousarray(values[..., channel]) for channel in range(3))
    highest = np.maximum(np.maximum(red, green), blue)
    lowest = np.minimum(np.minimum(red, green), blue)
    if float(img_as_float64(highest - lowest).max()) < 0.02:
        return
    for channel in (red, green, blue):  # one at a time: a large picture fills the memory
        yield np.asarray(img_as_float64(channel), dtype=np.float64)


def _odd(value: float) -> int:
    return 2 * round(value / 2) + 1


def _sizes(shape: tuple[int, ...], standing: bool = False) -> tuple[int, int]:
    """Give the shortest bar and the greatest thickness that are looked for [points]."""
    rows, columns = shape[::-1] if standing else shape
    return _odd(max(FEWEST, SHORTEST * columns) - 4), _odd(max(9.0, THICKEST * rows))


def _bars_in(plane: FloatArray, places: list[Place], standing: bool) -> list[BarShape]:
    segment, thickest = _sizes(plane.shape)
    bars: list[BarShape] = []
    for rows, columns in places:
        # What lies beyond the place by two thicknesses, or by a bar's length, decides what remains within it.
        start, stop = max(rows.start - 2 * thickest, 0), min(rows.stop + 2 * thickest, plane.shape[0])
        left, right = max(columns.start - segment, 0), min(columns.stop + segment, plane.shape[1])
        # Whole numbers of 16 bits are filtered faster than floats, and lose nothing of an 8-bit picture.
        level = np.rint(plane[start:stop, left:right] * 65535).astype(np.uint16)
        near = _long_and_thin(level, segment, thickest) > CONTRAST * 65535
        thin = np.zeros((stop - start, plane.shape[1]), dtype=bool)
        here = slice(rows.start - start, rows.stop - start), columns
        thin[here] = near[here[0], columns.start - left : columns.stop - left]
        marks, _ = label(thin, np.ones((3, 3)))
        bars += _bars_of(plane, marks, start, (segment, thickest), standing)
    return bars


def _long_and_thin(level: NDArray[np.uint16], segment: int, thickest: int) -> NDArray[np.int32]:
    """Give what remains after an opening along the rows and vanishes in one across them."""
    along = maximum_filter1d(minimum_filter1d(level, segment, axis=1), segment, axis=1)
    across = maximum_filter1d(minimum_filter1d(along, thickest, axis=0), thickest, axis=0)
    return np.asarray(along.astype(np.int32) - across)


def _small(plane: FloatArray) -> tuple[tuple[NDArray[np.uint16], NDArray[np.uint16]], int]:
    """Give the brightest and the darkest point of each block, and the side of a block."""
    rows, columns = plane.shape
    block = max(int(np.sqrt(plane.size / COARSE)), 1)
    high, wide = rows // block, columns // block
    parts = plane[: high * block, : wide * block].reshape(high, block, wide * block)
    # Whole rows first: that runs through the memory in order, and leaves little for the second step.
    ends = (
        parts.max(axis=1).reshape(high, wide, block).max(axis=2),
        parts.min(axis=1).reshape(high, wide, block).min(axis=2),
    )
    brightest, darkest = (np.rint(one * 65535).astype(np.uint16) for one in ends)
    return (brightest, darkest), block


def _places(small: NDArray[np.uint16], block: int, segment: int, thickest: int) -> list[Place]:
    """Find rows and columns in which something long and thin may lie, on a picture of the brightest points.

    A bar that is bright all along is bright all along in the brightest points of every block too, however
    thin it is, so a large picture is not filtered in full.
    """
    if block == 1:
        return [(slice(0, len(small)), slice(0, small.shape[1]))]
    short, thick = max(_odd(segment / block - 2), 3), _odd(thickest / block) + 4
    found = _long_and_thin(small, short, thick) > FAINTER * CONTRAST * 65535
    if not found.any():
        return []
    seen: Mask = binary_dilation(found, np.ones((3, 3), dtype=bool), iterations=2)
    places = []
    for first, last in np.flatnonzero(np.diff(seen.any(axis=1), prepend=False, append=False)).reshape(-1, 2):
        columns = np.flatnonzero(seen[first:last].any(axis=0))
        ends = (int(first), int(last)), (int(columns[0]), int(columns[-1]) + 1)
        # Points beyond the last whole block belong to it.
        tall, wide = (
            slice(low * block, high * block + (block if high == side else 0))
            for (low, high), side in zip(ends, small.shape, strict=True)
        )
        places.append((tall, wide))
    return places


def _bars_of(
    plane: FloatArray, marks: NDArray[np.integer[Any]], start: int, sizes: tuple[int, int], standing: bool
) -> list[BarShape]:
    """Check each mark of a band of rows, which begins with row `start`."""
    segment, thickest = sizes
    bars = []
    taken = np.zeros(marks.shape, dtype=bool)
    for number, place in enumerate(find_objects(marks), start=1):
        if place[1].stop - place[1].start < segment:
            continue
        low, high = max(place[0].start - thickest, 0), min(place[0].stop + thickest, len(marks))
        seed = marks[low:high] == number
        if (taken[low:high] & seed).any():
            continue
        piece, inside, cut = _piece(plane[start + low : start + high], seed)
        if piece is None:
            continue
        taken[low:high] |= piece
        bar = as_bar(plane, piece, start + low, standing, (inside, cut))
        if bar is not None and not _is_letter(bar):
            bars.append(bar)
    return bars


def _piece(strip: FloatArray, seed: Mask) -> tuple[Mask | None, float, float]:
    """Cut the strip half way between the seed and its surroundings; give the piece the seed is in."""
    every = np.ones((3, 3), dtype=bool)
    columns = np.flatnonzero(seed.any(axis=0))
    around = slice(max(int(columns[0]) - RING, 0), int(columns[-1]) + RING + 1)
    ring = binary_dilation(seed[:, around], every, RING) & ~binary_dilation(seed[:, around], every)
    # Most points of a thin bar lie on its sides, so take the brightest point across it.
    inside = float(np.median(np.where(seed[:, columns], strip[:, columns], 0.0).max(axis=0)))
    # Ticks and letters are as bright as the bar, but only a small part of its surroundings.
    outside = float(np.quantile(strip[:, around][ring], 0.8))
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


MARGIN = 14
"""How far beyond a bar its surroundings are looked at [points]."""
UNEVEN = 0.08
"""Largest standard deviation along a bar, as a share of the step at its ends."""
THIN = 4.5
"""Thickness up to which a bar aslant is summed up across with its sides [points]."""
AGREED = 0.01
"""Relative difference below which a lying and a standing bar have the same length."""
WHOLE = 1 / np.sqrt(12)
"""Standard deviation of what rounding to whole points does [points]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleBarReading:
    """A scale read from a bar.

    Parameters
    ----------
    scale : float
        Size of one point [m].
    relative_uncertainty : float
        Its standard uncertainty [1]. It is that of placing both ends: programs draw a bar to whole points,
        a picture made smaller or larger spreads that over the width of the edge, noise adds to it, and end
        ticks do not show from where the length counts. That of the bar's own length is not in it.
    points : float
        Length of the bar [points].
    ends : array, shape (2, 2)
        Column and row of both ends [points].
    angle : float
        Direction of the bar, from the image's x axis towards its y axis [rad]; near 0 or half of pi.
    ticks : float
        Width of the end ticks [points], 0 where there are none; the length then counts between their middles.
    warnings : tuple of str
        What to look at, in words.
    """

    scale: float
    relative_uncertainty: float
    points: float
    ends: FloatArray
    angle: float
    ticks: float
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Measured:
    """A bar with its ends along its centre line [columns], and their standard uncertainties [points]."""

    shape: BarShape
    start: float
    end: float
    uncertainty: float

    @property
    def points(self) -> float:
        return (self.end - self.start) * float(np.hypot(1.0, self.shape.slope))


def read_scale_bar(image: NDArray[np.generic], length: float) -> ScaleBarReading:
    """Read the scale from the scale bar burnt into a picture.

    Parameters
    ----------
    image : array, shape (rows, columns) or (rows, columns, channels)
        The picture [grey or colour values].
    length : float
        What the bar stands for [m].

    Returns
    -------
    ScaleBarReading
        The scale.

    Raises
    ------
    ValueError
        If no bar is seen, or several that could be meant, or the length is not positive.

    References
    ----------
    Own method. Rounding to whole points as a uniform distribution: JCGM 100:2008 (GUM), 4.3.7.

    Examples
    --------
    >>> picture = np.full((120, 160), 0.3)
    >>> picture[100:104, 20:80] = 1.0
    >>> reading = read_scale_bar(picture, 0.3e-3)
    >>> round(reading.points, 6), round(reading.scale * 1e6, 6), round(reading.relative_uncertainty, 4)
    (60.0, 5.0, 0.0068)
    """
    if not (length > 0 and np.isfinite(length)):
        raise ValueError(f"the length of the bar must be positive, not {length}")
    bar = _the_one(_apart([one for shape in find_bars(image) if (one := _measured(shape)) is not None]))
    points = bar.points
    return ScaleBarReading(
        scale=length / points,
        relative_uncertainty=bar.uncertainty / points,
        points=points,
        ends=_ends(bar),
        angle=_angle(bar.shape),
        ticks=float(bar.shape.ticks),
        warnings=_warnings(bar),
    )


def _apart(bars: list[_Measured]) -> list[_Measured]:
    """Keep each bar once, as read in the colour in which its ends are surest."""
    strongest = max((bar.shape.level - bar.shape.cut for bar in bars), default=0.0)

    def order(bar: _Measured) -> tuple[bool, float]:
        return bar.shape.level - bar.shape.cut < 0.5 * strongest, bar.uncertainty

    kept: list[_Measured] = []
    for bar in sorted(bars, key=order):
        if not any(same_place(bar.shape, other.shape) for other in kept):
            kept.append(bar)
    return kept


def _the_one(bars: list[_Measured]) -> _Measured:
    """Choose the bar; a lying and a standing one of the same length may both be there."""
    if not bars:
        raise ValueError("no scale bar is seen: no even, sharp, level or upright bar clear of the border")
    best = min(bars, key=lambda one: one.uncertainty / one.points)
    alike = all(abs(one.points / best.points - 1) < AGREED for one in bars)
    crossed = len(bars) == 2 and bars[0].shape.standing != bars[1].shape.standing
    if len(bars) > 1 and not (alike and crossed):
        told = ", ".join(f"{one.points:.0f} at {_place(one)}" for one in bars[:4])
        raise ValueError(f"{len(bars)} bars could be meant, long [points]: {told}")
    return best


def _place(bar: _Measured) -> str:
    column, row = _ends(bar).mean(axis=0)
    return f"column {column:.0f}, row {row:.0f}"


def _ends(bar: _Measured) -> FloatArray:
    columns = np.array([bar.start, bar.end])
    ends = np.column_stack([columns, bar.shape.middle + bar.shape.slope * columns])
    return ends[:, ::-1] if bar.shape.standing else ends


def _angle(shape: BarShape) -> float:
    turn = float(np.arctan(shape.slope))
    return float(np.pi / 2 - turn) if shape.standing else turn


def _warnings(bar: _Measured) -> tuple[str, ...]:
    found = []
    if bar.shape.ticks:
        share = 100 * bar.shape.ticks / bar.points
        found.append(
            f"the bar has end ticks and is read between their middles; it is {share:.1f} % longer over all"
        )
    share = 100 * bar.uncertainty / bar.points
    if share > 1.0 and not bar.shape.ticks:
        found.append(f"the bar is {bar.points:.0f} points long: its ends leave {share:.1f} % of doubt")
    return tuple(found)


def _measured(shape: BarShape) -> _Measured | None:
    """Place both ends; None where the bar is uneven or its ends or sides fade, as a scratch's do."""
    columns = np.arange(shape.first - MARGIN, shape.last + MARGIN + 1)
    points = _sampled(shape, columns, _rows_across(shape))
    profile = points.mean(axis=0)
    level = float(np.median(profile[MARGIN + 3 : -MARGIN - 3]))
    ends = [_end(profile[::step], level, shape.long) for step in (-1, 1)]
    if ends[0] is None or ends[1] is None:
        return None
    step = min(level - end.outside for end in ends if end is not None)
    noise = float(profile[MARGIN + 3 : -MARGIN - 3].std()) / step
    if noise > UNEVEN or not _sides_are_sharp(shape, max(ends[0].rise, ends[1].rise)):
        return None
    whole = [WHOLE * max(1.0, end.rise) for end in ends if end is not None]
    # With ticks, the length may be meant from the outer or the inner edge, the same at both ends.
    open_ = shape.ticks / np.sqrt(3)
    uncertainty = float(np.sqrt(whole[0] ** 2 + whole[1] ** 2 + 2 * noise**2 + open_**2))
    start = float(columns[-1]) - ends[0].place + shape.ticks / 2
    end = float(columns[0]) + ends[1].place - shape.ticks / 2
    return _Measured(shape, start, end, uncertainty)


def _rows_across(shape: BarShape) -> FloatArray:
    """Distances from the centre line at which the ends are looked for.

    Well inside of the bar; of a thin one that runs aslant between the rows of points, its sides too, so that
    the sum across it is the same all along.
    """
    aslant = abs(shape.slope) * shape.long > 0.3
    half = shape.height / 2 + 0.5 if aslant and shape.height <= THIN else max(0.0, shape.height / 2 - 1)
    return np.linspace(-half, half, round(2 * half) + 1)


def _sampled(shape: BarShape, columns: NDArray[np.intp], across: FloatArray) -> FloatArray:
    """Brightness along the centre line and beside it; shape (across, columns)."""
    row = shape.middle + shape.slope * columns[None, :] + across[:, None]
    column = np.broadcast_to(columns[None, :].astype(float), row.shape)
    return np.asarray(map_coordinates(shape.plane, [row, column], order=1, mode="nearest"), dtype=float)


@dataclass(frozen=True, slots=True)
class _End:
    """The end of a bar: place along the profile, brightness outside, and width of the edge [points]."""

    place: float
    outside: float
    rise: int


def _end(profile: FloatArray, level: float, long: int) -> _End | None:
    """Find the right-hand end: whole points of the bar, and the share covered of those on the edge."""
    last = len(profile) - 1 - MARGIN
    rise = 1
    for _ in range(3):
        outside = float(np.median(profile[last + 1 + rise : last + 3 + rise]))
        if level - outside < 1e-3:
            return None
        share = np.clip((profile - outside) / (level - outside), 0.0, 1.0)
        full = last
        while full > len(profile) // 2 and share[full] < 0.9:
            full -= 1
        empty = full + 1
        while empty < len(share) - 1 and share[empty] > 0.1:
            empty += 1
        found = empty - full - 1
        if found <= rise:
            break
        rise = min(found, MARGIN - 4)
    if found > max(4.0, 0.03 * long) or found > MARGIN - 4:
        return None
    return _End(full + 0.5 + float(share[full + 1 : empty].sum()), outside, found)


def _sides_are_sharp(shape: BarShape, rise: int) -> bool:
    columns = np.arange(shape.first + 3, shape.last - 2)
    beyond = shape.height / 2 + 1.5 + max(1, rise) / 2
    beside = np.median(_sampled(shape, columns, np.array([-beyond, beyond])), axis=1)
    # The limit is half the step; beside the bar three quarters of the step must be reached.
    return bool((shape.level - beside > 1.5 * (shape.level - shape.cut)).all())
