"""A picture as brightness: one number a point, from 0 to 1."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from skimage.color import rgb2gray, rgba2rgb
from skimage.util import img_as_float64

FloatArray = NDArray[np.float64]
SMALLEST = 64
"""Shortest side of a picture that anything is read from [points]."""


def grey(image: NDArray[np.generic]) -> FloatArray:
    """Turn a picture to brightness.

    Parameters
    ----------
    image : array, shape (rows, columns) or (rows, columns, 1 to 4)
        Grey, grey with opacity, RGB or RGB with opacity; whole numbers over the range of their type, or
        floats from 0 to 1.

    Returns
    -------
    array, shape (rows, columns)
        Brightness from 0 to 1.

    Raises
    ------
    ValueError
        If the array is no picture, is smaller than 64 points a side, or holds numbers out of range.

    References
    ----------
    Weights of the colours: ITU-R BT.709, as scikit-image has them.

    Examples
    --------
    >>> float(grey(np.full((64, 64, 3), 255, dtype=np.uint8)).max().round(6))
    1.0
    """
    pixels = np.asarray(image)
    if pixels.ndim not in (2, 3) or (pixels.ndim == 3 and not 1 <= pixels.shape[2] <= 4):
        raise ValueError(f"a picture has rows, columns and up to four channels, not the shape {pixels.shape}")
    if min(pixels.shape[:2]) < SMALLEST:
        rows, columns = pixels.shape[:2]
        raise ValueError(f"the picture is {columns} x {rows} points, it must be {SMALLEST} or more a side")
    values: FloatArray = np.asarray(img_as_float64(pixels), dtype=np.float64)
    if not np.isfinite(values).all() or values.min() < 0 or values.max() > 1:
        raise ValueError("brightness must be from 0 to 1")
    if values.ndim == 2:
        return values
    if values.shape[2] <= 2:
        return values[..., 0]
    return np.asarray(rgb2gray(rgba2rgb(values) if values.shape[2] == 4 else values), dtype=np.float64)
