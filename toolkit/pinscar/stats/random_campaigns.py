"""Left-censored runs of batches in random campaigns: their joint maximum and their likelihood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from pinscar.stats.random_blocks import BlockedRuns, information_of_means

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int_]
STEPS = 30
"""Most Newton steps."""
LEAST = 1e-6
"""Spread between campaigns, as a share of that between runs, below which it counts as none."""


@dataclass(frozen=True, slots=True)
class Spreads:
    """Standard deviations of the logarithms.

    Parameters
    ----------
    sigma, batch, campaign : float
        Between runs of a batch, between batches, between campaigns [-].
    """

    sigma: float
    batch: float
    campaign: float


@dataclass(frozen=True, slots=True)
class JointFit:
    """Coefficients and campaigns' heights at given spreads.

    Parameters
    ----------
    coefficients : ndarray, shape (p,)
        One a column of the design [-].
    heights : ndarray, shape (k,)
        Of the campaigns, about zero [-].
    means : ndarray, shape (n,)
        Mean of each run with its campaign's height, without its batch's effect [-].
    covariance : ndarray, shape (p, p)
        Of the coefficients [-].
    log_likelihood : float
        With the heights integrated out [-].
    spreads : Spreads
        The spreads it holds for.
    """

    coefficients: FloatArray
    heights: FloatArray
    means: FloatArray
    covariance: FloatArray
    log_likelihood: float
    spreads: Spreads


def joint_maximum(
    data: BlockedRuns, design: FloatArray, campaigns: IntArray, spreads: Spreads, means: FloatArray
) -> JointFit:
    r"""Fit coefficients and campaigns' heights together, each height held near zero by its own density.

    These are Henderson's equations with the information of the censored runs in place of the inverse of their
    covariance: without censored runs, generalised least squares exactly. The likelihood is integrated over
    the heights by Laplace's method about this maximum,

    .. math:: \ell = \ell(\beta, \hat c) - \frac{\hat c^T \hat c}{2 \kappa^2}
              - \frac12 \ln\det(I + \kappa^2 W^T J W)

    with J the information in the runs' means and W the campaigns of the runs; exact without censored runs.

    Parameters
    ----------
    data : BlockedRuns
        The runs with their batches as blocks; their design is not looked at.
    design : ndarray, shape (n, p)
        A row a run, of full column rank [-]; p may be 0.
    campaigns : ndarray of int, shape (n,)
        Number of each run's campaign, from 0.
    spreads : Spreads
        The spreads.
    means : ndarray, shape (n,)
        Means to begin with [-].

    Returns
    -------
    JointFit
        The maximum.

    References
    ----------
    Henderson, "Best linear unbiased estimation and prediction under a selection model", Biometrics 31 (1975)
    423-447; Tierney and Kadane, "Accurate approximations for posterior moments and marginal densities", JASA
    81 (1986) 82-86, for Laplace's method.

    Examples
    --------
    Without censored runs the likelihood is that of a multivariate normal.

    >>> from scipy.stats import multivariate_normal
    >>> y, none, two = np.array([0.3, 1.1, 0.2]), np.zeros(3, bool), np.array([0, 0, 1])
    >>> runs = BlockedRuns(y, none, np.zeros((3, 0)), np.arange(3))
    >>> fit = joint_maximum(runs, np.zeros((3, 0)), two, Spreads(0.5, 0.2, 0.3), np.zeros(3))
    >>> covariance = 0.29 * np.eye(3) + 0.09 * (two[:, None] == two)
    >>> bool(abs(fit.log_likelihood - multivariate_normal.logpdf(y, np.zeros(3), covariance)) < 1e-9)
    True
    """
    p = design.shape[1]
    members = (campaigns[:, None] == np.arange(int(campaigns.max()) + 1)).astype(np.float64)
    free = spreads.campaign > LEAST * spreads.sigma
    whole = np.column_stack([design, members]) if free else design
    penalty = np.zeros(whole.shape[1])
    penalty[p:] = 1.0 / spreads.campaign**2 if free else 0.0
    log_sigma = float(np.log(spreads.sigma))

    def at(point: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        value, slope, inner = information_of_means(data, whole @ point, log_sigma, spreads.batch)
        return (
            value - 0.5 * float(penalty @ point**2),
            whole.T @ slope - penalty * point,
            whole.T @ inner @ whole,
        )

    theta = np.zeros(whole.shape[1])
    if theta.size:
        theta = np.asarray(np.linalg.lstsq(whole, means, rcond=None)[0], dtype=np.float64)
    value, slope, inner = at(theta)
    for _ in range(STEPS if theta.size else 0):
        step = np.asarray(np.linalg.solve(inner + np.diag(penalty), slope), dtype=np.float64)
        tried = at(theta + step)
        while tried[0] < value - 1e-9 and float(np.abs(step).max()) > 1e-9:
            step = 0.5 * step
            tried = at(theta + step)
        theta = np.asarray(theta + step, dtype=np.float64)
        value, slope, inner = tried
        if float(np.abs(step).max()) < 1e-7 * spreads.sigma:
            break
    if free:
        of_heights = np.eye(members.shape[1]) + spreads.campaign**2 * inner[p:, p:]
        value -= 0.5 * float(np.linalg.slogdet(of_heights)[1])
    covariance = np.linalg.inv(inner + np.diag(penalty))[:p, :p] if p else np.zeros((0, 0))
    return JointFit(
        theta[:p],
        theta[p:] if free else np.zeros(members.shape[1]),
        np.asarray(whole @ theta, dtype=np.float64),
        np.asarray(covariance, dtype=np.float64),
        float(value),
        spreads,
    )


def likeliest_spreads(
    data: BlockedRuns, design: FloatArray, campaigns: IntArray, start: JointFit
) -> JointFit:
    """Fit with the spreads that have the greatest likelihood.

    Parameters
    ----------
    data : BlockedRuns
        The runs with their batches as blocks; their design is not looked at.
    design : ndarray, shape (n, p)
        A row a run, of full column rank [-].
    campaigns : ndarray of int, shape (n,)
        Number of each run's campaign, from 0.
    start : JointFit
        A fit at spreads to begin with.

    Returns
    -------
    JointFit
        The maximum over coefficients, heights and spreads.

    References
    ----------
    As :func:`joint_maximum`; quasi-Newton steps in the logarithm of the spread between runs and in the two
    others, whose sign does not matter.

    Examples
    --------
    >>> y, two = np.array([0.3, 1.1, 0.2, 0.9, 1.8, 2.4]), np.array([0, 0, 0, 1, 1, 1])
    >>> runs = BlockedRuns(y, np.zeros(6, bool), np.zeros((6, 0)), np.arange(6))
    >>> begin = joint_maximum(runs, np.ones((6, 1)), two, Spreads(0.6, 0.0, 0.5), y)
    >>> found = likeliest_spreads(runs, np.ones((6, 1)), two, begin)
    >>> found.log_likelihood > begin.log_likelihood
    True
    """
    unit = start.spreads.sigma
    several = bool(np.bincount(data.blocks).max() > 1)
    last = [start]

    def fit_at(place: FloatArray) -> JointFit:
        batch = unit * abs(float(place[1])) if several else 0.0
        spreads = Spreads(unit * float(np.exp(place[0])), batch, unit * abs(float(place[2])))
        last[0] = joint_maximum(data, design, campaigns, spreads, last[0].means)
        return last[0]

    def cost(place: FloatArray) -> float:
        return -fit_at(place).log_likelihood if abs(place[0]) < 10.0 else np.inf

    # a spread of none is a stationary point, so the search does not begin there
    first = np.array([0.0, max(start.spreads.batch / unit, 0.2), max(start.spreads.campaign / unit, 0.2)])
    found = minimize(cost, first, method="BFGS", options={"eps": 1e-5, "gtol": 1e-3, "maxiter": 60})
    best = np.asarray(found.x, dtype=np.float64)
    for place in (1, 2):  # nothing lies below zero, so a spread of none may be the maximum
        none = best.copy()
        none[place] = 0.0
        best = none if cost(none) <= cost(best) else best
    return max(fit_at(best), start, key=lambda one: one.log_likelihood)
