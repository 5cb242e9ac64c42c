"""The rectangles on a micrograph that may be a scale bar: long, thin, even and with sharp sides."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

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

from pinscar.evidence.bar_shape import FEWEST, LONGEST, SHORTEST, STEEPEST, BarShape, as_bar
from pinscar.evidence.grey import SMALLEST, STRIP, grey

PlaneArray = NDArray[np.float32]
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
STRONGER = (0.25, 0.5)
"""Steps at which a bar is told from scratches that touch it and are fainter."""
CUTS = (0.5, 0.75)
"""Where a bar is divided from what is beside it, in shares of the step: scratches that touch a bar are cut
off by the second."""
STRONG = 0.2
"""Least step of a bar that was cut out of what touches it."""
RING = 3
"""How far from a bar its surroundings are taken [points]."""
LARGEST_LETTER, A_BAR = 0.3, 0.12
"""Greatest height of a letter, as a share of the picture's side along it; and of one that lies on its
side, is among scratches, or stands beside another stroke."""
TALLEST_WORD, WIDEST_SPACE, NEAR_END = 0.3, 0.2, 0.025
"""Height in which a word is looked for above a line, widest space in it, and how near to the line's ends its
own must be, in shares of the line's length."""
LONGEST_TICK = 0.08
"""Longest tick at an end of a bar, over its length; longer strokes on one side of both ends make a frame."""
COLOURED = 0.02
"""Least difference of the colours somewhere in a picture that is not grey."""
FEWEST_CROSSINGS = 3
"""Fewest things that must touch a bar to be scratches: a stroke of a letter or a frame is touched by less."""
REACH = 16.0
"""How far beyond a bar the picture is cut out at least [points]."""


@dataclass(frozen=True, slots=True)
class _Seen:
    """A plane of brightness with the bars along its rows, and whether it is the picture on its side."""

    plane: PlaneArray
    standing: bool

    @property
    def sizes(self) -> tuple[int, int]:
        """The shortest bar and the greatest thickness that are looked for [points]."""
        rows, columns = self.plane.shape
        return _odd(max(FEWEST, SHORTEST * columns) - 4), _odd(max(9.0, THICKEST * rows))


def find_bars(image: NDArray[np.generic]) -> list[BarShape]:
    """Find the rectangles on a picture that may be a scale bar.

    In brightness and in two differences of colours, light and dark, lying and standing: what remains after an
    opening along the rows and vanishes in one across them is long and thin. Round each such place the picture
    is cut between the bar and its surroundings; the piece must be a bar: one straight band of even thickness
    without holes, clear of the picture's border, its ends plain or both with a tick. Where scratches as
    strong as the bar cross it, the piece is cut out of what the opening leaves, which has no scratches.

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
    for plane in planes(image):
        for standing in (False, True):
            view = plane.T if standing else plane
            *ends, block = _small(view)
            for dark, small in zip((False, True), ends, strict=True):
                level = 65535 - small if dark else small
                places = list(_places(level, block, _Seen(view, standing).sizes, view.shape[1]))
                if places:
                    seen = _Seen(1.0 - view if dark else view, standing)
                    found += _bars_at(seen, places, block)
    return found


def planes(image: NDArray[np.generic]) -> Iterator[PlaneArray]:
    """Give brightness, and differences of the colours where they are not alike.

    A coloured bar may be as bright as what is around it. Scratches are seen in brightness, hardly in colour.

    Parameters
    ----------
    image : array, shape (rows, columns) or (rows, columns, channels)
        The picture [grey or colour values].

    Yields
    ------
    array, shape (rows, columns)
        Brightness from 0 to 1, then differences of colours with 0.5 for none [-].

    Raises
    ------
    ValueError
        If the array is no picture.

    References
    ----------
    Red against blue and green against both: own choice.

    Examples
    --------
    >>> [float(plane.mean()) for plane in planes(np.full((70, 80), 0.25))]
    [0.25]
    """
    pixels = np.asarray(image)
    if pixels.ndim not in (2, 3) or min(pixels.shape[:2]) < SMALLEST:
        grey(pixels)
    yield _by_strips(pixels, grey)
    if pixels.ndim == 2 or pixels.shape[2] <= 2:
        return
    # One at a time: a large picture fills the memory.
    for weights in ((0.5, 0.0, -0.5), (-0.25, 0.5, -0.25)):
        plane = _by_strips(pixels, partial(_difference, weights=weights))
        if float(np.ptp(plane)) > COLOURED:
            yield plane


def _difference(strip: NDArray[np.generic], weights: tuple[float, ...]) -> PlaneArray:
    """Weighted difference of the colours, 0.5 where they are alike."""
    return np.asarray(_colours(strip) @ np.array(weights, dtype=np.float32) + 0.5, dtype=np.float32)


def _colours(strip: NDArray[np.generic]) -> PlaneArray:
    if strip.shape[2] == 4:
        return np.asarray(rgba2rgb(img_as_float64(strip)), dtype=np.float32)
    if strip.dtype == np.uint8:
        return strip.astype(np.float32) / np.float32(255.0)
    return np.asarray(img_as_float64(strip), dtype=np.float32)


def _by_strips(pixels: NDArray[np.generic], turned: Callable[[NDArray[np.generic]], Any]) -> PlaneArray:
    """Turn a picture strip by strip, so that a large one needs little memory beside the result."""
    rows, columns = pixels.shape[:2]
    plane = np.empty((rows, columns), dtype=np.float32)
    tall = max(SMALLEST, STRIP // columns)
    for start in range(0, max(rows - tall, 0) + 1, tall):
        # The last strip takes what would be too low to be a picture of its own.
        end = rows if rows - start < 2 * tall else start + tall
        plane[start:end] = turned(pixels[start:end])
    return plane


def _odd(value: float) -> int:
    return 2 * round(value / 2) + 1


def _small(plane: PlaneArray) -> tuple[NDArray[np.uint16], NDArray[np.uint16], int]:
    """Give the brightest and the darkest row of each block, after means along the rows, and a block's side.

    A bar along the rows keeps its brightness, however thin it is; a scratch aslant loses most of it.
    """
    rows, columns = plane.shape
    block = max(int(np.sqrt(plane.size / COARSE)), 1)
    if block == 1:
        level = np.rint(plane * 65535).astype(np.uint16)
        return level, level, 1
    high, wide = rows // block, columns // block
    cut = plane[: high * block, : wide * block]
    along = cut[:, ::block].copy()
    for step in range(1, block):
        along += cut[:, step::block]
    parts = along.reshape(high, block, wide)
    ends = (
        np.rint(one * (65535 / block)).astype(np.uint16) for one in (parts.max(axis=1), parts.min(axis=1))
    )
    brightest, darkest = ends
    return brightest, darkest, block


def _opened(level: NDArray[Any], segment: int) -> NDArray[Any]:
    """Give what an opening by a line along the rows leaves."""
    return np.asarray(maximum_filter1d(minimum_filter1d(level, segment, axis=1), segment, axis=1))


def _long_and_thin(level: NDArray[np.uint16], segment: int, thickest: int) -> NDArray[np.int32]:
    """Give what remains after an opening along the rows and vanishes in one across them."""
    along = _opened(level, segment)
    across = maximum_filter1d(minimum_filter1d(along, thickest, axis=0), thickest, axis=0)
    return np.asarray(along.astype(np.int32) - across)


def _places(
    level: NDArray[np.uint16], block: int, sizes: tuple[int, int], side: int
) -> Iterator[tuple[Place, Mask]]:
    """Find where something long and thin may lie on a picture, or on one of its blocks."""
    segment, thickest = sizes
    if block > 1:
        segment, thickest = max(_odd(segment / block - 2), 3), _odd(thickest / block) + 4
    shown = _long_and_thin(level, segment, thickest)
    told: set[tuple[int, ...]] = set()
    for least in (CONTRAST * (FAINTER if block > 1 else 1.0), *STRONGER):
        marks, _ = label(shown > least * 65535, np.ones((3, 3)))
        for number, place in enumerate(find_objects(marks), start=1):
            wide = place[1].stop - place[1].start
            if wide < segment or (wide - 2) * block > LONGEST * side:
                continue
            corners = tuple(end for one in place for end in (one.start // 2, one.stop // 2))
            mask = marks[place] == number
            if corners not in told and _is_long(mask):
                told.add(corners)
                yield (place[0], place[1]), mask


def _bars_at(seen: _Seen, places: list[tuple[Place, Mask]], block: int) -> list[BarShape]:
    """Look at the places more closely, each with what is around it."""
    segment, _ = seen.sizes
    high = 2 * block + int(max(REACH, 0.5 * segment))
    bars: list[BarShape] = []
    for (rows, columns), mask in places:
        # Bright ground hides a part of a bar, but not much more than half of it.
        wide = 2 * block + int(max(REACH, segment, (columns.stop - columns.start) * block))
        low, left = max(rows.start * block - high, 0), max(columns.start * block - wide, 0)
        window = seen.plane[low : rows.stop * block + high, left : columns.stop * block + wide]
        inner = np.repeat(np.repeat(mask, block, axis=0), block, axis=1)
        seed = np.zeros(window.shape, dtype=bool)
        top, first = rows.start * block - low, columns.start * block - left
        here = slice(top, top + len(inner)), slice(first, first + inner.shape[1])
        seed[here] = inner
        if _stands_out(window, here):
            found = _bar_in(seen, window, seed, (low, left))
            if found is not None and not (_is_letter(found) or _is_underline(found) or _is_framed(found)):
                bars.append(found)
    return bars


def _stands_out(window: PlaneArray, here: Place) -> bool:
    """Tell whether each third of a place has a row that is bright all along, before a longer look."""
    least = float(np.median(window[::3, ::3])) + 0.5 * CONTRAST
    thirds = np.array_split(window[here], 3, axis=1)
    return all(float(np.quantile(one, 0.25, axis=1).max()) > least for one in thirds)


def _bar_in(seen: _Seen, window: PlaneArray, seed: Mask, corner: tuple[int, int]) -> BarShape | None:
    """Cut the window between the seed and its surroundings, until the piece that the seed is in is a bar."""
    segment, _ = seen.sizes
    along = _opened(window, segment)
    every = np.ones((3, 3), dtype=bool)
    columns = np.flatnonzero(seed.any(axis=0))
    highest = float(np.median(np.where(seed, along, 0.0).max(axis=0)[columns]))
    around = float(np.median(along[~seed]))
    if highest - around < 0.5 * CONTRAST:
        return None
    seed = seed & (along > 0.5 * (highest + around))
    if not _is_long(seed):
        return None
    columns = np.flatnonzero(seed.any(axis=0))
    ring = binary_dilation(seed, every, RING) & ~binary_dilation(seed, every)
    # Most points of a thin bar lie on its sides, so take the brightest point across it.
    inside = float(np.median(np.where(seed, window, 0.0).max(axis=0)[columns]))
    # Ticks and letters are as bright as the bar, but only a small part of its surroundings.
    outside = float(np.quantile(window[ring], 0.8))
    beside = float(np.quantile(along[ring], 0.8))
    half = 0.5 * (inside + outside)
    piece = None
    for share in CUTS if inside - outside >= CONTRAST else ():
        piece = _piece(window > outside + share * (inside - outside), seed)
        bar = None if piece is None else as_bar(seen.plane, piece, corner, seen.standing, (inside, half))
        if bar is not None:
            return bar if share == CUTS[0] else _cut_out(bar)
    cut = 0.5 * (inside + beside)
    if piece is not None or inside - beside < CONTRAST:
        return None
    piece = _piece(along > cut, seed)
    bar = None if piece is None else as_bar(seen.plane, piece, corner, seen.standing, (inside, cut))
    if bar is None or piece is None or _crossings(window > cut, piece) < FEWEST_CROSSINGS:
        return None
    return _cut_out(bar)


def _cut_out(bar: BarShape) -> BarShape | None:
    """Keep what was cut out of other things if it is as strong as programs draw bars."""
    return replace(bar, cut_out=True) if 2 * (bar.level - bar.cut) >= STRONG else None


def _is_long(seed: Mask) -> bool:
    """Tell whether what is seen of a bar may be one: all on a level line, and slender."""
    columns, rows = (np.flatnonzero(seed.any(axis=axis)) for axis in (0, 1))
    if not columns.size:
        return False
    long, high = int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1
    typical = float(np.median(seed.sum(axis=0)[columns]))
    return columns.size > 0.6 * long and long > typical and high < 2 * typical + STEEPEST * long + 4


def _piece(bright: Mask, seed: Mask) -> Mask | None:
    """Give the piece that the seed is in; None where it goes on beyond the window."""
    pieces, _ = label(bright)
    numbers = np.bincount(pieces[seed])
    numbers[0] = 0
    if not numbers.any():
        return None
    piece: Mask = pieces == numbers.argmax()
    ends = piece[0].any(), piece[-1].any(), piece[:, 0].any(), piece[:, -1].any()
    return None if any(ends) else piece


def _crossings(bright: Mask, piece: Mask) -> int:
    """Count what touches the bar from both sides: scratches do it many times, the stem of a letter once."""
    rows = np.flatnonzero(piece.any(axis=1))
    columns = np.flatnonzero(piece.any(axis=0))
    count = 0
    for row in (rows[0] - 2, rows[-1] + 2):
        if 0 <= row < len(bright):
            line = bright[row, columns[0] : columns[-1] + 1].astype(np.int8)
            count += int((np.diff(line, prepend=0) == 1).sum())
    return count


def _is_letter(bar: BarShape) -> bool:
    """Tell a stroke of a label: close beside it stands something of about its height on the same line."""
    if bar.long > (LARGEST_LETTER if bar.standing and not bar.cut_out else A_BAR) * bar.plane.shape[1]:
        return False
    reach, middle = int(0.8 * bar.long), round(bar.middle + bar.slope * (bar.first + bar.last) / 2)
    top, left = max(middle - reach, 0), max(bar.first - bar.long // 2, 0)
    # Scratches are fainter than what is written.
    ink = 0.5 * (bar.level + bar.cut) if bar.cut_out else bar.cut
    window = bar.plane[top : middle + reach, left : bar.last + bar.long // 2] > ink
    marks, _ = label(window)
    for number, place in enumerate(find_objects(marks), start=1):
        start, stop = place[1].start + left, place[1].stop - 1 + left
        itself = marks[place] == number
        rows, columns = place
        at, ends = (
            middle - top - rows.start,
            (bar.first - left - columns.start, bar.last - left - columns.start),
        )
        on_bar = 0 <= at < len(itself) and itself[at, max(ends[0], 0) : max(ends[1], 0)].any()
        on_line = min(abs(start - bar.first), abs(stop - bar.last)) <= max(2.0, 0.12 * bar.long)
        # Two bars, one below the other, are no letters to each other.
        thin = bar.long > A_BAR * bar.plane.shape[1] and len(itself) < 0.3 * itself.shape[1]
        if not on_bar and on_line and not thin and 0.5 < (stop - start + 1) / bar.long < 1.4:
            return True
    return False


def _is_framed(bar: BarShape) -> bool:
    """Tell the side of a drawn box: from both ends a stroke goes off to one side, too long for a tick."""
    ink = bar.plane > 0.5 * (bar.level + bar.cut)
    longest = max(LONGEST_TICK * bar.long, 4.0 * bar.height, 12.0)
    half = int(np.ceil(0.5 * bar.height)) + 1
    runs = []
    for end, inward in ((bar.first, 1), (bar.last, -1)):
        row = round(bar.middle + bar.slope * end)
        reach = [end + inward * step for step in range(-1, int(np.ceil(bar.height)) + 2)]
        columns = [one for one in reach if 0 <= one < ink.shape[1]]
        up = max(_run(ink[max(row - half, 0) :: -1, column]) for column in columns)
        down = max(_run(ink[min(row + half, len(ink) - 1) :, column]) for column in columns)
        runs.append((up > longest, down > longest))
    return bool((runs[0][0] and runs[1][0]) or (runs[0][1] and runs[1][1]))


def _run(ink: Mask) -> int:
    """How far ink goes on from the start."""
    return int(ink.argmin()) if not ink.all() else ink.size


def _is_underline(bar: BarShape) -> bool:
    """Tell the line under a word: what is written above it begins and ends where it does."""
    high, top = round(TALLEST_WORD * bar.long), int(bar.middle - bar.height / 2) - 1
    if bar.standing or bar.ticks or top < 3:
        return False
    left = max(bar.first - 10, 0)
    ink = bar.plane[max(top - high, 0) : top, left : bar.last + 11] > 0.5 * (bar.level + bar.cut)
    columns = np.flatnonzero(ink.sum(axis=0) > 1) + left
    near = max(4.0, NEAR_END * bar.long)
    if columns.size < 0.3 * bar.long or np.diff(columns).max() > WIDEST_SPACE * bar.long:
        return False
    return bool(abs(columns[0] - bar.first) <= near and abs(columns[-1] - bar.last) <= near)
