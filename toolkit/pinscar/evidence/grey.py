"""A picture as brightness from 0 to 1, and fast smoothing over many points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.fft import dctn, idctn
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
        Grey, grey with opacity, RGB or RGB with opacity [-]; whole numbers over the range of their type, or
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
        raise ValueError(f"the picture is {columns} x {rows} points, each side must have at least {SMALLEST}")
    values: FloatArray = np.asarray(img_as_float64(pixels), dtype=np.float64)
    if not np.isfinite(values).all() or values.min() < 0 or values.max() > 1:
        raise ValueError("brightness must be from 0 to 1")
    if values.ndim == 2:
        return values
    if values.shape[2] <= 2:
        return values[..., 0]
    return np.asarray(rgb2gray(rgba2rgb(values) if values.shape[2] == 4 else values), dtype=np.float64)


def reduced(image: NDArray[np.generic], longest: int) -> tuple[FloatArray, int]:
    """Turn a picture to brightness, averaged over squares so that no side is much longer than wished.

    The picture is taken in strips, so that a large one needs little more memory than it has already.

    Parameters
    ----------
    image : array, shape (rows, columns) or (rows, columns, 1 to 4)
        As `grey` takes it [-].
    longest : int
        Longest side wished for [points]; a side that would become shorter than 64 points for it stays so.

    Returns
    -------
    tuple of array and int
        Brightness from 0 to 1; side of the squares [points]. Rows and columns over are left out.

    Raises
    ------
    ValueError
        As `grey` does.

    References
    ----------
    Arithmetic mean.

    Examples
    --------
    >>> brightness, side = reduced(np.full((700, 900), 255, dtype=np.uint8), 300)
    >>> brightness.shape, side, float(brightness.min())
    ((233, 300), 3, 1.0)
    """
    pixels = np.asarray(image)
    if pixels.ndim not in (2, 3) or min(pixels.shape[:2]) < SMALLEST:
        return grey(pixels), 1
    side = min(-(-max(pixels.shape[:2]) // longest), min(pixels.shape[:2]) // SMALLEST)
    if side <= 1:
        return grey(pixels), 1
    rows, columns = (one // side for one in pixels.shape[:2])
    whole = pixels[: rows * side, : columns * side]
    per_strip = max(1, -(-SMALLEST // side), STRIP // (side * columns * side))
    starts = list(range(0, rows, per_strip))
    if len(starts) > 1 and (rows - starts[-1]) * side < SMALLEST:
        # The last strip is too low to be a picture of its own.
        starts.pop()
    ends = [*starts[1:], rows]
    strips = []
    for start, end in zip(starts, ends, strict=True):
        strip = grey(whole[start * side : end * side])
        strips.append(strip.reshape(end - start, side, columns, side).mean(axis=(1, 3)))
    return np.concatenate(strips), side


STRIP = 500_000
"""Points of a strip of a large picture that is worked on at once."""
REACH = 4.0
"""Standard deviations at which the bell is cut off."""


def wide_blurs(picture: FloatArray, widths: tuple[float, ...]) -> list[FloatArray]:
    """Smooth a picture by bells of several widths.

    The picture goes on beyond its border as its own mirror image. Such a sum is a product of cosine
    transforms, so the time does not grow with the width.

    Parameters
    ----------
    picture : array, shape (rows, columns)
        Any layer of a picture [any unit].
    widths : tuple of float
        Standard deviations of the bells [points].

    Returns
    -------
    list of array, shape (rows, columns)
        The smoothed picture for each width; up to rounding what `scipy.ndimage.gaussian_filter` gives.

    References
    ----------
    Symmetric convolution by cosine transforms: S. A. Martucci, IEEE Trans. Signal Process. 42, 1994.

    Examples
    --------
    >>> from scipy.ndimage import gaussian_filter
    >>> picture = np.random.default_rng(1).random((70, 91))
    >>> bool(np.allclose(wide_blurs(picture, (12.0,))[0], gaussian_filter(picture, 12.0), atol=1e-12))
    True
    """
    transformed = dctn(picture, norm="ortho")
    rows, columns = picture.shape
    return [
        np.asarray(
            idctn(transformed * np.outer(_response(width, rows), _response(width, columns)), norm="ortho")
        )
        for width in widths
    ]


def _response(width: float, count: int) -> FloatArray:
    """Compute what a bell leaves of each cosine along a side of `count` points."""
    steps = np.arange(1, int(REACH * width + 0.5) + 1)
    bell = np.exp(-0.5 * (steps / width) ** 2)
    waves = np.cos(np.pi / count * np.outer(np.arange(count), steps))
    return np.asarray((1 + 2 * waves @ bell) / (1 + 2 * bell.sum()))


def between_points(features: FloatArray, rows: FloatArray, columns: FloatArray) -> FloatArray:
    """Interpolate all layers linearly at the same places.

    Parameters
    ----------
    features : array, shape (rows, columns, layers)
        Layers of a picture [any unit].
    rows, columns : array, of one shape
        Places [points].

    Returns
    -------
    array, shape of the places and (layers,)
        The values; NaN outside of the picture.

    References
    ----------
    Bilinear interpolation.

    Examples
    --------
    >>> picture = np.arange(12.0).reshape(3, 4, 1)
    >>> between_points(picture, np.array([0.5, 9.0]), np.array([1.25, 0.0]))[:, 0].tolist()
    [3.25, nan]
    """
    high, wide, layers = features.shape
    top = np.clip(rows, 0, high - 1).astype(np.intp)
    left = np.clip(columns, 0, wide - 1).astype(np.intp)
    np.minimum(top, high - 2, out=top)
    np.minimum(left, wide - 2, out=left)
    down, right = rows - top, columns - left
    outside = (np.abs(down - 0.5) > 0.5) | (np.abs(right - 0.5) > 0.5)
    # In the type of the layers, which is single precision while ovals are searched.
    down = np.where(outside, np.nan, down).astype(features.dtype)[..., None]
    right = right.astype(features.dtype)[..., None]
    corner = top * wide + left
    flat = features.reshape(-1, layers)
    upper = flat.take(corner, axis=0)
    upper += (flat.take(corner + 1, axis=0) - upper) * right
    corner += wide
    lower = flat.take(corner, axis=0)
    lower += (flat.take(corner + 1, axis=0) - lower) * right
    lower -= upper
    lower *= down
    lower += upper
    return np.asarray(lower)
