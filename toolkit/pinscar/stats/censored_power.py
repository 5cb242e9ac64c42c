"""Power of a comparison of film pressures of which some are left-censored, by seeded simulation.

Many simulated campaigns are fitted at once, and judged by the limits that the report gives.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr, ndtr, ndtri

from pinscar.stats.censored import censoring_shift, deviance_cut
from pinscar.stats.censored_groups import sign_test_error
from pinscar.stats.censored_own_batch import told_apart
from pinscar.stats.power import repeats_for_ratio
from pinscar.stats.simultaneous import control_correlation, joint_critical_value
from pinscar.stats.two_groups import guarded_critical, outward_factor

STEPS = 60
HALVINGS = 12
TOLERANCE = 1e-10
_Array = NDArray[np.float64]


def median_roots(values: ArrayLike, left_censored: ArrayLike) -> NDArray[np.float64]:
    r"""Compute the signed root of the deviance of the median zero, campaign by campaign.

    .. math:: r = \mathrm{sign}(\hat\mu) \sqrt{2 [\ell(\hat\mu, \hat\sigma) - \max_\sigma \ell(0, \sigma)]}

    Parameters
    ----------
    values : array_like
        Logarithms of the values or bounds, less that of the median tested [-], shape (campaigns, runs).
    left_censored : array_like of bool
        Which values are bounds, the same shape; each campaign has two distinct values seen.

    Returns
    -------
    ndarray
        The roots [-], shape (campaigns,).

    References
    ----------
    Barndorff-Nielsen, Biometrika 73 (1986) 307-322, for the signed root; Olsen, Econometrica 46 (1978)
    1211-1215, for the concave parameters :math:`1/\sigma` and :math:`\mu/\sigma` in which Newton's method
    finds the maxima of all campaigns together.

    Examples
    --------
    >>> median_roots([[1.0, 2.0, 3.0]], [[False] * 3]).round(4) == round((3 * np.log(7.0)) ** 0.5, 4)
    array([ True])
    """
    v, bound = np.asarray(values, dtype=np.float64), np.asarray(left_censored, dtype=bool)
    scaled = v / np.sqrt(np.mean(v**2, axis=1, keepdims=True))
    free, held = np.ones((v.shape[1], 1)), np.zeros((v.shape[1], 0))
    return _signed_roots(scaled, bound, np.ones_like(scaled), free, held)


def ratio_roots(values: ArrayLike, left_censored: ArrayLike, groups: ArrayLike) -> NDArray[np.float64]:
    """Compute the signed root of the deviance of equal medians of two of some groups of one spread.

    Parameters
    ----------
    values : array_like
        Logarithms of the values or bounds [-], shape (campaigns, runs).
    left_censored : array_like of bool
        Which values are bounds, the same shape; in each campaign groups 0 and 1 have a value seen, and one
        of the groups two distinct ones. Other groups that are all censored stand aside.
    groups : array_like of int
        The group of each run [-], 0 for the reference, 1 for the subject, more for others, shape (runs,).

    Returns
    -------
    ndarray
        The roots [-], positive where the subject's median is estimated higher, shape (campaigns,).

    References
    ----------
    As `median_roots`.

    Examples
    --------
    >>> roots = ratio_roots([[1.0, 2.0, 3.0, 3.0, 4.0, 5.0]], [[False] * 6], [0, 0, 0, 1, 1, 1])
    >>> (roots**2).round(6)
    array([5.497744])
    """
    v, bound = np.asarray(values, dtype=np.float64), np.asarray(left_censored, dtype=bool)
    numbers = np.asarray(groups, dtype=np.int64)
    members = numbers[:, None] == np.arange(max(int(numbers.max()), 1) + 1)
    seen = (~bound).astype(np.float64) @ members.astype(np.float64)
    weights = (seen > 0)[:, numbers].astype(np.float64)
    scaled = (v - v.mean(axis=1, keepdims=True)) / v.std(axis=1, keepdims=True)
    both = members[:, 0] | members[:, 1]
    held = np.column_stack([both, members[:, 2:]]).astype(np.float64)
    free = np.column_stack([members[:, 1], held]).astype(np.float64)
    return _signed_roots(scaled, bound, weights, free, held)


def _signed_roots(v: _Array, bound: NDArray[np.bool_], weights: _Array, free: _Array, held: _Array) -> _Array:
    """Signed root of the likelihood ratio of two designs that differ in the first column of `free`."""
    keep = np.zeros(v.shape[0], dtype=bool)
    top, points = _maximum(_Batch(v, bound, weights, free), keep)
    lower, _ = _maximum(_Batch(v, bound, weights, held), keep)
    return np.sign(points[:, 0]) * np.sqrt(np.maximum(2.0 * (top - lower), 0.0))


@dataclass(frozen=True, slots=True)
class _Batch:
    """Values, bounds and weights of some campaigns, and the design they share."""

    v: _Array
    bound: NDArray[np.bool_]
    weights: _Array
    design: _Array

    def rows(self, which: NDArray[np.intp]) -> _Batch:
        return _Batch(self.v[which], self.bound[which], self.weights[which], self.design)


def _maximum(batch: _Batch, skip: NDArray[np.bool_]) -> tuple[_Array, _Array]:
    """Maximise the log likelihood of each campaign: heights and points, zero for those to be skipped."""
    heights = np.zeros(batch.v.shape[0])
    active = np.flatnonzero(~skip)
    points = np.zeros((batch.v.shape[0], batch.design.shape[1] + 1))
    points[:, -1] = 1.0
    heights[active] = _log_likelihood(points[active], batch.rows(active))
    for _ in range(STEPS):
        if active.size == 0:
            return heights, points
        here = batch.rows(active)
        step, gain = _newton_step(points[active], here)
        points[active], heights[active] = _climb(points[active], step, heights[active], here)
        active = active[gain > TOLERANCE]
    raise ArithmeticError("the censored likelihood did not settle: values differ by too little to be fitted")


def _log_likelihood(point: _Array, batch: _Batch) -> _Array:
    theta = point[:, -1:]
    u = theta * batch.v - point[:, :-1] @ batch.design.T
    terms = np.where(batch.bound, log_ndtr(u), np.log(theta) - u**2 / 2.0)
    return np.asarray(np.sum(batch.weights * terms, axis=1), dtype=np.float64)


def _newton_step(point: _Array, batch: _Batch) -> tuple[_Array, _Array]:
    """Step to the top of the local parabola, and the height it promises."""
    theta = point[:, -1:]
    u = theta * batch.v - point[:, :-1] @ batch.design.T
    # Derivative of the logarithm of the normal distribution, and minus its own derivative.
    mills = np.exp(-(u**2) / 2.0 - log_ndtr(u)) / np.sqrt(2.0 * np.pi)
    slope = batch.weights * np.where(batch.bound, mills, -u)
    curve = batch.weights * np.where(batch.bound, mills * (mills + u), 1.0)
    means = np.broadcast_to(-batch.design, (*batch.v.shape, batch.design.shape[1]))
    columns = np.concatenate([means, batch.v[:, :, None]], axis=2)
    gradient = np.einsum("cr,crp->cp", slope, columns)
    information = np.einsum("cr,crp,crq->cpq", curve, columns, columns)
    n_seen = np.sum(batch.weights * ~batch.bound, axis=1)
    gradient[:, -1] += n_seen / theta[:, 0]
    information[:, -1, -1] += n_seen / theta[:, 0] ** 2
    idle = np.einsum("cpp->cp", information) == 0.0
    information += np.einsum("cp,pq->cpq", idle.astype(np.float64), np.eye(information.shape[1]))
    step = np.linalg.solve(information, gradient[:, :, None])[:, :, 0]
    return step, np.sum(gradient * step, axis=1) / 2.0


def _climb(point: _Array, step: _Array, height: _Array, batch: _Batch) -> tuple[_Array, _Array]:
    """Take the whole step where it climbs, and where it does not, a half, a quarter, and so on."""
    best, reached = point.copy(), height.copy()
    left = np.arange(len(point))
    for halving in range(HALVINGS):
        trial = point[left] + step[left] / 2.0**halving
        allowed = trial[:, -1] > 0.0
        climbed = np.full(left.size, -np.inf)
        climbed[allowed] = _log_likelihood(trial[allowed], batch.rows(left[allowed]))
        better = climbed > height[left]
        best[left[better]], reached[left[better]] = trial[better], climbed[better]
        left = left[~better]
        if left.size == 0:
            break
    return best, reached


FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def separated(
    values: FloatArray, left_censored: BoolArray, confidence: float, pooled: bool = False
) -> tuple[BoolArray, BoolArray]:
    """Tell in which campaigns the limits of the ratio of group 1 to group 0 leave equality out.

    Each campaign is judged as :func:`pinscar.stats.choose.compare_with_reference` judges it: groups with a
    value seen keep their own spreads, or are fitted with one where the design says so, with calibrated
    limits; a group that is all censored gives a bound, if it has runs enough; the error is shared by
    Bonferroni over the comparisons that yield something. Where no value of the groups is censored it is
    Welch's t (Sidak).

    Parameters
    ----------
    values : ndarray
        Logarithms of the values or bounds [-], shape (campaigns, groups, runs); group 0 is the reference.
    left_censored : ndarray of bool
        Which values are bounds, the same shape.
    confidence : float
        Joint confidence [-].
    pooled : bool
        True where the design says that all groups share one spread.

    Returns
    -------
    shown, judged : ndarray of bool
        Where the limits leave equality out, and where there are limits at all, shape (campaigns,).

    References
    ----------
    Own derivation: the rules of :mod:`pinscar.stats.choose_censored`.

    Examples
    --------
    >>> logs = np.array([[[0.0, 0.1, 0.2], [1.0, 1.1, 1.2]], [[0.0, 0.1, 0.2], [0.0, 0.1, 0.2]]])
    >>> [side.tolist() for side in separated(logs, np.zeros(logs.shape, dtype=bool), 0.95)]
    [[True, False], [True, True]]
    """
    runs = values.shape[2]
    seen = runs - left_censored.sum(axis=2)
    fit, family = _plan(seen, runs, 1.0 - confidence)
    shown, judged = np.zeros(len(values), dtype=bool), np.zeros(len(values), dtype=bool)
    for each in np.unique(family[family > 0]):
        alpha = (1.0 - confidence) / float(each)
        here = family == each
        whole = ~np.any((seen[:, 1:] < runs) & fit, axis=1) & (seen[:, 0] == runs)
        plain = np.flatnonzero(here & fit[:, 0] & whole)
        shown[plain] = _uncensored(values[plain], fit[plain], alpha, pooled)
        judged[plain] = True
        regressed = np.flatnonzero(here & fit[:, 0] & ~whole)
        if not pooled:  # an own spread takes two values seen of either
            regressed = regressed[np.min(seen[regressed, :2], axis=1) > 1]
            two = values[regressed, :2], left_censored[regressed, :2]
            shown[regressed] = told_apart(*two, 1.0 - alpha)
        else:
            shown[regressed] = _regressed(values[regressed], left_censored[regressed], 1.0 - alpha)
        judged[regressed] = True
        left = alpha - sign_test_error(runs)
        if left <= 0.0:
            continue
        for hidden, other in ((1, 0), (0, 1)):
            bound = np.flatnonzero(here & (seen[:, hidden] == 0) & (seen[:, other] > 1))
            shown[bound] = _bounded(values[bound], left_censored[bound], hidden, other, 1.0 - 2.0 * left)
            judged[bound] = True
    return shown, judged


def _plan(seen: NDArray[np.int_], runs: int, alpha: float) -> tuple[BoolArray, NDArray[np.int_]]:
    """Which subjects can be fitted with the reference, and how many comparisons share the error."""
    reference, subjects = seen[:, :1], seen[:, 1:]
    fit = (reference > 0) & (subjects > 0)
    spread = (reference[:, 0] > 1) | np.any(fit & (subjects > 1), axis=1)
    fit &= spread[:, None]
    bound = ((subjects == 0) & (reference > 1)) | ((reference == 0) & (subjects > 1))
    family = fit.sum(axis=1) + bound.sum(axis=1)
    hopeless = sign_test_error(runs) >= alpha / np.maximum(family, 1)
    return fit, np.where(hopeless, fit.sum(axis=1), family)


def _uncensored(values: FloatArray, fit: BoolArray, alpha: float, pooled: bool) -> BoolArray:
    """Judge campaigns whose fitted groups have every value seen; alpha is the share of one comparison."""
    found = np.zeros(len(values), dtype=bool)
    runs, count = values.shape[2], fit.sum(axis=1)
    for k in np.unique(count):
        here = np.flatnonzero(count == k)
        variances = values[here].var(axis=2, ddof=1)
        first, second = variances[:, 1], variances[:, 0]
        share = 1.0 - alpha * float(k)
        if pooled:
            together = np.concatenate([second[:, None], np.where(fit[here], variances[:, 1:], 0.0)], axis=1)
            error = np.sqrt(together.sum(axis=1) / (k + 1.0) * 2.0 / runs)
            rho = control_correlation(np.ones(int(k)), 1.0)
            critical = np.full(len(here), joint_critical_value(rho, (k + 1.0) * (runs - 1.0), share))
        else:
            error = np.sqrt((first + second) / runs)
            part, dfs = first / (first + second), (runs - 1.0, runs - 1.0)
            single = 1.0 - share ** (1.0 / float(k))
            critical = guarded_critical(part, dfs, single, outward_factor(dfs, round(single, 12)))
        difference = values[here, 1].mean(axis=1) - values[here, 0].mean(axis=1)
        found[here] = np.abs(difference) > critical * error
    return found


def _regressed(values: FloatArray, left_censored: BoolArray, confidence: float) -> BoolArray:
    campaigns, groups, runs = values.shape
    if campaigns == 0:
        return np.zeros(0, dtype=bool)
    hidden = left_censored.sum(axis=2)
    numbers = np.repeat(np.arange(groups), runs)
    flat = values.reshape(campaigns, -1), left_censored.reshape(campaigns, -1)
    roots = ratio_roots(*flat, numbers)
    locations = np.sum(hidden < runs, axis=1)
    cuts = np.array(
        [np.sqrt(deviance_cut(confidence, max(k * runs, 2), max(k, 1), "student")) for k in range(groups + 1)]
    )[locations]
    shifts = np.array([censoring_shift(runs, count) for count in range(runs + 1)])
    found: BoolArray = (roots > cuts + shifts[hidden[:, 1]]) | (roots < -cuts - shifts[hidden[:, 0]])
    return found


def _bounded(
    values: FloatArray, left_censored: BoolArray, hidden: int, other: int, confidence: float
) -> BoolArray:
    if len(values) == 0:
        return np.zeros(0, dtype=bool)
    runs = values.shape[2]
    top = values[:, hidden].max(axis=1, keepdims=True)
    roots = median_roots(values[:, other] - top, left_censored[:, other])
    shifts = np.array([censoring_shift(runs, count) for count in range(runs + 1)])
    shift = shifts[left_censored[:, other].sum(axis=1)]
    found: BoolArray = roots > np.sqrt(deviance_cut(confidence, runs, 1, "student")) + shift
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class CensoredPower:
    """Power of a comparison with censored runs.

    Parameters
    ----------
    repeats : int or None
        Runs of each lubricant; None where the stated most was not enough.
    power : float or None
        Share of simulated campaigns that show the difference.
    standard_error : float or None
        Simulation error of that share.
    censored_reference, censored_candidate : float
        Share of runs expected to be censored.
    undecidable : float or None
        Share of campaigns with too few values seen for limits of the comparison; they count as not shown.
    n_simulations, seed : int
        Size and seed of the simulation.
    method : str
        What was simulated, as a report prints it.
    """

    repeats: int | None
    power: float | None
    standard_error: float | None
    censored_reference: float
    censored_candidate: float
    undecidable: float | None
    n_simulations: int
    seed: int
    method: str


METHOD = (
    "simulation of log-normal film pressures that scatter alike; a run is censored when its film pressure "
    "lies under the pressure its scar had reached at the end; each campaign is judged by the limits that the "
    "report will use (calibrated likelihood limits, the t test where no run is censored, or a bound where "
    "all runs of an oil are)"
)


def censored_power(
    repeats: int,
    ratio: float,
    log_sd: float,
    censored_fraction: float,
    alpha: float = 0.05,
    *,
    comparisons: int = 1,
    bound_spread: float = 0.5,
    n_simulations: int = 4000,
    seed: int = 0,
    pooled: bool = False,
) -> CensoredPower:
    """Simulate the power to show a ratio of film pressures when some runs are left-censored.

    The pressure that a scar has reached when its run ends varies from run to run, independent of the film; a
    run whose film carries less is censored at it. Its level is set so that the wanted share of the
    reference's runs is censored; the candidate's share follows from the ratio.

    Parameters
    ----------
    repeats : int
        Runs of each lubricant [-], at least 2.
    ratio : float
        True ratio of the median film pressures, candidate over reference [-], positive.
    log_sd : float
        Standard deviation of the logarithms of the film pressure [-], positive.
    censored_fraction : float
        Share of the reference's runs that is censored [-], from 0 up to, not including, 1.
    alpha : float
        Level for all comparisons together, two-sided [-].
    comparisons : int
        Candidates compared with the reference [-]; the others are taken to equal the reference, and the level
        is shared by Bonferroni, as in the report.
    bound_spread : float
        Standard deviation of the reached pressure's logarithm over `log_sd` [-], zero or more.
    n_simulations : int
        Simulated campaigns [-], at least 1000.
    seed : int
        Seed of the simulation.
    pooled : bool
        True where the design says that all groups share one spread, also where no run is censored.

    Returns
    -------
    CensoredPower
        Power with its simulation error.

    Raises
    ------
    ValueError
        Where an argument is out of range.

    References
    ----------
    Own derivation: simulation; the limits are those of `pinscar.stats.choose.compare_with_reference`.

    Examples
    --------
    >>> result = censored_power(6, 1.4, 0.15, 0.3, n_simulations=1000)
    >>> 0.6 < result.power < 0.95, round(result.censored_candidate, 3)
    (True, 0.006)
    """
    if repeats < 2 or not (ratio > 0.0 and log_sd > 0.0) or not 0.0 <= censored_fraction < 1.0:
        raise ValueError(
            f"repeats {repeats}, ratio {ratio}, log_sd {log_sd} or censored_fraction {censored_fraction} "
            "is out of range"
        )
    if bound_spread < 0.0 or n_simulations < 1000:
        raise ValueError(f"bound_spread {bound_spread}, n_simulations {n_simulations}: out of range")
    shift = math.log(ratio) / log_sd
    rng = np.random.default_rng(seed)
    values, censored = _simulate(
        rng, (n_simulations, comparisons + 1, repeats), shift, censored_fraction, bound_spread
    )
    shown, judged = separated(values, censored, 1.0 - alpha, pooled)
    power = float(np.mean(shown))
    return CensoredPower(
        repeats=repeats,
        power=power,
        standard_error=math.sqrt(power * (1.0 - power) / n_simulations),
        censored_reference=censored_fraction,
        censored_candidate=_candidate_fraction(censored_fraction, shift, bound_spread),
        undecidable=float(np.mean(~judged)),
        n_simulations=n_simulations,
        seed=seed,
        method=METHOD,
    )


def repeats_for_censored_ratio(
    ratio: float,
    log_sd: float,
    censored_fraction: float,
    power: float = 0.8,
    alpha: float = 0.05,
    *,
    comparisons: int = 1,
    bound_spread: float = 0.5,
    most: int = 60,
    n_simulations: int = 4000,
    seed: int = 0,
    pooled: bool = False,
) -> CensoredPower:
    """Find the repeats that show a ratio of film pressures with a wanted power when some runs are censored.

    The search starts at the repeats needed without censoring and halves its way to the smallest number whose
    simulated power reaches the wanted one; the simulation error of the power is given with it.

    Parameters
    ----------
    ratio : float
        True ratio of the median film pressures, candidate over reference [-], positive, not 1.
    log_sd : float
        Standard deviation of the logarithms of the film pressure [-], positive.
    censored_fraction : float
        Share of the reference's runs that is censored [-], from 0 up to, not including, 1.
    power : float
        Wanted power [-].
    alpha : float
        Level for all comparisons together, two-sided [-].
    comparisons : int
        Candidates compared with the reference [-].
    bound_spread : float
        Standard deviation of the reached pressure's logarithm over `log_sd` [-].
    most : int
        Largest number of repeats looked at [-].
    n_simulations : int
        Simulated campaigns for each number of repeats [-], at least 1000.
    seed : int
        Seed of the simulation.
    pooled : bool
        True where the design says that all groups share one spread, also where no run is censored.

    Returns
    -------
    CensoredPower
        Repeats with their power; repeats and power None where `most` is not enough.

    Raises
    ------
    ValueError
        Where an argument is out of range.

    References
    ----------
    Own derivation: simulation, as `censored_power`.

    Examples
    --------
    >>> result = repeats_for_censored_ratio(1.5, 0.15, 0.2, n_simulations=1000)
    >>> result.repeats in (4, 5), result.power >= 0.8
    (True, True)
    """

    def simulated(n: int) -> CensoredPower:
        return censored_power(
            n,
            ratio,
            log_sd,
            censored_fraction,
            alpha,
            comparisons=comparisons,
            bound_spread=bound_spread,
            n_simulations=n_simulations,
            seed=seed,
            pooled=pooled,
        )

    start = repeats_for_ratio(ratio, log_sd, power, alpha, comparisons=comparisons, most=most).repeats or most
    too_few, low = max(start - 1, 1), start
    found = simulated(low)
    while (found.power or 0.0) < power:
        if low >= most:
            return replace(found, repeats=None, power=None, standard_error=None, undecidable=None)
        too_few, low = low, min(most, low + max(1, low // 2))
        found = simulated(low)
    while low - too_few > 1:
        middle = (too_few + low) // 2
        candidate = simulated(middle)
        if (candidate.power or 0.0) >= power:
            low, found = middle, candidate
        else:
            too_few = middle
    return found


def _simulate(
    rng: np.random.Generator, shape: tuple[int, int, int], shift: float, fraction: float, spread: float
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Campaigns, groups and runs in units of the film's spread; group 1 is shifted against group 0."""
    film = rng.standard_normal(shape)
    film[:, 1] += shift
    if fraction == 0.0:
        return film, np.zeros(shape, dtype=bool)
    reached = spread * rng.standard_normal(shape) + float(ndtri(fraction)) * math.hypot(1.0, spread)
    censored = film < reached
    return np.where(censored, reached, film), censored


def _candidate_fraction(fraction: float, shift: float, spread: float) -> float:
    if fraction == 0.0:
        return 0.0
    return float(ndtr(float(ndtri(fraction)) - shift / math.hypot(1.0, spread)))
