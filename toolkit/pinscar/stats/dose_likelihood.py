"""The likelihood of dose-response data about a curve of one form, with random effects of batches."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize, minimize_scalar

from pinscar.stats.batch_model import (
    LOG_2PI,
    BatchMeans,
    batch_means,
    fit_means,
    fit_mixed,
    restricted_campaigns,
)
from pinscar.stats.censored import fit_left_censored
from pinscar.stats.random_blocks import (
    BlockedRuns,
    Spreads,
    completed_blocks,
    joint_maximum,
    likeliest_spreads,
    likelihood_of_means,
)

FloatArray = NDArray[np.float64]
Form = Literal["straight", "saturating", "threshold"]
FORMS: tuple[Form, ...] = ("straight", "saturating", "threshold")
TERMS = {"straight": 2, "saturating": 3, "threshold": 3}
"""Parameters of the mean of each form: start, rise and, but for the straight one, where it bends."""


def form_shape(form: Form, dose: ArrayLike, bend: float) -> FloatArray:
    r"""Give the shape of a form, which its rise multiplies.

    .. math:: \ln y = a + b\, g(d), \quad g = d, \quad g = \frac{d}{K + d}, \quad g = \max(d - d_0, 0)

    Parameters
    ----------
    form : {"straight", "saturating", "threshold"}
        The form. Saturating is Langmuir's isotherm: additive that adsorbs on a limited surface.
    dose : array_like
        Dose [any unit].
    bend : float
        K or d0 [the dose's unit]; a straight line takes no notice of it.

    Returns
    -------
    ndarray
        The shape, as many as doses.

    References
    ----------
    Langmuir, "The adsorption of gases on plane surfaces of glass, mica and platinum", J. Am. Chem. Soc. 40
    (1918) 1361-1403, equation (12) of the isotherm; the threshold form is a line with one break.

    Examples
    --------
    >>> form_shape("saturating", [0.0, 1.0, 3.0], 1.0).tolist()
    [0.0, 0.5, 0.75]
    >>> form_shape("threshold", [0.0, 1.0, 3.0], 1.0).tolist()
    [0.0, 0.0, 2.0]
    """
    d = np.asarray(dose, dtype=np.float64)
    if form == "straight":
        return d
    if form == "saturating":
        return np.asarray(d / (bend + d), dtype=np.float64)
    return np.maximum(d - bend, 0.0)


def bend_grid(form: Form, doses: ArrayLike, points: int = 15) -> FloatArray:
    """Give the places where a bend is looked for.

    Parameters
    ----------
    form : {"straight", "saturating", "threshold"}
        The form.
    doses : array_like
        Doses tested [any unit].
    points : int
        How many places.

    Returns
    -------
    ndarray
        K from a fiftieth to ten times the highest dose; d0 from the lowest dose to the last but one, since
        one beyond cannot be told from it; a single 0 for a straight line [the dose's unit].

    References
    ----------
    Own derivation: outside, a saturating curve is a step or a straight line.

    Examples
    --------
    >>> bend_grid("threshold", [0.0, 1.0, 2.0, 4.0], 3).tolist()
    [0.0, 1.0, 2.0]
    """
    levels = np.unique(np.asarray(doses, dtype=np.float64))
    if form == "straight":
        return np.zeros(1)
    if form == "saturating":
        return np.asarray(np.geomspace(0.02, 10.0, points) * levels[-1], dtype=np.float64)
    return np.linspace(levels[0], levels[-2], points)


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
    :func:`pinscar.stats.batch_model.fit_means` and, with censored runs,
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


IntArray = NDArray[np.int_]
ROUNDS = 20
"""Most rounds of bend and spreads."""
FEWEST_CAMPAIGNS = 3
"""Campaigns below which their scatter can't be told: two have a single difference."""


def likeliest_of_campaigns(runs: DoseRuns, form: Form) -> Maximum:
    """Fit a form by maximum likelihood with random effects of batches and of campaigns.

    Parameters
    ----------
    runs : DoseRuns
        The data, with campaigns.
    form : {"straight", "saturating", "threshold"}
        The form.

    Returns
    -------
    Maximum
        The best curve at the likeliest spreads.

    References
    ----------
    Searle, Casella and McCulloch, Variance Components, 1992, section 6.2; with censored runs
    :func:`pinscar.stats.random_blocks.joint_maximum`.

    Examples
    --------
    >>> doses, campaigns = np.arange(6.0), np.array([0, 1, 2, 0, 1, 2])
    >>> logs = 4.0 + 0.1 * doses + 0.01 * np.array([1, -1, 0, 0, 1, -1])
    >>> logs += np.array([0.05, -0.05, 0.0])[campaigns]
    >>> runs = DoseRuns(
    ...     logs=logs, left_censored=np.zeros(6, bool), doses=doses, batches=np.arange(6), campaigns=campaigns
    ... )
    >>> fit = likeliest_of_campaigns(runs, "straight")
    >>> round(float(fit.coefficients[1]), 2), fit.campaign_sigma > fit.sigma
    (0.1, True)
    """
    return _in_turns(runs, form, restricted=False)


def restricted_curve(runs: DoseRuns, form: Form) -> Maximum:
    """Fit a form at the spreads of the restricted likelihood, which allow for the terms of the curve.

    Parameters
    ----------
    runs : DoseRuns
        The data, with campaigns.
    form : {"straight", "saturating", "threshold"}
        The form.

    Returns
    -------
    Maximum
        The best curve at these spreads, with its full log-likelihood there.

    References
    ----------
    Searle, Casella and McCulloch, Variance Components, 1992, section 6.6; with censored runs as
    :func:`pinscar.stats.batch_model.fit_batch_model`.

    Examples
    --------
    >>> doses, campaigns = np.arange(6.0), np.array([0, 1, 2, 0, 1, 2])
    >>> logs = 4.0 + 0.1 * doses + 0.01 * np.array([1, -1, 0, 0, 1, -1])
    >>> runs = DoseRuns(
    ...     logs=logs, left_censored=np.zeros(6, bool), doses=doses, batches=np.arange(6), campaigns=campaigns
    ... )
    >>> free, likeliest = restricted_curve(runs, "straight"), likeliest_of_campaigns(runs, "straight")
    >>> free.sigma > likeliest.sigma, round(free.campaign_sigma, 6)
    (True, 0.0)
    """
    return _in_turns(runs, form, restricted=True)


def held_at(runs: DoseRuns, form: Form, free: Maximum) -> Callable[[tuple[float, float] | None], Maximum]:
    """Make the fit of curves through a point, at the spreads of another fit.

    Parameters
    ----------
    runs : DoseRuns
        The data, with campaigns.
    form : {"straight", "saturating", "threshold"}
        The form.
    free : Maximum
        The fit whose spreads hold.

    Returns
    -------
    callable
        Function of a dose and the logarithm there [the dose's unit, -], or of None for no point; gives the
        best curve.

    References
    ----------
    Venzon and Moolgavkar, Applied Statistics 37 (1988) 87-94.

    Examples
    --------
    >>> doses, campaigns = np.arange(6.0), np.array([0, 1, 2, 0, 1, 2])
    >>> logs = 4.0 + 0.1 * doses + 0.01 * np.array([1, -1, 0, 0, 1, -1])
    >>> runs = DoseRuns(
    ...     logs=logs, left_censored=np.zeros(6, bool), doses=doses, batches=np.arange(6), campaigns=campaigns
    ... )
    >>> free = restricted_curve(runs, "straight")
    >>> at = held_at(runs, "straight", free)
    >>> at((2.0, 4.5)).log_likelihood < at(None).log_likelihood
    True
    """
    solve = _solver(runs, free.sigma, free.batch_sigma, free.campaign_sigma or 0.0)

    def best(held: tuple[float, float] | None) -> Maximum:
        def fit_at(bend: float) -> Maximum:
            design, offset = design_of(runs, form, bend, held)
            coefficients, value = solve(design[runs.batches], offset[runs.batches])
            return replace(free, coefficients=coefficients, bend=bend, log_likelihood=value)

        return over_bends(runs, form, fit_at)

    return best


def batch_df(runs: DoseRuns, form: Form) -> int:
    r"""Count the batches that tell how batches scatter about the curve.

    .. math:: \nu = \mathrm{rank}(X, C, B) - \mathrm{rank}(X, C) - [k > 1]

    with the terms X of the mean, the k campaigns C and the batches B of each run. One is given up for the
    scatter of campaigns, which is estimated too: without that the simulated coverage was 91 % for 95 %.

    Parameters
    ----------
    runs : DoseRuns
        The data, with campaigns.
    form : {"straight", "saturating", "threshold"}
        The form.

    Returns
    -------
    int
        The degrees of freedom.

    References
    ----------
    Henderson, "Estimation of variance and covariance components", Biometrics 9 (1953) 226-252, method 3.

    Examples
    --------
    Five doses, each batch in all three campaigns: five batches less two terms and one. The same five once
    each, with no oil that joins the campaigns: two fewer.

    >>> batch, campaigns = np.repeat(np.arange(5), 3), np.tile(np.arange(3), 5)
    >>> none = np.zeros(15, bool)
    >>> batch_df(
    ...     DoseRuns(
    ...         logs=np.zeros(15),
    ...         left_censored=none,
    ...         doses=np.arange(5.0),
    ...         batches=batch,
    ...         campaigns=campaigns,
    ...     ),
    ...     "straight",
    ... )
    2
    >>> doses, own = np.arange(5.0), np.array([0, 1, 2, 0, 1])
    >>> alone = DoseRuns(
    ...     logs=np.zeros(5), left_censored=none[:5], doses=doses, batches=np.arange(5), campaigns=own
    ... )
    >>> batch_df(alone, "straight")
    0
    """
    campaigns = _campaigns(runs)
    members = (campaigns[:, None] == np.unique(campaigns)).astype(np.float64)
    told = _more_ranks(np.column_stack([_tangent(runs, form), members]), _batches(runs))
    return told - int(members.shape[1] > 1)


def batch_square(runs: DoseRuns, form: Form, free: Maximum) -> float:
    r"""Compare how far batches lie off the curve with what the spreads of a fit let expect.

    .. math:: M = \frac{1}{\nu} \left[ \lVert y - \hat y \rVert_V^2 - \min_u \lVert y - X b - B u
              \rVert_V^2 \right]

    in the metric of the runs' covariance V at the spreads of the fit. Censored runs stand at their expected
    value, and what stays unknown of a batch's mean is added, as far as the curve leaves it. Without
    censored runs and campaigns M is the mean square of the batch means over its expectation, so that a test
    divided by it is the exact F test.

    Parameters
    ----------
    runs : DoseRuns
        The data.
    form : {"straight", "saturating", "threshold"}
        The form.
    free : Maximum
        Its fit.

    Returns
    -------
    float
        About 1; less where the spreads had to be pooled [-].

    References
    ----------
    Searle, Casella and McCulloch, Variance Components, 1992, section 5.3 (reductions in sums of squares); for
    the completed runs Dempster, Laird and Rubin, J. R. Stat. Soc. B 39 (1977) 1-38, example 4.3.

    Examples
    --------
    Four batches of one run each about a line: the spread is that of the batches itself.

    >>> logs = np.array([0.0, 1.1, 1.9, 3.0])
    >>> runs = DoseRuns(
    ...     logs=logs, left_censored=np.zeros(4, bool), doses=np.arange(4.0), batches=np.arange(4)
    ... )
    >>> round(batch_square(runs, "straight", restricted_curve(runs, "straight")), 6)
    1.0
    """
    x, data = _design(runs, form, free.bend)
    spreads = Spreads(free.sigma, free.batch_sigma, free.campaign_sigma or 0.0)
    curve, logs, unknown = x @ free.coefficients, runs.logs, np.zeros(runs.doses.size)
    if not runs.is_complete:
        means = joint_maximum(data, x, _campaigns(runs), spreads, runs.logs).means
        logs, unknown = completed_blocks(data, means, float(np.log(spreads.sigma)), spreads.batch)
    white = _white(runs, spreads)
    every = white @ np.column_stack([x, _batches(runs)])
    rest = white @ logs - every @ np.linalg.lstsq(every, white @ logs, rcond=None)[0]
    square = float(np.sum((white @ (logs - curve)) ** 2) - np.sum(rest**2))
    weights = 1.0 / (spreads.sigma**2 / np.bincount(runs.batches) + spreads.batch**2)
    df = max(_more_ranks(_tangent(runs, form), _batches(runs)), 1)
    # a curve fitted to g means takes up all but df / g of what is unknown of them
    square += float(np.mean(weights * unknown)) * df
    return max(square, 1e-24) / df


def _tangent(runs: DoseRuns, form: Form) -> FloatArray:
    """Write the terms of the mean of each run, with the slope of the curve in its bend."""
    middle = float(runs.levels[1:3].mean())  # a bend between two doses, where every term of the form shows
    x, _ = _design(runs, form, middle)
    if form == "straight":
        return x
    other, _ = _design(runs, form, 0.9 * middle)
    return np.column_stack([x, other[:, 1]])


def _batches(runs: DoseRuns) -> FloatArray:
    return np.asarray(runs.batches[:, None] == np.unique(runs.batches), dtype=np.float64)


def _more_ranks(without: FloatArray, added: FloatArray) -> int:
    whole = np.column_stack([without, added])
    return int(np.linalg.matrix_rank(whole)) - int(np.linalg.matrix_rank(without))


def campaign_heights(runs: DoseRuns, form: Form, free: Maximum) -> FloatArray:
    """Predict the height of each campaign about their mean.

    Parameters
    ----------
    runs : DoseRuns
        The data, with campaigns.
    form : {"straight", "saturating", "threshold"}
        The form.
    free : Maximum
        Its fit.

    Returns
    -------
    ndarray, shape (k,)
        The heights [-].

    References
    ----------
    Henderson, Biometrics 31 (1975) 423-447 (best linear unbiased prediction).

    Examples
    --------
    >>> doses, campaigns = np.arange(6.0), np.array([0, 1, 2, 0, 1, 2])
    >>> logs = 4.0 + 0.1 * doses + 0.01 * np.array([1, -1, 0, 0, 1, -1])
    >>> logs += np.array([0.05, -0.05, 0.0])[campaigns]
    >>> runs = DoseRuns(
    ...     logs=logs, left_censored=np.zeros(6, bool), doses=doses, batches=np.arange(6), campaigns=campaigns
    ... )
    >>> campaign_heights(runs, "straight", restricted_curve(runs, "straight")).round(2).tolist()
    [0.05, -0.05, -0.0]
    """
    x, data = _design(runs, form, free.bend)
    spreads = Spreads(free.sigma, free.batch_sigma, free.campaign_sigma or 0.0)
    return joint_maximum(data, x, _campaigns(runs), spreads, runs.logs).heights


def _in_turns(runs: DoseRuns, form: Form, *, restricted: bool) -> Maximum:
    """Find the bend at given spreads and the spreads at that bend, in turns until neither moves."""
    spreads = _spreads(runs, "straight", 0.0, restricted=restricted)
    found: Maximum | None = None
    for _ in range(ROUNDS):
        begin = Maximum(
            coefficients=np.zeros(0),
            bend=0.0,
            sigma=spreads.sigma,
            batch_sigma=spreads.batch,
            log_likelihood=-np.inf,
            campaign_sigma=spreads.campaign,
        )
        last, found = found, held_at(runs, form, begin)(None)
        if form == "straight" or (last is not None and _is_settled(last, found)):
            break
        spreads = _spreads(runs, form, found.bend, restricted=restricted, last=spreads)
    assert found is not None
    return found


def _is_settled(last: Maximum, found: Maximum) -> bool:
    return (
        abs(found.bend - last.bend) < 1e-4 * max(found.bend, 1e-6)
        and abs(found.log_likelihood - last.log_likelihood) < 1e-4
    )


def _spreads(
    runs: DoseRuns, form: Form, bend: float, *, restricted: bool, last: Spreads | None = None
) -> Spreads:
    x, data = _design(runs, form, bend)
    campaigns = _campaigns(runs)
    if not runs.is_complete:
        if restricted or last is None:
            found = restricted_campaigns(data, x, campaigns)
        else:
            found = joint_maximum(data, x, campaigns, last, runs.logs)
        return (found if restricted else likeliest_spreads(data, x, campaigns, found)).spreads
    room = runs.doses.size > x.shape[1]
    batches = runs.batches if room else np.zeros_like(runs.batches)
    fit = fit_mixed(runs.logs, x, batches, campaigns, restricted=restricted)
    return Spreads(fit.sigma, fit.batch_sigma, fit.campaign_sigma)


def _design(runs: DoseRuns, form: Form, bend: float) -> tuple[FloatArray, BlockedRuns]:
    design, _ = design_of(runs, form, bend, None)
    x = design[runs.batches]
    return x, BlockedRuns(runs.logs, runs.left_censored, x, runs.batches)


def _campaigns(runs: DoseRuns) -> IntArray:
    return np.zeros(runs.logs.size, dtype=np.int64) if runs.campaigns is None else runs.campaigns


def _solver(
    runs: DoseRuns, sigma: float, batch: float, campaign: float
) -> Callable[[FloatArray, FloatArray], tuple[FloatArray, float]]:
    """Make the fit of a linear model at given spreads: exact without censored runs, else by Laplace."""
    campaigns = _campaigns(runs)
    if not runs.is_complete:
        warm = [runs.logs]
        data = BlockedRuns(runs.logs, runs.left_censored, np.zeros((runs.logs.size, 0)), runs.batches)
        spreads = Spreads(sigma, batch, campaign)

        def censored(x: FloatArray, offset: FloatArray) -> tuple[FloatArray, float]:
            shifted = replace(data, logs=runs.logs - offset)
            found = joint_maximum(shifted, x, campaigns, spreads, warm[0] - offset)
            warm[0] = found.means + offset
            return found.coefficients, found.log_likelihood

        return censored
    white = _white(runs, Spreads(sigma, batch, campaign))
    constant = -0.5 * runs.logs.size * LOG_2PI + float(np.sum(np.log(np.diag(white))))

    def complete(x: FloatArray, offset: FloatArray) -> tuple[FloatArray, float]:
        wx, wy = white @ x, white @ (runs.logs - offset)
        coefficients = np.asarray(np.linalg.lstsq(wx, wy, rcond=None)[0], dtype=np.float64)
        return coefficients, constant - 0.5 * float(np.sum((wy - wx @ coefficients) ** 2))

    return complete


def _white(runs: DoseRuns, spreads: Spreads) -> FloatArray:
    """Inverse of the lower root of the runs' covariance."""
    campaigns = _campaigns(runs)
    v = spreads.sigma**2 * np.eye(runs.logs.size)
    v = v + spreads.batch**2 * (runs.batches[:, None] == runs.batches)
    v = v + spreads.campaign**2 * (campaigns[:, None] == campaigns)
    return np.asarray(np.linalg.inv(np.linalg.cholesky(v)), dtype=np.float64)
