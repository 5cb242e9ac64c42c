"""A white card on a darker bench: its outline to a fraction of a point, and the card laid flat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.spatial import ConvexHull
from skimage.filters import threshold_otsu
from skimage.measure import label, regionprops
from skimage.transform import ProjectiveTransform, warp

from pinscar.evidence.recorder import robust_sd

FloatArray = NDArray[np.float64]
FULLEST, SMALLEST_SHARE, LEAST_CONTRAST = 0.93, 0.1, 0.15
"""Least share of its four-cornered outline and of the picture that a card fills, and its least contrast."""
SIDES_APART = 0.06
"""Most that the outline's ratio of sides may differ from the card's: beyond, size or light is wrong."""
KEYSTONE = 1.3
"""Most that opposite sides may differ: beyond, the photograph was taken too much aslant."""
LEVELS = (0.2, 0.35, 0.5, 0.65)
"""Where the card's edge is first looked for, from bench to paper: low, since a part may lie in shadow."""
PLACES, REACH = 80, 8.0
"""Places on a side where the edge is found, and how far it is looked for [points]."""
BETWEEN, SMOOTHING = 0.5, 0.7
"""Steps across the edge [points], and the standard deviation of the bell that its profile is smoothed by
[steps]."""
STRAIGHT = 0.6
"""Least share of the places that must lie on one straight line."""


@dataclass(frozen=True, slots=True)
class CardOutline:
    """Where a card lies in a picture.

    Parameters
    ----------
    corners : array, shape (4, 2)
        Upper left, upper right, lower right, lower left: columns and rows [points].
    spread : float
        Scatter of the places found on the edges about straight lines [points].
    blur : float
        Width of the edges, as the standard deviation of a bell-shaped blur [points].
    """

    corners: FloatArray
    spread: float
    blur: float

    @property
    def sides(self) -> FloatArray:
        """Lengths of the upper, right, lower and left side [points]."""
        return np.asarray(np.hypot(*(np.roll(self.corners, -1, axis=0) - self.corners).T), dtype=np.float64)


def find_card(brightness: FloatArray, ratio: float) -> CardOutline:
    """Find the card in a picture.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        Brightness from 0 to 1 [-].
    ratio : float
        Longer side of the card over the shorter one [1].

    Returns
    -------
    CardOutline
        Its outline.

    Raises
    ------
    ValueError
        If no card with four corners and such sides stands out.

    References
    ----------
    Threshold between card and bench: N. Otsu, IEEE Trans. Syst. Man Cybern. 9, 1979. The rest: own.

    Examples
    --------
    >>> picture = np.full((240, 340), 0.1)
    >>> picture[20:220, 20:320] = 0.9
    >>> find_card(picture, 1.5).corners.round(2)[2]
    array([319.5, 219.5])
    """
    smooth = gaussian_filter(brightness, 1.5)
    limit = float(threshold_otsu(smooth))
    if not (smooth > limit).any():
        raise ValueError("no card stands out light against what is behind it")
    bench, paper = (float(np.median(smooth[part])) for part in (smooth <= limit, smooth > limit))
    if not paper - bench > LEAST_CONTRAST:
        raise ValueError("no card stands out light against what is behind it")
    reasons: list[str] = []
    for level in LEVELS:
        try:
            outline = on_straight_edges(brightness, _rough_corners(smooth > bench + level * (paper - bench)))
            _check_sides(outline, ratio)
        except ValueError as error:
            reasons.append(str(error))
        else:
            return outline
    raise ValueError(reasons[LEVELS.index(0.5)])


def _rough_corners(light: NDArray[np.bool_]) -> FloatArray:
    """Corners of the largest light place, to a point."""
    largest = max(regionprops(label(light)), key=lambda one: one.area, default=None)
    if largest is None or largest.area < SMALLEST_SHARE * light.size:
        raise ValueError("no card stands out light against what is behind it")
    low, left, high, right = largest.bbox
    if min(low, left) == 0 or high == light.shape[0] or right == light.shape[1]:
        raise ValueError("the card's four corners are not all in the picture")
    rows, columns = _row_ends(largest.image)
    ways = 0.5 * np.array([[1, 0], [-1, 0], [0, 1], [0, -1]])
    around = (np.column_stack([columns, rows])[:, None] + ways).reshape(-1, 2)
    convex = float(ConvexHull(around).volume)
    rows, columns = rows + low, columns + left
    ends = [(columns + rows).argmin(), (columns - rows).argmax()]
    ends += [(columns + rows).argmax(), (columns - rows).argmin()]
    # The outermost points lie half a point inside of the card's edge.
    out = 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    corners = np.column_stack([columns[ends], rows[ends]]).astype(float) + out
    x, y = corners.T
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    if not FULLEST < convex / max(area, 1.0) < 1 / FULLEST:
        raise ValueError("something lies over an edge of the card, so that its corners are not sure")
    return corners


def _row_ends(image: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of the first and last place of each row: all that a convex outline can touch."""
    rows = np.flatnonzero(image.any(axis=1))
    first = image[rows].argmax(axis=1)
    last = image.shape[1] - 1 - image[rows, ::-1].argmax(axis=1)
    return np.tile(rows, 2), np.concatenate([first, last])


def on_straight_edges(brightness: FloatArray, corners: FloatArray) -> CardOutline:
    """Move the corners to where straight lines through the edges meet.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        The picture, from 0 to 1 [-].
    corners : array, shape (4, 2)
        Columns and rows of the corners as far as known, in order round the card [points].

    Returns
    -------
    CardOutline
        Corners, how well the edges lie on straight lines, and how soft they are.

    Raises
    ------
    ValueError
        If an edge hardly stands out against what is behind it.

    References
    ----------
    Own definition: the place half way between card and bench, in profiles across each side.

    Examples
    --------
    A card from column 30 to 170 and row 20 to 100, its corners known to three points:

    >>> from scipy.ndimage import gaussian_filter
    >>> y, x = np.mgrid[:120, :200]
    >>> card = gaussian_filter(np.where((x >= 30) & (x < 170) & (y >= 20) & (y < 100), 0.9, 0.2), 1.0)
    >>> rough = np.array([[32.0, 18.0], [171.0, 21.0], [168.0, 101.0], [28.0, 98.0]])
    >>> on_straight_edges(card, rough).corners.round(1).tolist()
    [[29.5, 19.5], [169.5, 19.5], [169.5, 99.5], [29.5, 99.5]]
    """
    lines, spreads, blurs = [], [], []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        places, widths = _edge_places(brightness, start, end)
        middle, direction, spread = _straight(places)
        lines.append((middle, direction))
        spreads.append(spread)
        blurs.append(float(np.median(widths)))
    meets = []
    for (p, d), (q, e) in zip(np.roll(np.array(lines), 1, axis=0), np.array(lines), strict=True):
        along = np.linalg.solve(np.column_stack([d, -e]), q - p)
        meets.append(p + along[0] * d)
    return CardOutline(np.array(meets), float(np.sqrt(np.mean(np.square(spreads)))), float(np.median(blurs)))


def _edge_places(brightness: FloatArray, start: FloatArray, end: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Places half way between paper and bench along a side, and how wide the edge is there."""
    along = (end - start) / np.hypot(*(end - start))
    out = np.array([along[1], -along[0]])
    steps = np.arange(-REACH, REACH + 0.1, BETWEEN)
    feet = start + np.linspace(0.04, 0.96, PLACES)[:, None] * (end - start)
    points = feet[:, None, :] + steps[None, :, None] * out
    values = map_coordinates(brightness, [points[..., 1], points[..., 0]], order=1, mode="nearest")
    values = gaussian_filter(values, (0.5, SMOOTHING))
    paper, bench = np.median(values[:, :8], axis=1), np.median(values[:, -8:], axis=1)
    depth = paper - bench
    steep = depth > max(0.3 * float(np.median(depth)), 0.02)
    if steep.sum() < STRAIGHT * PLACES:
        raise ValueError("an edge of the card hardly stands out against what is behind it")
    share = (values[steep] - bench[steep, None]) / depth[steep, None]
    crossings = {level: _last_above(share, steps, level) for level in (0.25, 0.5, 0.75)}
    places = feet[steep] + crossings[0.5][:, None] * out
    # A quarter to three quarters of a bell-shaped blur are 1.349 standard deviations; SMOOTHING is our own.
    widths = np.abs(crossings[0.25] - crossings[0.75]) / 1.349
    return places, np.sqrt(np.maximum(widths**2 - (SMOOTHING * BETWEEN) ** 2, 0.0))


def _last_above(share: FloatArray, steps: FloatArray, level: float) -> FloatArray:
    """Where each profile falls below a level for good."""
    above = share > level
    index = np.clip(share.shape[1] - 1 - np.argmax(above[:, ::-1], axis=1), 0, share.shape[1] - 2)
    rows = np.arange(share.shape[0])
    high, low = share[rows, index], share[rows, index + 1]
    part = np.clip((high - level) / np.where(high > low, high - low, 1.0), 0, 1)
    return np.asarray(steps[index] + part * (steps[1] - steps[0]), dtype=np.float64)


def _straight(places: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Fit a straight line through most of the places: its middle, direction and their scatter."""
    kept = np.ones(len(places), dtype=bool)
    for _ in range(6):
        middle = places[kept].mean(axis=0)
        direction = np.linalg.svd(places[kept] - middle, full_matrices=False)[2][0]
        off = np.abs((places - middle) @ np.array([-direction[1], direction[0]]))
        kept = off <= max(3 * robust_sd(off), 0.5)
    if kept.sum() < STRAIGHT * PLACES or float(np.median(off)) > 2.5:
        raise ValueError("an edge of the card is not straight: it is covered, bent or in shadow")
    return middle, direction, float(np.sqrt(np.mean(off[kept] ** 2)))


def _check_sides(outline: CardOutline, ratio: float) -> None:
    sides = outline.sides
    pairs = sides[:2] / sides[2:]
    if max(pairs.max(), (1 / pairs).max()) > KEYSTONE:
        raise ValueError("the photograph was taken too much aslant")
    across, down = float(sides[0] + sides[2]), float(sides[1] + sides[3])
    seen = max(across, down) / min(across, down)
    if abs(np.log(seen / ratio)) > SIDES_APART:
        raise ValueError(
            f"the card's sides look like {seen:.2f} to 1 and should be {ratio:.2f} to 1: the size is wrong, "
            "a part lies in shadow, or the camera was held aslant"
        )


DARK = 0.02
"""Paper counts with no less brightness than that: noise would be taken for loss of light."""


@dataclass(frozen=True, slots=True)
class FlatCard:
    """A card laid flat, and its bare paper.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        The card, from 0 to 1.
    paper : array, shape (rows, columns)
        How bright bare paper is at each place.
    point : float
        Size of a point [m].
    """

    brightness: FloatArray
    paper: FloatArray
    point: float

    @property
    def lost(self) -> FloatArray:
        """Share of the paper's light that is lost at each place [1]."""
        return np.asarray(1 - self.brightness / np.maximum(self.paper, DARK), dtype=np.float64)


def lay_flat(
    brightness: FloatArray, corners: FloatArray, sides: tuple[float, float], long_side: int
) -> FloatArray:
    """Lay the card flat.

    Parameters
    ----------
    brightness : array, shape (rows, columns)
        Brightness from 0 to 1 [-].
    corners : array, shape (4, 2)
        Upper left, upper right, lower right, lower left: columns and rows [points].
    sides : tuple of float and float
        Longer and shorter side of the card [m].
    long_side : int
        Points along the longer side.

    Returns
    -------
    array
        The card alone, lying or standing as in the picture.

    References
    ----------
    The eight equations of a plane projective map through four points: textbook.

    Examples
    --------
    >>> picture = np.zeros((80, 100))
    >>> lay_flat(picture, np.array([[10, 10], [70, 10], [70, 50], [10, 50.0]]), (0.15, 0.10), 90).shape
    (60, 90)
    """
    across, down = np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[3] - corners[0]))
    width, height = sides if across >= down else sides[::-1]
    point = sides[0] / long_side
    shape = (round(height / point), round(width / point))
    flat = np.array([[0, 0], [shape[1], 0], [shape[1], shape[0]], [0, shape[0]]], dtype=float) - 0.5
    transform = ProjectiveTransform(matrix=projective(flat, corners))
    return np.asarray(warp(brightness, transform, output_shape=shape, mode="edge"), dtype=np.float64)


def projective(start: FloatArray, end: FloatArray) -> FloatArray:
    """Give the matrix that maps four points to four others.

    Parameters
    ----------
    start, end : array, shape (4, 2)
        The points [points].

    Returns
    -------
    array, shape (3, 3)
        The matrix, for homogeneous coordinates.

    References
    ----------
    Textbook.

    Examples
    --------
    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    >>> projective(square, 2 * square).round(9).tolist()
    [[2.0, 0.0, 0.0], [0.0, 2.0, 0.0], [0.0, 0.0, 1.0]]
    """
    system = [
        row
        for (u, v), (x, y) in zip(start, end, strict=True)
        for row in ((u, v, 1, 0, 0, 0, -u * x, -v * x), (0, 0, 0, u, v, 1, -u * y, -v * y))
    ]
    solved = np.linalg.solve(np.array(system, dtype=float), end.ravel())
    return np.asarray(np.append(solved, 1.0).reshape(3, 3) + 0.0, dtype=np.float64)
