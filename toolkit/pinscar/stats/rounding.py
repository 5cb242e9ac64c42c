"""What rounding to a step hides: a spread, and a shift that all readings share."""

from __future__ import annotations

import numpy as np


def least_variance(variance: float, step: float) -> float:
    r"""Raise a variance to what rounding alone can hide, :math:`\delta^2/12`.

    Parameters
    ----------
    variance : float
        Variance of single readings, in any unit squared.
    step : float
        Step of the readings in that unit; 0 where unknown.

    Returns
    -------
    float
        The larger of both.

    References
    ----------
    JCGM 100:2008, F.2.2.1: the standard deviation of a reading rounded to steps, :math:`\delta/\sqrt{12}`.

    Examples
    --------
    >>> round(least_variance(0.0, 0.6), 6)
    0.03
    """
    return max(variance, step * step / 12.0)


def rounding_shift(sd: float, step: float) -> float:
    r"""Bound the shift that rounding gives to a mean.

    .. math:: \frac{\delta}{2} e^{-2 \pi^2 s^2 / \delta^2}

    Where the spread is small beside the step, all readings may be rounded the same way; where it passes half
    a step the shift vanishes.

    Parameters
    ----------
    sd : float
        Standard deviation of single readings, in any unit.
    step : float
        Step of the readings in that unit; 0 where unknown.

    Returns
    -------
    float
        Largest shift, in that unit.

    References
    ----------
    Own derivation: the first term of the Fourier series of a rounding error, averaged over a normal
    distribution.

    Examples
    --------
    >>> rounding_shift(0.0, 0.1), rounding_shift(0.1, 0.1) < 1e-9, rounding_shift(0.1, 0.0)
    (0.05, True, 0.0)
    """
    if step <= 0.0:
        return 0.0
    return 0.5 * step * float(np.exp(-2.0 * (np.pi * sd / step) ** 2))


def pulled_in(location: float, centre: float, sigma: float, step: float, means: int = 1) -> float:
    r"""Pull a location towards the estimate by what rounding may hide, before its likelihood is taken.

    .. math:: x' = \hat\mu \pm \frac{\max(|x - \hat\mu| - m\,b, 0)}{\max(1, \delta/(\sqrt{12}\,\hat\sigma))}

    with b of :func:`rounding_shift` for each of m means: limits found so lie further out by the shift, and no
    nearer than the spread that rounding alone can hide would set them.

    Parameters
    ----------
    location : float
        Location tried, in any unit.
    centre : float
        The estimate, in that unit.
    sigma : float
        Standard deviation of single readings, in that unit.
    step : float
        Step of the readings in that unit; 0 where unknown.
    means : int
        How many rounded means the location is made of: two for a difference.

    Returns
    -------
    float
        The location to take the likelihood at, in that unit.

    References
    ----------
    As :func:`least_variance` and :func:`rounding_shift`.

    Examples
    --------
    >>> pulled_in(3.0, 1.0, 0.5, 0.0)
    3.0
    >>> round(pulled_in(3.0, 1.0, 0.01, 1.0), 3), pulled_in(1.2, 1.0, 0.01, 1.0)
    (1.052, 1.0)
    """
    if step <= 0.0:
        return location
    far = max(abs(location - centre) - means * rounding_shift(sigma, step), 0.0)
    least = float(np.sqrt(least_variance(sigma * sigma, step)))
    return centre + float(np.sign(location - centre)) * far * sigma / least
