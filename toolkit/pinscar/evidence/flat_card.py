"""A card laid flat: what a camera saw aslant, as seen from straight above."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skimage.transform import ProjectiveTransform, warp

FloatArray = NDArray[np.float64]
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
        Brightness from 0 to 1.
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
        The points.

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
