"""Control charts for a reference oil on one rig: individuals with moving ranges, and the EWMA.

Positive responses are charted on their logarithms, as they are analysed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

# Constants for ranges of two values, as control chart tables print them.
D2 = 1.128
D4 = 3.267
FEW_POINTS = 20


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """An individuals and moving range chart.

    Parameters
    ----------
    values : ndarray
        Charted values in order of time.
    centre, sigma : float
        Centre line, and standard deviation from the moving ranges.
    lower, upper : float
        Limits at three sigma.
    moving_ranges : ndarray
        Distance of each value from the one before, one fewer than values.
    mean_moving_range, moving_range_upper : float
        Their mean over the baseline and upper limit; the lower limit is zero.
    n_baseline : int
        Values that the centre and the sigma rest on.
    note : str or None
        A plain sentence where the limits rest on few values.
    """

    values: NDArray[np.float64]
    centre: float
    sigma: float
    lower: float
    upper: float
    moving_ranges: NDArray[np.float64]
    mean_moving_range: float
    moving_range_upper: float
    n_baseline: int
    note: str | None


@dataclass(frozen=True, slots=True)
class EwmaChart:
    """A chart of the exponentially weighted moving average.

    Parameters
    ----------
    averages : ndarray
        The average after each value.
    centre, sigma, weight, width : float
        Centre, standard deviation of a value, weight of the newest value, and limits in sigmas of the
        average.
    lower, upper : ndarray
        Limits for each average.
    beyond : ndarray of bool
        Where the average is beyond a limit.
    """

    averages: NDArray[np.float64]
    centre: float
    sigma: float
    weight: float
    width: float
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    beyond: NDArray[np.bool_]


def individuals_chart(values: ArrayLike, baseline: ArrayLike | None = None) -> IndividualsChart:
    r"""Chart single values with limits from their moving ranges.

    .. math:: \hat\sigma = \overline{MR} / 1.128, \quad \bar x \pm 3 \hat\sigma, \quad MR_{max} =
    3.267\,\overline{MR}

    The moving range sees the short-term spread only, so a slow drift does not widen the limits. Independent,
    roughly normal values are assumed.

    Parameters
    ----------
    values : array_like
        Values in order of time [any one unit], shape (n,), finite.
    baseline : array_like of bool, optional
        Values that the limits rest on, shape (n,); all where left out. Ranges count between neighbours that
        are both in the baseline.

    Returns
    -------
    IndividualsChart
        Centre, sigma, limits and moving ranges.

    Raises
    ------
    ValueError
        Where the baseline holds no two neighbours, or these do not vary.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; ISO 7870-2:2013 (control charts).

    Examples
    --------
    >>> chart = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.centre, 2), round(chart.upper, 3), round(chart.lower, 3)
    (50.81, 55.804, 45.816)
    """
    x = _vector(values)
    used = np.ones(x.size, dtype=bool) if baseline is None else np.asarray(baseline, dtype=bool)
    if used.shape != x.shape:
        raise ValueError(f"baseline has shape {used.shape}, it must be that of the values {x.shape}")
    ranges = np.abs(np.diff(x))
    counted = ranges[used[1:] & used[:-1]]
    if counted.size == 0 or not bool(np.any(counted > 0.0)):
        raise ValueError("the baseline holds no neighbouring values that differ: no limits can be set")
    centre, mean_range, n = float(np.mean(x[used])), float(np.mean(counted)), int(np.sum(used))
    sigma = mean_range / D2
    note = (
        None
        if n >= FEW_POINTS
        else f"Limits from {n} values are provisional ({FEW_POINTS} are the usual minimum)."
    )
    return IndividualsChart(
        values=x,
        centre=centre,
        sigma=sigma,
        lower=centre - 3.0 * sigma,
        upper=centre + 3.0 * sigma,
        moving_ranges=ranges,
        mean_moving_range=mean_range,
        moving_range_upper=D4 * mean_range,
        n_baseline=n,
        note=note,
    )


def ewma_chart(
    values: ArrayLike,
    centre: float,
    sigma: float,
    weight: float = 0.3,
    width: float = 3.0,
    exact_limits: bool = True,
) -> EwmaChart:
    r"""Chart the exponentially weighted moving average, which sees small lasting shifts.

    .. math::
        z_i = \lambda x_i + (1 - \lambda) z_{i-1}, \quad z_0 = \text{centre}, \quad
        \text{centre} \pm L \sigma \sqrt{\frac{\lambda}{2 - \lambda} \left(1 - (1 - \lambda)^{2 i}\right)}

    Without `exact_limits` the last factor is left out: the limits are then the same for all points.

    Parameters
    ----------
    values : array_like
        Values in order of time [any one unit], shape (n,), finite.
    centre : float
        Centre, known or from a baseline [the unit of the values].
    sigma : float
        Standard deviation of one value [the unit of the values], positive.
    weight : float
        Weight of the newest value [-], over 0 up to 1.
    width : float
        Limits in standard deviations of the average [-], positive.
    exact_limits : bool
        Whether the limits start narrow and open to their final width.

    Returns
    -------
    EwmaChart
        Averages, limits, and which averages are beyond them.

    Raises
    ------
    ValueError
        Where sigma, weight or width is out of range.

    References
    ----------
    S. W. Roberts, Control chart tests based on geometric moving averages, 1959; NIST/SEMATECH e-Handbook of
    Statistical Methods, 6.3.2.4.

    Examples
    --------
    >>> chart = ewma_chart([52.0, 47.0, 53.0, 49.3], 50.0, 2.0539, exact_limits=False)
    >>> chart.averages.round(2), round(float(chart.upper[0]), 3)
    (array([50.6 , 49.52, 50.56, 50.18]), 52.588)
    """
    x = _vector(values)
    if not (sigma > 0.0 and 0.0 < weight <= 1.0 and width > 0.0):
        raise ValueError(f"sigma {sigma}, weight {weight}, width {width}: out of range")
    averages, last = np.empty_like(x), centre
    for position, value in enumerate(x.tolist()):
        last = weight * value + (1.0 - weight) * last
        averages[position] = last
    opening = 1.0 - (1.0 - weight) ** (2 * np.arange(1, x.size + 1)) if exact_limits else np.ones_like(x)
    half = width * sigma * np.sqrt(weight / (2.0 - weight) * opening)
    beyond = np.abs(averages - centre) > half
    return EwmaChart(averages, centre, sigma, weight, width, centre - half, centre + half, beyond)


def _vector(values: ArrayLike) -> NDArray[np.float64]:
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or x.size == 0 or not bool(np.all(np.isfinite(x))):
        raise ValueError("values must be a row of one or more finite numbers")
    return x
