"""Scar to be expected at another load or duration, from a fitted wear-arrest model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from pinscar.contact.arrays import positive
from pinscar.contact.arrest_fit import ArrestFit
from pinscar.contact.arrest_model import expected_log_lengths, gradient

METHOD = (
    "wear-arrest model at the fitted parameters; interval by the delta method on ln of scar length, "
    "t distribution with n - 2 degrees of freedom"
)


@dataclass(frozen=True)
class ScarPrediction:
    """Scar expected in a run at one load.

    Parameters
    ----------
    scar_length : float
        Expected scar length [m].
    low, high : float or None
        Confidence interval of the expected length [m]; None where there is none.
    single_low, single_high : float or None
        Interval for one new scar, its own scatter included [m]; None where there is none.
    confidence : float
        Confidence of each interval.
    method : str
        How it was computed, for printing.
    note : str or None
        What is off, in a plain sentence.
    """

    scar_length: float
    low: float | None
    high: float | None
    single_low: float | None
    single_high: float | None
    confidence: float
    method: str
    note: str | None


def predict_scar(fit: ArrestFit, duration: float, load: float, speed: float) -> ScarPrediction:
    """Predict the scar of a run at another load or duration.

    With g the gradient of ln L in (ln k, ln pf) and C their covariance, ``sd^2 = g C g`` for the expected
    scar and ``sd^2 + s^2`` for a single one; intervals are ``exp(ln L +- t sd)``. They cover the scatter of
    the fit, not the error of the model: that k and pf do not depend on load is an assumption, and a load
    outside those fitted is noted.

    Parameters
    ----------
    fit : ArrestFit
        Fitted model (`fit_interrupted_runs`).
    duration : float
        Duration of the run [s].
    load : float
        Load [N].
    speed : float
        Sliding speed [m/s].

    Returns
    -------
    ScarPrediction
        Expected length and intervals.

    Raises
    ------
    ValueError
        An argument is not above zero.

    References
    ----------
    Delta method: D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its Applications, 1988,
    section 2.3.

    Examples
    --------
    >>> from pinscar.contact.arrest_fit import fit_interrupted_runs
    >>> from pinscar.contact.crossed_cylinders import CrossedCylinders
    >>> pair = CrossedCylinders(6e-3, 20e-3)
    >>> lengths = [1.60e-3, 2.12e-3, 2.55e-3, 2.83e-3, 2.98e-3, 2.93e-3]
    >>> fit = fit_interrupted_runs([2, 6, 20, 60, 120, 240], lengths, 450, 1.466, pair)
    >>> prediction = predict_scar(fit, 60, 600, 1.466)
    >>> round(prediction.scar_length * 1e3, 2), prediction.note
    (3.23, 'the load lies outside those fitted: the film pressure is assumed not to depend on it')
    """
    where = (positive("duration", duration), positive("load", load), positive("speed", speed))
    length = float(expected_log_lengths(fit.log_parameters, *where, fit.growth))
    notes = []
    if not fit.lightest * (1 - 5e-3) <= load <= fit.heaviest * (1 + 5e-3):
        notes.append("the load lies outside those fitted: the film pressure is assumed not to depend on it")
    if fit.log_covariance is None or fit.residual_sd is None:
        notes.append("no interval: the fit has none")
        ends: list[float | None] = [None] * 4
        return _prediction(length, ends, fit.confidence, notes)
    slope = gradient(fit.log_parameters, *where, fit.growth)
    variance = float(slope @ np.asarray(fit.log_covariance) @ slope)
    t = float(stdtrit(fit.n - 2, 0.5 + 0.5 * fit.confidence))
    expected, single = t * np.sqrt(variance), t * np.sqrt(variance + fit.residual_sd**2)
    ends = [float(np.exp(length + step)) for step in (-expected, expected, -single, single)]
    return _prediction(length, ends, fit.confidence, notes)


def _prediction(
    log_length: float, ends: list[float | None], confidence: float, notes: list[str]
) -> ScarPrediction:
    note = "; ".join(notes) if notes else None
    low, high, single_low, single_high = ends
    return ScarPrediction(
        float(np.exp(log_length)), low, high, single_low, single_high, confidence, METHOD, note
    )
