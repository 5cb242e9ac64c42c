"""Dose-response curves of one additive: forms side by side, and the least dose that meets a limit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, minimize_scalar
from scipy.special import stdtrit

from pinscar.stats.batch_model import aicc_of_batches, fit_means
from pinscar.stats.censored import profile_limit
from pinscar.stats.dose_likelihood import (
    FORMS,
    TERMS,
    DoseRuns,
    Form,
    Maximum,
    batch_df,
    batch_square,
    bend_grid,
    design_of,
    form_shape,
    held_at,
    likeliest_of_campaigns,
    maximise,
    restricted_curve,
)
from pinscar.stats.estimates import censored_mask, check_confidence

FloatArray = NDArray[np.float64]
Side = Literal["at least", "at most"]
SCAN = 49
"""Doses at which a least dose is tried before its ends are searched for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseFit:
    """A form of the curve fitted to the runs.

    Parameters
    ----------
    form : {"straight", "saturating", "threshold"}
        The form.
    start, rise, bend : float
        a, b and K or d0 of :func:`pinscar.stats.dose_likelihood.form_shape`; the bend of a straight line is
        0.
    sigma : float
        Scatter between runs of one batch, standard deviation of the logarithms [-].
    batch_sigma : float or None
        Scatter of the batches about the curve; None where no batch was run twice.
    log_likelihood, aicc : float
        At the maximum [-]. The latter is infinite where there are too few batches for the correction.
    weight : float
        Akaike weight among the forms fitted [1].
    campaign_sigma : float or None
        Scatter between random campaigns [-]; None for a single one and for fixed shifts.
    """

    form: Form
    start: float
    rise: float
    bend: float
    sigma: float
    batch_sigma: float | None
    log_likelihood: float
    aicc: float
    weight: float
    campaign_sigma: float | None = None

    def at(self, dose: ArrayLike) -> FloatArray:
        """Give the curve.

        Parameters
        ----------
        dose : array_like
            Doses [their unit].

        Returns
        -------
        ndarray
            Natural logarithm of the median there [-].

        References
        ----------
        As :func:`pinscar.stats.dose_likelihood.form_shape`.

        Examples
        --------
        >>> DoseFit(
        ...     form="straight",
        ...     start=4.0,
        ...     rise=0.1,
        ...     bend=0.0,
        ...     sigma=0.1,
        ...     batch_sigma=None,
        ...     log_likelihood=0.0,
        ...     aicc=0.0,
        ...     weight=1.0,
        ... ).at([0.0, 2.0]).tolist()
        [4.0, 4.2]
        """
        return self.start + self.rise * form_shape(self.form, dose, self.bend)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastDose:
    """The least dose at which a curve meets a limit.

    Parameters
    ----------
    form : {"straight", "saturating", "threshold"}
        The form it was read off.
    limit : float
        The limit [the response's unit].
    estimate : float or None
        The dose; None where the curve does not meet the limit up to twice the highest dose tested.
    low, high : float or None
        Ends of the interval; None where it is open on that side within the doses tested.
    extrapolated : bool
        Whether the estimate lies outside the doses tested.
    reason : str
        Why something is not determined; blank where all is.
    confidence : float
        Confidence of the interval [1].
    df : int
        Degrees of freedom of the batches about the curve.
    """

    form: Form
    limit: float
    estimate: float | None
    low: float | None
    high: float | None
    extrapolated: bool
    reason: str
    confidence: float
    df: int


def dose_runs(
    values: ArrayLike, left_censored: ArrayLike, doses: ArrayLike, batches: Sequence[object]
) -> DoseRuns:
    """Put dose-response data together.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values, one a run, in any unit; the limit where censored.
    left_censored : array_like of bool, shape (n,)
        True where the true value is at most the one recorded.
    doses : array_like, shape (n,)
        Dose of each run [any one unit]; one dose for all runs of a batch.
    batches : sequence, length n
        Batch of each run.

    Returns
    -------
    DoseRuns
        The data.

    Raises
    ------
    ValueError
        If a value is not positive, a batch has two doses, or fewer than three doses or two uncensored runs
        that differ are there.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> dose_runs([70, 74, 80, 95], [False] * 4, [0, 0, 1, 2], ["a", "a", "b", "c"]).levels.tolist()
    [0.0, 1.0, 2.0]
    """
    y, d = np.asarray(values, dtype=np.float64), np.asarray(doses, dtype=np.float64)
    mask = censored_mask(left_censored, y.size)
    if not bool(np.all((y > 0.0) & np.isfinite(y))):
        raise ValueError("values must be positive and finite")
    names, numbers = np.unique([str(one) for one in batches], return_inverse=True)
    of_batch = np.array([d[numbers == i][0] for i in range(names.size)])
    if not np.array_equal(of_batch[numbers], d):
        raise ValueError("a batch has two doses")
    if np.unique(d).size < 3:
        raise ValueError(f"three doses are needed, found {np.unique(d).size}")
    if mask.all():
        raise ValueError("all runs are censored")
    if np.unique(y[~mask]).size < 2:
        raise ValueError("two uncensored runs that differ are needed")
    return DoseRuns(logs=np.log(y), left_censored=mask, doses=of_batch, batches=numbers.astype(np.int64))


def fit_dose_forms(runs: DoseRuns) -> tuple[tuple[DoseFit, ...], tuple[str, ...]]:
    r"""Fit all forms that the number of doses allows, the likeliest first.

    They are scored by :func:`pinscar.stats.batch_model.aicc_of_batches`, since repeats on one batch are not
    independent; the scatter of batches is that about the likeliest form. A form with p parameters of the mean
    takes p + 1 doses, so that it is not exact by construction.

    Parameters
    ----------
    runs : DoseRuns
        The data.

    Returns
    -------
    tuple of tuple of DoseFit and tuple of str
        The fits by rising AICc, and a clause for each form that was not fitted.

    References
    ----------
    Hurvich and Tsai, "Regression and time series model selection in small samples", Biometrika 76 (1989)
    297-307; Burnham and Anderson, Model Selection and Multimodel Inference, 2002, section 2.9 (weights).

    Examples
    --------
    >>> doses = np.repeat([0.0, 0.5, 1.0, 2.0, 4.0], 4)
    >>> logs = 4.2 + 0.6 * doses / (0.5 + doses) + 0.02 * np.tile([-1, 1, -1, 1], 5)
    >>> fits, left_out = fit_dose_forms(dose_runs(np.exp(logs), np.zeros(20, bool), doses, doses))
    >>> fits[0].form, round(fits[0].bend, 3), left_out
    ('saturating', 0.5, ())
    """
    levels, found, left_out = runs.levels.size, [], []
    for form in FORMS:
        if levels <= TERMS[form]:
            left_out.append(f"the {form} form needs {TERMS[form] + 1} doses, and there are {levels}")
        else:
            several = runs.campaigns is not None
            found.append((form, likeliest_of_campaigns(runs, form) if several else maximise(runs, form)))
    sizes, random = np.bincount(runs.batches), runs.campaigns is not None
    ratio = _ratio(runs, *max(found, key=lambda pair: pair[1].log_likelihood))
    scores = [
        aicc_of_batches(one.log_likelihood, TERMS[form] + runs.columns, sizes, ratio, campaigns=random)
        for form, one in found
    ]
    gaps = np.array([score - min(scores) if np.isfinite(score) else np.inf for score in scores])
    share = np.exp(-0.5 * gaps)
    weights = share / share.sum() if share.sum() > 0 else np.full(len(found), 1.0 / len(found))
    with_batches = runs.logs.size > runs.doses.size
    fits = [
        DoseFit(
            form=form,
            start=float(one.coefficients[0]),
            rise=float(one.coefficients[1]),
            bend=one.bend,
            sigma=one.sigma,
            batch_sigma=one.batch_sigma if with_batches else None,
            log_likelihood=one.log_likelihood,
            aicc=float(score),
            weight=float(weight),
            campaign_sigma=one.campaign_sigma,
        )
        for (form, one), score, weight in zip(found, scores, weights, strict=True)
    ]
    return tuple(sorted(fits, key=lambda fit: (fit.aicc, TERMS[fit.form]))), tuple(left_out)


def _ratio(runs: DoseRuns, form: Form, best: Maximum) -> float:
    """Compare the variance of batches about a form with that of runs."""
    if runs.campaigns is not None:
        told = restricted_curve(runs, form)
        return (told.batch_sigma / told.sigma) ** 2
    if runs.is_complete:
        design, _ = design_of(runs, form, best.bend, None)
        room = runs.doses.size > design.shape[1]
        return fit_means(runs.means, design, restricted=True, ratio=None if room else 0.0).ratio
    return (best.batch_sigma / best.sigma) ** 2


def deviance_of_point(
    runs: DoseRuns, form: Form, confidence: float
) -> tuple[Callable[[float, float], float], int]:
    r"""Make the test of a point of the curve: more than 0 where the data speak against it.

    Without censored runs the batch means are weighted by their variance under the best curve, and

    .. math:: F = \frac{S(D, v) - S_{min}}{S_{min} / (g - p)} \quad \text{against} \quad t_{g-p}^2

    with S the least sum of squares of the g batch means about curves of the form through (D, v). For a
    straight line over batches of one size this is Fieller's interval, exact whatever the scatter between
    batches. With censored runs, and with random campaigns, the numerator is twice the drop of the
    log-likelihood at the restricted spreads, and the denominator the mean square of batches about the curve
    over what these spreads let expect, :func:`pinscar.stats.dose_likelihood.batch_square`: the same F where
    runs are complete and campaigns don't differ.

    Parameters
    ----------
    runs : DoseRuns
        The data.
    form : {"straight", "saturating", "threshold"}
        The form.
    confidence : float
        Confidence of the interval [1].

    Returns
    -------
    tuple of callable and int
        Function of a dose and a logarithm, and the degrees of freedom, g - p but for random campaigns.

    Raises
    ------
    ValueError
        If there are no more batches than the form has terms.

    References
    ----------
    Fieller, "Some problems in interval estimation", J. R. Stat. Soc. B 16 (1954) 175-185; Bates and Watts,
    Nonlinear Regression Analysis and Its Applications, 1988, section 6.1 (profile t).

    Examples
    --------
    >>> runs = dose_runs([1.0, 2.7, 7.5, 20.0], np.zeros(4, bool), range(4), range(4))
    >>> excess, df = deviance_of_point(runs, "straight", 0.95)
    >>> excess(0.0, 0.0) < 0 < excess(0.0, 1.0), df
    (True, 2)
    """
    g, p = runs.doses.size, TERMS[form] + runs.columns
    df = batch_df(runs, form) if runs.campaigns is not None else g - p
    if df < 1:
        raise ValueError(f"{g} batches for {p} terms of the {form} form leave no scatter to judge by")
    check_confidence(confidence)
    if runs.campaigns is not None or not runs.is_complete:
        return _mixed_test(runs, form, df, confidence), df
    return _f_test(runs, form, maximise(runs, form), df, confidence), df


def _mixed_test(runs: DoseRuns, form: Form, df: int, confidence: float) -> Callable[[float, float], float]:
    free = restricted_curve(runs, form)
    square = batch_square(runs, form, free)
    t = float(stdtrit(df, 0.5 + confidence / 2))
    at = held_at(runs, form, free)

    def excess(dose: float, log: float) -> float:
        return 2.0 * (free.log_likelihood - at((dose, log)).log_likelihood) / square - t**2

    return excess


def _f_test(
    runs: DoseRuns, form: Form, free: Maximum, df: int, confidence: float
) -> Callable[[float, float], float]:
    means = runs.means
    design, _ = design_of(runs, form, free.bend, None)
    # weights from the restricted likelihood, which allows for the terms of the curve
    weights = fit_means(means, design, restricted=True).weights
    root = np.sqrt(weights / weights.mean())
    g = means.means.size
    scaled = replace(runs, logs=means.means, left_censored=np.zeros(g, bool), batches=np.arange(g))
    least = _least_squares(scaled, form, None, root)
    t = float(stdtrit(df, 0.5 + confidence / 2))
    floor = max(least, 1e-24)

    def excess(dose: float, log: float) -> float:
        return (_least_squares(scaled, form, (dose, log), root) - least) / (floor / df) - t**2

    return excess


def _least_squares(runs: DoseRuns, form: Form, held: tuple[float, float] | None, root: FloatArray) -> float:
    """Least weighted sum of squares of batch means about curves of a form."""

    def squares(bend: float) -> float:
        design, offset = design_of(runs, form, bend, held)
        x, y = design * root[:, None], (runs.logs - offset) * root
        return float(np.sum((y - x @ np.linalg.lstsq(x, y, rcond=None)[0]) ** 2))

    grid = bend_grid(form, runs.levels)
    values = [squares(float(bend)) for bend in grid]
    best = int(np.argmin(values))
    if grid.size == 1:
        return values[0]
    ends = (float(grid[max(best - 1, 0)]), float(grid[min(best + 1, grid.size - 1)]))
    tuned = minimize_scalar(squares, bounds=ends, method="bounded", options={"xatol": 1e-6 * ends[1]})
    return min(values[best], float(tuned.fun))


def least_dose(
    runs: DoseRuns, fit: DoseFit, limit: float, side: Side = "at least", confidence: float = 0.95
) -> LeastDose:
    """Find the least dose at which the curve meets a limit, with the interval of all doses that fit the data.

    Parameters
    ----------
    runs : DoseRuns
        The data.
    fit : DoseFit
        The form, fitted.
    limit : float
        The limit [the response's unit].
    side : {"at least", "at most"}
        On which side of the limit a value meets it.
    confidence : float
        Confidence of the interval [1].

    Returns
    -------
    LeastDose
        With None for each end that the doses tested don't determine.

    Raises
    ------
    ValueError
        If the limit is not positive.

    References
    ----------
    As :func:`deviance_of_point`.

    Examples
    --------
    >>> doses = np.repeat([0.0, 1.0, 2.0, 3.0, 4.0], 2)
    >>> logs = 4.0 + 0.2 * doses + 0.01 * np.array([1, -1, -2, 1, 2, -1, 0, 1, -1, 0])
    >>> runs = dose_runs(np.exp(logs), np.zeros(10, bool), doses, doses)
    >>> fit = next(one for one in fit_dose_forms(runs)[0] if one.form == "straight")
    >>> found = least_dose(runs, fit, float(np.exp(4.5)))
    >>> round(found.estimate, 1), found.low < 2.5 < found.high, found.df
    (2.5, True, 3)
    """
    if not limit > 0.0:
        raise ValueError(f"the limit must be positive, found {limit:g}")
    wanted, sign = float(np.log(limit)), 1.0 if side == "at least" else -1.0
    lowest, highest = float(runs.levels[0]), float(runs.levels[-1])
    estimate = _crossing(fit, wanted, sign, lowest, highest)
    outside = estimate is not None and estimate > highest
    made = LeastDose(
        form=fit.form,
        limit=limit,
        estimate=estimate,
        low=None,
        high=None,
        extrapolated=outside,
        reason="",
        confidence=confidence,
        df=0,
    )
    try:
        excess, df = deviance_of_point(runs, fit.form, confidence)
    except ValueError as failure:
        return replace(made, reason=str(failure))
    points = SCAN if runs.is_complete else SCAN // 4
    low, high, reason = _ends(lambda dose: excess(dose, wanted), lowest, highest, estimate, points)
    if sign * fit.rise <= 0.0 and estimate is None:
        reason = "the response does not move towards the limit with the dose"
    return replace(made, low=low, high=high, reason=reason, df=df)


def _crossing(fit: DoseFit, wanted: float, sign: float, lowest: float, highest: float) -> float | None:
    def gap(dose: float) -> float:
        return sign * (float(fit.at(np.array([dose]))[0]) - wanted)

    if gap(lowest) >= 0.0:
        return lowest
    top = 2.0 * highest - lowest
    return float(brentq(gap, lowest, top, xtol=1e-12)) if gap(top) >= 0.0 else None


def _ends(
    excess: Callable[[float], float], lowest: float, highest: float, estimate: float | None, points: int
) -> tuple[float | None, float | None, str]:
    """Find the doses tested that the data do not speak against, as one stretch."""
    grid = np.linspace(lowest, highest, points)
    inside = np.array([excess(float(dose)) <= 0.0 for dose in grid])
    if not inside.any():
        if estimate is None or estimate >= highest:
            return None, None, f"every dose tested, up to {highest:g}, falls short of the limit"
        if estimate <= lowest:
            return None, None, f"every dose tested, from {lowest:g} on, meets the limit"
        place = int(np.searchsorted(grid, estimate))
        grid = np.insert(grid, place, estimate)
        inside = np.insert(inside, place, True)
    first, last = int(np.argmax(inside)), int(inside.size - 1 - np.argmax(inside[::-1]))
    tolerance = (1e-6 if points == SCAN else 1e-4) * (highest - lowest)
    low = high = None
    if first > 0:
        low = float(brentq(excess, grid[first - 1], grid[first], xtol=tolerance))
    if last < grid.size - 1:
        high = float(brentq(excess, grid[last], grid[last + 1], xtol=tolerance))
    told = []
    if low is None:
        told.append(f"open below, down to the lowest dose tested ({lowest:g})")
    if high is None:
        told.append(f"open above, beyond the highest dose tested ({highest:g})")
    return low, high, "; ".join(told)


def curve_band(
    runs: DoseRuns, fit: DoseFit, doses: ArrayLike, confidence: float = 0.95
) -> list[tuple[float, float] | None]:
    """Give the interval of the median at some doses, each for itself.

    Parameters
    ----------
    runs : DoseRuns
        The data.
    fit : DoseFit
        The form, fitted.
    doses : array_like
        Doses within those tested [their unit].
    confidence : float
        Confidence of each interval [1].

    Returns
    -------
    list of tuple of float or None
        Logarithms of low and high end [-]; None where an end is open or no scatter is left.

    References
    ----------
    As :func:`deviance_of_point`.

    Examples
    --------
    >>> runs = dose_runs([1.0, 2.7, 7.5, 20.0], np.zeros(4, bool), range(4), range(4))
    >>> fit = fit_dose_forms(runs)[0][0]
    >>> low, high = curve_band(runs, fit, [1.5])[0]
    >>> low < float(fit.at([1.5])[0]) < high
    True
    """
    try:
        excess, _ = deviance_of_point(runs, fit.form, confidence)
    except ValueError:
        return [None for _ in np.atleast_1d(np.asarray(doses))]
    step = max(fit.sigma, 1e-6)
    found: list[tuple[float, float] | None] = []
    for dose in np.atleast_1d(np.asarray(doses, dtype=np.float64)):
        centre = float(fit.at(np.array([dose]))[0])

        def over(log: float, at: float = float(dose)) -> float:
            return excess(at, log)

        ends = [profile_limit(over, centre, way * step, 0.0, 1e-4) for way in (-1.0, 1.0)]
        found.append(None if ends[0] is None or ends[1] is None else (ends[0], ends[1]))
    return found
