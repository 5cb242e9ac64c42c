"""The likelihood of dose-response data: runs of batches, some left-censored, about a curve of one form."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize, minimize_scalar

from pinscar.stats.batch_means import BatchMeans, batch_means, fit_means
from pinscar.stats.censored import fit_left_censored
from pinscar.stats.dose_forms import Form, bend_grid, form_shape
from pinscar.stats.random_blocks import BlockedRuns, likelihood_of_means

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
CENSORED_POINTS = 5
FARTHEST = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseRuns:
    """Runs over doses of one additive.

    Parameters
    ----------
    logs : ndarray, shape (n,)
        Natural logarithm of each run's value; of the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    doses : ndarray, shape (g,)
        Dose of each batch [any one unit].
    batches : ndarray of int, shape (n,)
        Number of each run's batch, from 0.
    beside : ndarray, shape (g, e), optional
        Further columns of the mean, such as shifts of campaigns [-]; none where not given.
    member : ndarray of bool, shape (g,), optional
        Which batches are of the series; all where not given. The others, such as the reference oil of each
        campaign, only help to tell `beside` and the campaigns' heights.
    campaigns : ndarray of int, shape (n,), optional
        Number of each run's campaign, from 0, where campaigns are a random effect; then a batch may have runs
        in several. None for a single campaign and for fixed shifts.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> runs = DoseRuns(
    ...     logs=np.zeros(2),
    ...     left_censored=np.zeros(2, bool),
    ...     doses=np.array([0.0, 2.0]),
    ...     batches=np.arange(2),
    ... )
    >>> runs.is_complete, runs.columns, runs.levels.tolist()
    (True, 0, [0.0, 2.0])
    """

    logs: FloatArray
    left_censored: BoolArray
    doses: FloatArray
    batches: NDArray[np.int_]
    beside: FloatArray | None = None
    member: BoolArray | None = None
    campaigns: NDArray[np.int_] | None = None

    @property
    def members(self) -> BoolArray:
        """Which batches are of the series."""
        return np.ones(self.doses.size, dtype=bool) if self.member is None else self.member

    @property
    def columns(self) -> int:
        """How many further columns the mean has."""
        return 0 if self.beside is None else int(self.beside.shape[1])

    @property
    def is_complete(self) -> bool:
        """Whether no run is censored."""
        return not bool(self.left_censored.any())

    @property
    def levels(self) -> FloatArray:
        """The doses, each once."""
        return np.asarray(np.unique(self.doses[self.members]), dtype=np.float64)

    @property
    def means(self) -> BatchMeans:
        """The runs summed up by batch; censored ones count as their limit."""
        return batch_means(self.logs, self.batches)


@dataclass(frozen=True, slots=True, kw_only=True)
class Maximum:
    """The maximum of the likelihood for one form, or with a point of its curve held.

    Parameters
    ----------
    coefficients : ndarray
        Start and rise, or the rise alone where a point is held [-].
    bend : float
        K or d0 [the dose's unit].
    sigma, batch_sigma : float
        Standard deviations within and between batches [-], maximum likelihood.
    log_likelihood : float
        Log-likelihood of all runs [-].
    campaign_sigma : float or None
        Standard deviation between random campaigns [-]; None without them.
    """

    coefficients: FloatArray
    bend: float
    sigma: float
    batch_sigma: float
    log_likelihood: float
    campaign_sigma: float | None = None


def maximise(runs: DoseRuns, form: Form, held: tuple[float, float] | None = None) -> Maximum:
    """Fit a form by maximum likelihood.

    Parameters
    ----------
    runs : DoseRuns
        The data.
    form : {"straight", "saturating", "threshold"}
        The form.
    held : tuple of float, optional
        A dose, and the logarithm that the curve shall have there [the dose's unit, -].

    Returns
    -------
    Maximum
        The best curve, through the held point where one is given.

    References
    ----------
    Venzon and Moolgavkar, Applied Statistics 37 (1988) 87-94, for profiles; likelihood as
    :func:`pinscar.stats.batch_means.fit_means` and, with censored runs,
    :func:`pinscar.stats.censored_blocks.likelihood_of_means`.

    Examples
    --------
    >>> runs = DoseRuns(
    ...     logs=np.array([0.0, 1.0, 2.0, 2.9]),
    ...     left_censored=np.zeros(4, bool),
    ...     doses=np.arange(4.0),
    ...     batches=np.arange(4),
    ... )
    >>> fit = maximise(runs, "straight")
    >>> fit.coefficients.round(2).tolist()
    [0.02, 0.97]
    """
    return over_bends(runs, form, _inner(runs, form, held))


def over_bends(runs: DoseRuns, form: Form, fit_at: Callable[[float], Maximum]) -> Maximum:
    """Find the bend with the greatest likelihood: on a grid, and then by Brent's method.

    Parameters
    ----------
    runs : DoseRuns
        The data.
    form : {"straight", "saturating", "threshold"}
        The form.
    fit_at : callable
        Gives the maximum at a bend [the dose's unit].

    Returns
    -------
    Maximum
        The best of all.

    References
    ----------
    Brent, Algorithms for Minimization without Derivatives, 1973, chapter 5.

    Examples
    --------
    >>> runs = DoseRuns(
    ...     logs=np.zeros(4), left_censored=np.zeros(4, bool), doses=np.arange(4.0), batches=np.arange(4)
    ... )
    >>> at = lambda bend: Maximum(
    ...     coefficients=np.zeros(2),
    ...     bend=bend,
    ...     sigma=1.0,
    ...     batch_sigma=0.0,
    ...     log_likelihood=-((bend - 1.3) ** 2),
    ... )
    >>> round(over_bends(runs, "threshold", at).bend, 4)
    1.3
    """
    grid = bend_grid(form, runs.levels, 15 if runs.is_complete else CENSORED_POINTS)
    found = [fit_at(float(bend)) for bend in grid]
    best = int(np.argmax([one.log_likelihood for one in found]))
    if grid.size == 1:
        return found[0]
    low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, grid.size - 1)])
    as_log = form == "saturating"
    ends = (np.log(low), np.log(high)) if as_log else (low, high)

    def cost(place: float) -> float:
        return -fit_at(float(np.exp(place)) if as_log else place).log_likelihood

    width = ends[1] - ends[0]
    tuned = minimize_scalar(
        cost, bounds=ends, method="bounded", options={"xatol": width * (1e-7 if runs.is_complete else 5e-3)}
    )
    refined = fit_at(float(np.exp(tuned.x)) if as_log else float(tuned.x))
    return max(refined, found[best], key=lambda one: one.log_likelihood)


def design_of(
    runs: DoseRuns, form: Form, bend: float, held: tuple[float, float] | None
) -> tuple[FloatArray, FloatArray]:
    r"""Write a form as a linear model for a given bend.

    Parameters
    ----------
    runs : DoseRuns
        The data.
    form : {"straight", "saturating", "threshold"}
        The form.
    bend : float
        K or d0 [the dose's unit].
    held : tuple of float or None
        A dose and the logarithm there [the dose's unit, -].

    Returns
    -------
    tuple of ndarray, shape (g, p), and ndarray, shape (g,)
        The design, a row a batch, and what to take off each batch's logarithms first [-].

    References
    ----------
    Own derivation: :math:`y - v = b\,[g(d) - g(D)]` for a curve through (D, v).

    Examples
    --------
    >>> runs = DoseRuns(
    ...     logs=np.zeros(2),
    ...     left_censored=np.zeros(2, bool),
    ...     doses=np.array([0.0, 2.0]),
    ...     batches=np.arange(2),
    ... )
    >>> design, offset = design_of(runs, "straight", 0.0, (1.0, 4.0))
    >>> design.ravel().tolist(), offset.tolist()
    ([-1.0, 1.0], [4.0, 4.0])
    """
    inside = runs.members.astype(np.float64)
    shape = form_shape(form, runs.doses, bend)
    beside = np.zeros((runs.doses.size, 0)) if runs.beside is None else runs.beside
    if held is None:
        return np.column_stack([inside, inside * shape, beside]), np.zeros(runs.doses.size)
    through = inside * (shape - float(form_shape(form, np.array([held[0]]), bend)[0]))
    return np.column_stack([through, beside]), inside * held[1]


def _inner(runs: DoseRuns, form: Form, held: tuple[float, float] | None) -> Callable[[float], Maximum]:
    if runs.is_complete:
        means = runs.means

        def complete(bend: float) -> Maximum:
            design, offset = design_of(runs, form, bend, held)
            shifted = BatchMeans(means.means - offset, means.sizes, means.within)
            fit = fit_means(shifted, design)
            tau = float(np.sqrt(fit.ratio)) * fit.sigma
            return Maximum(
                coefficients=fit.coefficients,
                bend=bend,
                sigma=fit.sigma,
                batch_sigma=tau,
                log_likelihood=fit.log_likelihood,
            )

        return complete
    warm: list[FloatArray] = []

    def censored(bend: float) -> Maximum:
        design, offset = design_of(runs, form, bend, held)
        fit, last = _censored_fit(
            runs, design[runs.batches], offset[runs.batches], bend, warm[-1] if warm else None
        )
        warm[:] = [last]
        return fit

    return censored


def _censored_fit(
    runs: DoseRuns, design: FloatArray, offset: FloatArray, bend: float, start: FloatArray | None
) -> tuple[Maximum, FloatArray]:
    """Maximise over rise and spreads; the last maximum nearby is a good start."""
    logs = runs.logs - offset
    flat = fit_left_censored(logs, runs.left_censored, design)
    k, unit = flat.coefficients.size, flat.sigma
    data = BlockedRuns(logs / unit, runs.left_censored, design, runs.batches)
    scale = np.maximum(np.abs(design).max(axis=0), 1e-12)

    def cost(parameters: FloatArray) -> tuple[float, FloatArray]:
        if abs(parameters[k]) > FARTHEST:
            return np.inf, np.zeros_like(parameters)
        means = design @ (parameters[:k] / scale)
        value, gradient = likelihood_of_means(data, means, float(parameters[k]), float(parameters[k + 1]))
        return -value, -np.append(design.T @ gradient[:-2] / scale, gradient[-2:])

    first = np.append(flat.coefficients / unit * scale, [np.log(0.8), 0.6])
    if start is not None and start.size == first.size:
        first = start.copy()
    found = minimize(cost, first, jac=True, method="BFGS", options={"gtol": 3e-5, "maxiter": 100})
    best = np.asarray(found.x, dtype=np.float64)
    value = float(-found.fun - np.count_nonzero(~runs.left_censored) * np.log(unit))
    if not value > flat.log_likelihood:
        return Maximum(
            coefficients=flat.coefficients,
            bend=bend,
            sigma=unit,
            batch_sigma=0.0,
            log_likelihood=flat.log_likelihood,
        ), first
    sigma, tau = float(unit * np.exp(best[k])), float(unit * abs(best[k + 1]))
    return Maximum(
        coefficients=best[:k] / scale * unit, bend=bend, sigma=sigma, batch_sigma=tau, log_likelihood=value
    ), best
