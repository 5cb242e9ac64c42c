"""Drops of oil on the paper card behind the ring: how many, how large, how much of the card they cover."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from skimage.filters import threshold_otsu
from skimage.measure import label, regionprops
from skimage.morphology import convex_hull_image
from skimage.transform import ProjectiveTransform, warp

from pinscar.evidence.grey import grey

FloatArray = NDArray[np.float64]
LONG_SIDE = 1200
"""Points along the longer side of the card once it is laid flat."""
FULLEST, SMALLEST_SHARE = 0.93, 0.1
"""Least share of its four-cornered outline, and of the picture, that a card must fill."""
MARGIN = 0.01
"""Rim of the card that isn't looked at, as a share of its longer side: cut edges cast shadows."""
DARKER = 0.06
"""Least difference of a drop from the paper around it, in brightness."""
SMALLEST_DROP = 9
"""Least size of a drop [points of the flat card]."""


@dataclass(frozen=True, slots=True)
class FlingReading:
    """Drops on a card.

    Parameters
    ----------
    count : int
        How many; drops that run together count as one.
    drop_areas : array, shape (count,)
        Their areas, largest first [m²].
    fling_area : float
        Covered area [m²].
    share : float
        Covered area over the area looked at [1].
    smallest : float
        Area below which a drop is not seen [m²].
    corners : array, shape (4, 2)
        Corners of the card in the picture, columns and rows [points].
    card : array, shape (rows, columns)
        The card laid flat, brightness from 0 to 1.
    drops : array of bool, shape (rows, columns)
        Where drops are on it.
    """

    count: int
    drop_areas: FloatArray
    fling_area: float
    share: float
    smallest: float
    corners: FloatArray
    card: FloatArray
    drops: NDArray[np.bool_]

    @property
    def diameters(self) -> FloatArray:
        """Diameters of circles as large as the drops, largest first [m]."""
        return np.asarray(np.sqrt(4 * self.drop_areas / np.pi), dtype=np.float64)


def read_fling_card(image: NDArray[np.generic], long_side: float, short_side: float) -> FlingReading:
    """Count and measure the drops on a card of known size.

    The card must lie whole in the picture, lighter than what is behind it, turned by less than 30 degrees; a
    slanted view is laid flat through its four corners.

    Parameters
    ----------
    image : array
        Photograph of the card.
    long_side, short_side : float
        Sides of the card [m].

    Returns
    -------
    FlingReading
        The drops.

    Raises
    ------
    ValueError
        If the sides are no lengths, or no card with four corners stands out.

    References
    ----------
    Threshold of the card: N. Otsu, IEEE Trans. Syst. Man Cybern. 9, 1979. The rest: own.

    Examples
    --------
    >>> picture = np.full((240, 340), 0.1)
    >>> picture[20:220, 20:320] = 0.9
    >>> y, x = np.mgrid[:240, :340]
    >>> picture[np.hypot(x - 170, y - 120) < 20] = 0.4
    >>> found = read_fling_card(picture, 0.15, 0.10)
    >>> found.count, round(float(found.diameters[0]) * 1e3)
    (1, 20)
    """
    if not long_side >= short_side > 0:
        raise ValueError(f"the card's sides must be lengths, longer first, not {long_side} and {short_side}")
    brightness = grey(image)
    corners = _corners(brightness)
    card, point = _laid_flat(brightness, corners, long_side, short_side)
    drops = _drops(card)
    rim = round(MARGIN * max(card.shape))
    regions = [one for one in regionprops(label(drops)) if one.area >= SMALLEST_DROP]
    areas = np.sort(np.array([float(one.area) for one in regions]))[::-1] * point**2
    looked_at = (card.shape[0] - 2 * rim) * (card.shape[1] - 2 * rim) * point**2
    covered = float(areas.sum())
    smallest = SMALLEST_DROP * point**2
    return FlingReading(len(areas), areas, covered, covered / looked_at, smallest, corners, card, drops)


def _corners(brightness: FloatArray) -> FloatArray:
    """Corners of the card: upper left, upper right, lower right, lower left."""
    regions = regionprops(label(gaussian_filter(brightness, 1.0) > threshold_otsu(brightness)))
    largest = max(regions, key=lambda one: one.area, default=None)
    if largest is None or largest.area < SMALLEST_SHARE * brightness.size:
        raise ValueError("no card stands out light against what is behind it")
    low, left, high, right = largest.bbox
    if min(low, left) == 0 or high == brightness.shape[0] or right == brightness.shape[1]:
        raise ValueError("the card's four corners are not all in the picture")
    hull = convex_hull_image(largest.image)
    rows, columns = np.nonzero(hull)
    rows, columns = rows + largest.bbox[0], columns + largest.bbox[1]
    ends = [(columns + rows).argmin(), (columns - rows).argmax()]
    ends += [(columns + rows).argmax(), (columns - rows).argmin()]
    # The outermost points lie half a point inside of the card's edge.
    out = 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    corners = np.column_stack([columns[ends], rows[ends]]).astype(float) + out
    x, y = corners.T
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    if not FULLEST < hull.sum() / max(area, 1.0) < 1 / FULLEST:
        raise ValueError("something lies over an edge of the card, so that its corners are not sure")
    return corners


def _laid_flat(
    brightness: FloatArray, corners: FloatArray, long_side: float, short_side: float
) -> tuple[FloatArray, float]:
    point = long_side / LONG_SIDE
    lying = np.hypot(*(corners[1] - corners[0])) >= np.hypot(*(corners[3] - corners[0]))
    width, height = (long_side, short_side) if lying else (short_side, long_side)
    shape = (round(height / point), round(width / point))
    flat = np.array([[0, 0], [shape[1], 0], [shape[1], shape[0]], [0, shape[0]]], dtype=float) - 0.5
    unit = np.array([flat[0], flat[1], flat[2], flat[3]])
    system = [
        row
        for (u, v), (x, y) in zip(unit, corners, strict=True)
        for row in ((u, v, 1, 0, 0, 0, -u * x, -v * x), (0, 0, 0, u, v, 1, -u * y, -v * y))
    ]
    solved = np.linalg.solve(np.array(system, dtype=float), corners.ravel())
    transform = ProjectiveTransform(matrix=np.append(solved, 1.0).reshape(3, 3))
    return np.asarray(warp(brightness, transform, output_shape=shape, mode="edge"), dtype=np.float64), point


def _drops(card: FloatArray) -> NDArray[np.bool_]:
    """Places darker than the paper around them; the paper's own brightness may change over the card."""
    rim = round(MARGIN * max(card.shape))
    wide = max(card.shape) / 12
    keep = np.ones(card.shape, dtype=bool)
    for _ in range(4):
        weight = gaussian_filter(keep.astype(float), wide)
        paper = gaussian_filter(card * keep, wide) / np.maximum(weight, 1e-6)
        away = gaussian_filter(card - paper, 1.0)
        noise = 1.4826 * float(np.median(np.abs(away[keep] - np.median(away[keep]))))
        keep = away > -max(DARKER, 4 * noise)
    drops = _to_half_depth(away, ~keep)
    inner = np.zeros(card.shape, dtype=bool)
    inner[rim : card.shape[0] - rim, rim : card.shape[1] - rim] = True
    return np.asarray(drops & inner, dtype=np.bool_)


def _to_half_depth(away: FloatArray, seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Put the edge of each drop where it is half as dark as its middle: blur must not make it larger."""
    drops = np.zeros(seen.shape, dtype=np.bool_)
    for one in regionprops(label(seen)):
        if one.area < SMALLEST_DROP:
            continue
        place = tuple(one.slice)
        depth = away[place]
        drops[place] |= one.image & (depth < 0.5 * float(np.quantile(depth[one.image], 0.1)))
    return drops
