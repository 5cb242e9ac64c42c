"""Wear coefficient and film pressure from one scar and the time at which the rubbing noise stopped."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, positive
from pinscar.contact.arrest_exact import area_clock, area_fraction, scar_growth
from pinscar.contact.crossed_cylinders import CrossedCylinders

_MOST_STEPS = 100


def film_from_quiet_time(
    scar_length: ArrayLike,
    quiet_time: ArrayLike,
    duration: ArrayLike,
    load: ArrayLike,
    speed: ArrayLike,
    pair: CrossedCylinders,
    excess: float = 0.05,
) -> tuple[FloatArray, FloatArray]:
    """Compute wear coefficient and film pressure of a run from its scar and its quiet time.

    Two conditions for two unknowns, in the wear-arrest model with the exact scar (`worn_depth_exact`): at
    the quiet time the mean pressure has come down to ``pf (1 + excess)``, and at the end the scar has its
    measured length. The film pressure hardly depends on the excess; the wear coefficient does: it goes with
    the time ratio of ``1/(1 + excess)``, which is 2.09 at 5 % and 3.63 at 1 %. No interval can be given:
    no data are left to estimate the scatter.

    Parameters
    ----------
    scar_length : array_like
        Length of the scar at the end [m].
    quiet_time : array_like
        Time at which the rubbing noise stopped [s], at most the duration.
    duration : array_like
        Duration of the run at one load [s].
    load : array_like
        Load [N].
    speed : array_like
        Sliding speed [m/s].
    pair : CrossedCylinders
        The geometry.
    excess : float
        Relative excess of pressure over film pressure at which the noise stops [-]; an assumption.

    Returns
    -------
    tuple of two ndarray of float
        Wear coefficient [m^2/N] and film pressure [Pa], broadcast shape; NaN where an input is.

    Raises
    ------
    ValueError
        A quiet time is later than the end, another argument is not above zero, or the scar is deeper than
        0.8 of the smaller radius.

    References
    ----------
    Own derivation. That noise ends with metal contact is common practice; the excess of 5 % is an own
    convention.

    Examples
    --------
    A scar of 3.2 mm after 60 s at 600 N, quiet after 20 s:

    >>> pair = CrossedCylinders(6e-3, 20e-3)
    >>> k, film = film_from_quiet_time(3.2e-3, 20, 60, 600, 1.466, pair)
    >>> round(float(film) / 1e6, 1), f"{float(k):.2e}"
    (136.2, '3.36e-14')
    """
    quiet, end = positive("quiet_time", quiet_time), positive("duration", duration)
    if np.any(quiet > end):
        raise ValueError("quiet_time must not be later than the end of the run, duration")
    force, pace = positive("load", load), positive("speed", speed)
    growth = scar_growth(pair)
    length, quiet, end, force, pace = np.broadcast_arrays(
        positive("scar_length", scar_length), quiet, end, force, pace
    )
    area = pair.area_at_depth(pair.scar_depth(length))
    if np.any(area > growth.largest_area):
        raise ValueError("scar_length gives a scar deeper than 0.8 of the smaller radius")
    share = np.full(area.shape, 1.0 / (1.0 + float(positive("excess", excess))))
    final = area / share
    for _ in range(_MOST_STEPS):
        clock = area_clock(share, final, growth)
        last, final = final, area / area_fraction(clock * end / quiet, final, growth)
        if not np.any(np.abs(final - last) > 1e-14 * final):
            break
    film = force / final
    return np.asarray(clock * final / (growth.slope * pace * film * quiet)), np.asarray(film)
