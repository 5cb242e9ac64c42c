"""Axes shared by the report's charts: logarithmic scales with plain numbers, limits and bands."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_STEPS = (
    (1.0,),
    (1.0, 3.0),
    (1.0, 2.0, 5.0),
    (1.0, 1.5, 2.0, 3.0, 5.0, 7.0),
    (1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0),
)
_FINE = tuple(1.0 + 0.05 * k for k in range(180))


def log_ticks(low: float, high: float, wanted: int = 4) -> list[float]:
    """Choose round numbers for a logarithmic axis.

    Parameters
    ----------
    low, high : float
        Ends of the axis, in the unit shown.
    wanted : int
        Smallest number of ticks that is enough.

    Returns
    -------
    list of float
        The ticks, ascending.

    Examples
    --------
    >>> log_ticks(40, 260)
    [50.0, 70.0, 100.0, 150.0, 200.0]
    """
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    ticks: list[float] = []
    for steps in (*_STEPS, _FINE):
        ticks = [float(f"{step * 10.0**decade:.6g}") for decade in decades for step in steps]
        ticks = [tick for tick in ticks if low <= tick <= high]
        if len(ticks) >= wanted:
            break
    while len(ticks) > 2 * wanted:
        ticks = ticks[::2]
    return ticks


def set_log_axis(axes: Axes, low: float, high: float, wanted: int = 4) -> None:
    """Make the horizontal axis logarithmic, with plain round numbers.

    Parameters
    ----------
    axes : Axes
        The axes.
    low, high : float
        Ends of the axis, in the unit shown.
    wanted : int
        Smallest number of ticks that is enough.
    """
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    ticks = log_ticks(low, high, wanted)
    axes.set_xticks(ticks, [f"{tick:,.6g}".replace(",", "\N{NARROW NO-BREAK SPACE}") for tick in ticks])
    axes.set_xticks([], minor=True)


def padded(values: list[float], share: float = 0.06) -> tuple[float, float]:
    """Give the ends of a logarithmic axis that holds the values with some room.

    Parameters
    ----------
    values : list of float
        Positive values to hold.
    share : float
        Room on each side as a share of the logarithmic range.

    Returns
    -------
    tuple of float
        Low and high end.

    Examples
    --------
    >>> low, high = padded([10.0, 100.0], 0.1)
    >>> round(low, 2), round(high, 1)
    (7.94, 125.9)
    """
    logs = np.log10(np.asarray(values, dtype=float))
    room = max(share * float(np.ptp(logs)), 0.02)
    return float(10 ** (logs.min() - room)), float(10 ** (logs.max() + room))
