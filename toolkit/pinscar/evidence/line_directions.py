"""The directions across parallel lines in a picture, from its spectrum."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len, rfft2

FloatArray = NDArray[np.float64]
APART = math.radians(12.0)
"""Least angle between two directions that are told apart [rad]."""
WEDGES = (math.radians(6.0), math.radians(3.0))
"""Half the angles of the wedges in which a direction is made more exact, one after the other [rad]."""
FINEST, COARSEST = 0.35, 4.0
"""Highest frequency that is looked at [1/points], and fewest periods over the shorter side."""


def line_directions(even: FloatArray, most: int) -> list[float]:
    """Find the directions in which a picture changes most.

    The power of parallel lines lies on a ray of the spectrum, at all overtones of their period. A direction
    is that of the strongest point, made more exact by the mean direction of the power around that ray. It is
    then left out, and the next one is sought.

    Parameters
    ----------
    even : array, shape (rows, columns)
        Brightness less its wide means [-].
    most : int
        How many directions are wanted at most.

    Returns
    -------
    list of float
        Directions from the image's x axis towards its y axis, from 0 to pi, strongest first [rad].

    References
    ----------
    Mean direction of gradients, here in the spectrum: J. Bigun and G. H. Granlund, Optimal orientation
    detection of linear symmetry, ICCV 1987.

    Examples
    --------
    >>> x = np.arange(300) * np.ones((200, 1))
    >>> even = np.where(x % 20 < 4, -0.5, 0.1)
    >>> [abs(round(np.sin(one).item(), 3)) for one in line_directions(even, 1)]
    [0.0]
    """
    windows = (np.hanning(side).astype(np.float32) for side in even.shape)
    rows, columns = windows
    size = [int(next_fast_len(side, real=True)) for side in even.shape]
    # Single precision is enough here, and halves the memory that a large picture takes.
    power = np.abs(rfft2(even.astype(np.float32) * rows[:, None] * columns, size)) ** 2
    fy = np.fft.fftfreq(size[0]).astype(np.float32)[:, None]
    fx = np.fft.rfftfreq(size[1]).astype(np.float32)[None, :]
    radius = np.hypot(fx, fy)
    turn = np.arctan2(fy, fx)
    left = (radius > COARSEST / min(even.shape)) & (radius < FINEST)
    found: list[float] = []
    for _ in range(most):
        power[~left] = 0.0
        peak = np.unravel_index(int(power.argmax()), power.shape)
        if not power[peak] > 0.0:
            break
        angle = float(turn[peak])
        for half in WEDGES:
            near = np.nonzero(left & (np.abs(_between(turn, angle)) < half))
            # What lies around the ray anyway has no direction.
            weight = power[near] * radius[near] ** 2
            weight = np.maximum(weight - 5.0 * np.median(weight), 0.0)
            if weight.sum() > 0.0:
                angle += float((weight * _between(turn[near], angle)).sum() / weight.sum())
        found.append(angle % math.pi)
        left &= np.abs(_between(turn, angle)) >= APART
    return found


def _between(turn: NDArray[np.float32], angle: float) -> NDArray[np.float32]:
    """Angles from a direction to others, from minus to plus half of pi."""
    return np.asarray((turn - np.float32(angle) + 0.5 * np.pi) % np.pi - 0.5 * np.pi)
