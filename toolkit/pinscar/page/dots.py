"""Which of very many runs a chart shows as dots."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

MOST_DOTS = 60
"""Dots of one oil at one load; more of them cover one another, and weigh the page down."""


def spread_over(values: ArrayLike) -> NDArray[np.intp]:
    """Choose which of the values are drawn: all, or evenly over their order with the least and the greatest.

    Examples
    --------
    >>> spread_over([3.0, 1.0, 2.0]).tolist()
    [0, 1, 2]
    >>> chosen = spread_over(np.arange(1000.0))
    >>> len(chosen), int(chosen[0]), int(chosen[-1])
    (60, 0, 999)
    """
    numbers = np.asarray(values, dtype=np.float64)
    if numbers.size <= MOST_DOTS:
        return np.arange(numbers.size)
    places = np.round(np.linspace(0, numbers.size - 1, MOST_DOTS)).astype(np.intp)
    return np.sort(np.argsort(numbers, kind="stable")[places])
