"""The log-likelihood of left-censored log-normal runs, and its maximum.

Everything here works on natural logarithms. Right censoring is the same problem with the signs of the
logarithms turned.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import log_ndtr

FloatArray = NDArray[np.float64]
HALF_LOG_2PI = 0.5 * np.log(2 * np.pi)
MAX_STEPS = 200
DECREMENT = 1e-12  # the step taken from there squares it, far below rounding


@dataclass(frozen=True, slots=True)
class CensoredFit:
    """The maximum of the likelihood of a left-censored normal linear model of log values.

    Parameters
    ----------
    coefficients : ndarray, shape (k,)
        One a column of the design [-].
    sigma : float
        Standard deviation of the logarithms [-], maximum likelihood (not corrected for the coefficients).
    log_likelihood : float
        Log-likelihood of the logarithms at the maximum [-].
    converged : bool
        Whether Newton's method reached the maximum.
    """

    coefficients: FloatArray
    sigma: float
    log_likelihood: float
    converged: bool


def fit_left_censored(
    log_values: FloatArray, left_censored: NDArray[np.bool_], design: FloatArray
) -> CensoredFit:
    r"""Maximise the likelihood of a normal linear model of left-censored log values.

    With :math:`h = 1/\sigma`, :math:`\theta = h \beta` and :math:`r = h y - X \theta` the log-likelihood

    .. math:: \ell = \sum_{obs} (\ln h - r_i^2/2 - \tfrac12 \ln 2\pi) + \sum_{cens} \ln \Phi(r_i)

    is concave in :math:`(\theta, h)`, so damped Newton steps from any start reach its only maximum. The
    log values are first taken from their least-squares fit and scaled, which leaves the problem unchanged
    and well-conditioned.

    Parameters
    ----------
    log_values : ndarray, shape (n,)
        Natural logarithms of the values; of the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    design : ndarray, shape (n, k)
        Design matrix of full column rank [-]; k may be 0. A maximum exists where the observed values do not
        fit the design exactly.

    Returns
    -------
    CensoredFit
        Coefficients, standard deviation and log-likelihood on the scale of the logarithms given.

    References
    ----------
    Olsen, "Note on the uniqueness of the maximum likelihood estimator for the Tobit model", Econometrica 46
    (1978) 1211-1215, for the parameters in which the likelihood is concave.

    Examples
    --------
    Without censored values the estimates are the mean and the root mean square deviation.

    >>> y = np.array([1.0, 2.0, 3.0])
    >>> fit = fit_left_censored(y, np.zeros(3, dtype=bool), np.ones((3, 1)))
    >>> round(float(fit.coefficients[0]), 9), round(fit.sigma, 9)
    (2.0, 0.816496581)
    """
    shift: FloatArray = np.zeros(design.shape[1])
    if shift.size:
        shift = np.asarray(np.linalg.lstsq(design, log_values, rcond=None)[0], dtype=np.float64)
    residuals = log_values - design @ shift
    unit = float(np.sqrt(np.mean(residuals**2)))
    if not unit > 0:
        return CensoredFit(shift, 0.0, np.inf, False)
    theta, inverse, value, converged = _newton(residuals / unit, left_censored, design)
    sigma = unit / inverse
    n_observed = int(np.count_nonzero(~left_censored))
    return CensoredFit(shift + theta * sigma, sigma, float(value - n_observed * np.log(unit)), converged)


def _newton(
    y: FloatArray, left_censored: NDArray[np.bool_], design: FloatArray
) -> tuple[FloatArray, float, float, bool]:
    jacobian = np.column_stack([-design, y])
    parameters = np.zeros(jacobian.shape[1])
    parameters[-1] = 1.0
    value = _log_likelihood(jacobian @ parameters, parameters[-1], left_censored)
    for _ in range(MAX_STEPS):
        gradient, curvature = _derivatives(jacobian, parameters, left_censored)
        step = np.asarray(np.linalg.solve(curvature, gradient), dtype=np.float64)
        decrement = float(gradient @ step)
        if decrement < DECREMENT:
            parameters = parameters + step
            value = _log_likelihood(jacobian @ parameters, parameters[-1], left_censored)
            return parameters[:-1], float(parameters[-1]), value, True
        parameters, value, moved = _line_search(jacobian, parameters, step, value, left_censored)
        if not moved:
            break
    return parameters[:-1], float(parameters[-1]), value, False


def _derivatives(
    jacobian: FloatArray, parameters: FloatArray, left_censored: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    residuals = jacobian @ parameters
    inverse_mills = np.exp(-0.5 * residuals**2 - HALF_LOG_2PI - log_ndtr(residuals))
    score = np.where(left_censored, inverse_mills, -residuals)
    weight = np.where(left_censored, inverse_mills * (inverse_mills + residuals), 1.0)
    n_observed = np.count_nonzero(~left_censored)
    gradient = jacobian.T @ score
    gradient[-1] += n_observed / parameters[-1]
    curvature = (jacobian.T * weight) @ jacobian
    curvature[-1, -1] += n_observed / parameters[-1] ** 2
    return gradient, curvature


def _line_search(
    jacobian: FloatArray,
    parameters: FloatArray,
    step: FloatArray,
    value: float,
    left_censored: NDArray[np.bool_],
) -> tuple[FloatArray, float, bool]:
    length = 1.0
    for _ in range(60):
        trial = parameters + length * step
        if trial[-1] > 0:
            trial_value = _log_likelihood(jacobian @ trial, trial[-1], left_censored)
            if trial_value >= value:
                return trial, trial_value, True
        length /= 2
    return parameters, value, False


def _log_likelihood(residuals: FloatArray, inverse: float, left_censored: NDArray[np.bool_]) -> float:
    observed = residuals[~left_censored]
    density = observed.size * (np.log(inverse) - HALF_LOG_2PI) - 0.5 * observed @ observed
    return float(density + np.sum(log_ndtr(residuals[left_censored])))


def profile_limit(
    deviance: Callable[[float], float], start: float, step: float, cut: float, tolerance: float = 1e-13
) -> float | None:
    """Find where a deviance that rises away from its minimum reaches a cut.

    The bracket grows by doubling from the minimum; inside it Brent's method finds the crossing.

    Parameters
    ----------
    deviance : callable
        Twice the drop of the profile log-likelihood, as a function of the parameter [-].
    start : float
        The maximum-likelihood estimate, where the deviance is zero [-].
    step : float
        First width of the bracket; its sign tells the side [-].
    cut : float
        Value that the deviance must reach [-].
    tolerance : float
        How closely the crossing is found, absolute and relative [-].

    Returns
    -------
    float or None
        The parameter at the crossing; None where the deviance never gets there.

    References
    ----------
    Venzon and Moolgavkar, "A method for computing profile-likelihood-based confidence intervals", Applied
    Statistics 37 (1988) 87-94, for the interval; Brent, Algorithms for Minimization without Derivatives,
    1973.

    Examples
    --------
    >>> round(profile_limit(lambda x: x * x, 0.0, 0.1, 4.0), 9)
    2.0
    """
    inner = start
    for _ in range(80):
        outer = start + step
        if deviance(outer) > cut:
            return float(brentq(lambda x: deviance(x) - cut, inner, outer, xtol=tolerance, rtol=tolerance))
        inner, step = outer, 2 * step
    return None
