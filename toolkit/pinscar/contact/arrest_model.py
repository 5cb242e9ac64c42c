"""Scar lengths that the wear-arrest model expects, for fitting and for predicting."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, positive
from pinscar.contact.arrest_exact import ScarGrowth, depth_at_area, worn_area


def expected_log_lengths(
    log_parameters: ArrayLike, duration: ArrayLike, load: ArrayLike, speed: ArrayLike, growth: ScarGrowth
) -> FloatArray:
    """Compute the logarithm of the scar length that the model expects of runs at one load each.

    Parameters
    ----------
    log_parameters : array_like
        Natural logarithms of wear coefficient [m^2/N] and film pressure [Pa], shape (2,); or m pairs of them,
        shape (m, 2).
    duration : array_like
        Duration of each run [s], shape (n,) or a number.
    load : array_like
        Load of each run [N], as the duration.
    speed : array_like
        Sliding speed of each run [m/s], as the duration.
    growth : ScarGrowth
        The scar's geometry (`scar_growth`).

    Returns
    -------
    ndarray of float
        ln of scar length in metres [-], the broadcast shape of the runs; with m pairs before it, shape (m,
        n). A scar that would grow deeper than 0.8 of the smaller radius is given the length that it has
        there.

    References
    ----------
    Own derivation, see `worn_area`.

    Examples
    --------
    >>> from pinscar.contact.arrest_exact import scar_growth
    >>> from pinscar.contact.crossed_cylinders import CrossedCylinders
    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> ln_length = expected_log_lengths(np.log([1e-14, 120e6]), 60, 450, 1.466, growth)
    >>> round(float(np.exp(ln_length)) * 1e3, 4)
    2.8691
    """
    pairs = np.exp(as_floats(log_parameters))
    wear, film = (pairs[..., i, None] if pairs.ndim > 1 else pairs[i] for i in (0, 1))
    rate = wear * positive("speed", speed)
    area = np.minimum(worn_area(duration, load, rate, film, growth), growth.largest_area)
    return np.log(growth.pair.scar_length(depth_at_area(area, growth)))


def gradient(
    log_parameters: ArrayLike, duration: ArrayLike, load: ArrayLike, speed: ArrayLike, growth: ScarGrowth
) -> FloatArray:
    """Compute how the expected ln of scar length changes with the two log parameters, by central differences.

    Parameters
    ----------
    log_parameters : array_like
        Natural logarithms of wear coefficient [m^2/N] and film pressure [Pa], shape (2,).
    duration : array_like
        Duration of each run [s].
    load : array_like
        Load of each run [N].
    speed : array_like
        Sliding speed of each run [m/s].
    growth : ScarGrowth
        The scar's geometry (`scar_growth`).

    Returns
    -------
    ndarray of float
        Derivatives [-]; the last axis holds the two parameters.

    References
    ----------
    Central difference with a step of 1e-5 in the logarithm.

    Examples
    --------
    Long before arrest the length goes with the fourth root of the wear coefficient, whatever the film:

    >>> from pinscar.contact.arrest_exact import scar_growth
    >>> from pinscar.contact.crossed_cylinders import CrossedCylinders
    >>> growth = scar_growth(CrossedCylinders(6e-3, 20e-3))
    >>> gradient(np.log([1e-14, 1e3]), 1.0, 450, 1.466, growth).round(3).tolist()
    [0.25, -0.0]
    """
    middle = as_floats(log_parameters)
    steps = 1e-5 * np.eye(2)
    ends = [
        [expected_log_lengths(middle + sign * step, duration, load, speed, growth) for sign in (1, -1)]
        for step in steps
    ]
    return np.stack([(up - down) / 2e-5 for up, down in ends], axis=-1)
