"""Whether a picture holds a second thing that may be a scale bar, however scratched the ground is."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import find_objects, label, maximum_filter1d, minimum_filter1d, uniform_filter

from pinscar.evidence.bar_shape import FEWEST, LONGEST, SHORTEST, BarShape

PlaneArray = NDArray[np.floating[Any]]
ENOUGH = 1_500_000
"""Points that are looked at; a larger picture is averaged over squares."""
EVEN = 0.1
"""Most that a bar's brightness may differ along a row."""
THICKEST = 0.05
"""Greatest thickness, as a share of the picture's side across the bar."""
PURE, PURE_COLOUR = 0.08, 0.2
"""How far white and black may be off their ends of the scale, and a pure colour is from grey at least."""
CONTRAST, ALL_ALONG = 0.1, 0.6
"""Least step to what is beside a bar, and the share of its length along which it is there."""
FILLED = 0.9
"""Least share of the rectangle about a bar that it fills."""
CROSSED, SAME_LINE = 8, 0.04
"""How far on both sides a line goes at least that crosses another [points], and how alike both are."""
SAME_INK = 0.3
"""Difference in brightness up to which two things are of one ink."""
ITS_OWN, ITS_PLATE = 6, 0.3
"""Rows about a bar that are its own [points], and those that its plate may take, over its length."""
SHORT = 0.12
"""Length, as a share of the side along it, under which an upright thing near the bar is of its label."""


def second_bar(
    plane: PlaneArray, coloured: bool, bar: BarShape, ends: NDArray[np.float64]
) -> tuple[float, float, int] | None:
    """Find a thing in a picture, beside the bar that was found, that may be a bar too.

    A bar that was burnt in has one brightness all along, whatever the ground is like. So rows are sought
    whose brightness stays the same over a bar's length, and of those, thin rectangles that are white, black
    or of a pure colour and lie between darker, or between brighter, ones.

    Parameters
    ----------
    plane : array, shape (rows, columns)
        Brightness of the picture, or a difference of its colours with 0.5 for none [-].
    coloured : bool
        Whether it is a difference of colours.
    bar : BarShape
        The bar.
    ends : array, shape (2, 2)
        Column and row of its ends [points].

    Returns
    -------
    tuple of float, float and int, or None
        Column and row of its middle and its length [points]; None if there is none.

    References
    ----------
    Own rules.

    Examples
    --------
    >>> from pinscar.evidence.bar_search import find_bars
    >>> picture = np.full((120, 160), 0.3)
    >>> picture[100:104, 20:80] = 1.0
    >>> found = find_bars(picture)[0], np.array([[19.5, 101.5], [79.5, 101.5]])
    >>> second_bar(picture, False, *found) is None
    True
    >>> picture[20:24, 40:120] = 0.0
    >>> second_bar(picture, False, *found)
    (79.5, 21.5, 80)
    """
    side = max(int(np.ceil(np.sqrt(plane.size / ENOUGH))), 1)
    if side > 1:
        rows, columns = (one // side * side for one in plane.shape)
        plane = uniform_filter(plane[:rows, :columns], side)[side // 2 :: side, side // 2 :: side]
    middle = ends.mean(axis=0) / side
    ink = float(plane[round(middle[1]), round(middle[0])])
    for standing in (False, True):
        view = plane.T if standing else plane
        for place in _even_places(view, coloured):
            if not _lies_bare(view, place) or _is_crossed(view, place):
                continue
            rows, columns = place
            along, across = 0.5 * (columns.start + columns.stop - 1), 0.5 * (rows.start + rows.stop - 1)
            column, row = (across, along) if standing else (along, across)
            away = np.abs(np.array([column, row]) - middle)
            alike = abs(float(np.median(view[place])) - ink) < SAME_INK
            long = columns.stop - columns.start
            if _is_its_own(bar, side, away, (long, standing), alike):
                continue
            if _is_a_letter(bar, side, away, (long, standing), view.shape[1]):
                continue
            return float(column * side + 0.5 * (side - 1)), float(row * side + 0.5 * (side - 1)), long * side
    return None


def _is_its_own(
    bar: BarShape, side: int, away: NDArray[np.float64], thing: tuple[int, bool], alike: bool
) -> bool:
    """Tell the bar itself and the edges of its plate: they lie along it, and as near as its own rows."""
    long, standing = thing
    aside, near = away[::-1] if bar.standing else away
    if standing != bar.standing or aside >= 0.45 * (bar.long / side + long):
        return False
    own = (bar.height + ITS_OWN) / side if alike else ITS_PLATE * bar.long / side + 20 / side
    return bool(near < own)


def _is_a_letter(
    bar: BarShape, side: int, away: NDArray[np.float64], thing: tuple[int, bool], wide: int
) -> bool:
    """Tell an upright stroke of the label beside the bar."""
    long, standing = thing
    short = standing and long < SHORT * wide
    return bool(short and float(away.max()) < 0.5 * bar.long / side + 3.0 * long)


def _even_places(view: PlaneArray, coloured: bool) -> list[tuple[slice, slice]]:
    """Rectangles of a pure ink whose rows have one brightness all along."""
    rows, columns = view.shape
    shortest = max(FEWEST, SHORTEST * columns)
    segment = max(int(shortest) - 4, 8)
    spread = maximum_filter1d(view, segment, axis=1) - minimum_filter1d(view, segment, axis=1)
    shift = -1 if segment % 2 == 0 else 0
    even = maximum_filter1d((spread < EVEN).astype(np.uint8), segment, axis=1, origin=shift)
    away = 0.5 - PURE if not coloured else PURE_COLOUR
    places = []
    for ink in (view > 0.5 + away, view < 0.5 - away):
        marks, _ = label((even > 0) & ink)
        for number, place in enumerate(find_objects(marks), start=1):
            high, long = (one.stop - one.start for one in place)
            if high > max(THICKEST * rows, 4) or not shortest <= long <= LONGEST * columns or long < 3 * high:
                continue
            if np.mean(marks[place] == number) >= FILLED:
                places.append((place[0], place[1]))
    return places


def _lies_bare(view: PlaneArray, place: tuple[slice, slice]) -> bool:
    """Tell whether a place stands out on both sides and at both ends."""
    rows, columns = place
    level = float(np.median(view[place]))
    above, below, left, right = rows.start - 2, rows.stop + 1, columns.start - 3, columns.stop + 2
    clear = above >= 0 and below < view.shape[0] and left >= 0 and right < view.shape[1]
    if not clear:
        return False
    sides = [level - view[row, columns] for row in (above, below)]
    signs = [float(np.sign(np.median(one))) for one in sides]
    shown = [float(np.mean(sign * one > CONTRAST)) for sign, one in zip(signs, sides, strict=True)]
    beyond = [float(np.median(np.abs(view[rows, column] - level))) for column in (left, right)]
    return signs[0] == signs[1] and min(shown) > ALL_ALONG and min(beyond) > CONTRAST


def _is_crossed(view: PlaneArray, place: tuple[slice, slice]) -> bool:
    """Tell an axis of something drawn: a line of its very ink runs across it. Scratches are less pure."""
    rows, columns = place
    level = float(np.median(view[place]))
    ink = np.abs(view[max(rows.start - CROSSED, 0) : rows.stop + CROSSED, columns] - level) < SAME_LINE
    return bool(ink.all(axis=0).any())
