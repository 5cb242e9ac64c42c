"""The centre of one group of runs with Student's t interval, and other intervals of one or two groups.

Proportions (runs that smoked), counts (drips), prediction and tolerance intervals, the bootstrap as a second
route, and Fieller's limits where logarithms do not exist.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import betaincinv, chdtrc, chndtrix, gammaincinv, stdtr, stdtrit

from pinscar.stats.estimates import (
    SINGLE_RUN,
    ZERO_SPREAD,
    Estimate,
    Scale,
    _t_estimate,
    check_confidence,
    finite_vector,
    from_log,
    geometric_mean,
    least_variance,
    mean,
    on_scale,
    rounding_shift,
)

FEW_BLOCKS = "rests on {n} blocks, so the spread between blocks is hardly known"
ONE_BLOCK = "all runs lie in one block, so the spread between blocks is not in the interval"


def block_mean(
    values: ArrayLike,
    blocks: Sequence[object],
    confidence: float = 0.95,
    scale: Scale = "log",
    resolution: float = 0.0,
) -> Estimate:
    r"""Centre over random blocks (days, rings): the t interval on the means of the blocks.

    .. math:: \bar m \pm t_{b-1} \, s_m / \sqrt b, \quad m_j = \text{mean of block } j

    The spread of the block means holds both the spread between blocks and that within, so the interval is
    exact for equal numbers per block, and close to it else. With one block it is that of :func:`mean`, which
    can't hold the spread between blocks: the note says so. With one run per block both are the same.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values, one per run, in any unit; positive on the log scale.
    blocks : sequence, length n
        Label of each run's block.
    confidence : float
        Confidence of the interval [-].
    scale : {"log", "linear"}
        On the log scale the estimate is a geometric mean of the blocks' geometric means.
    resolution : float
        Step of the readings, relative on the log scale [-]; see :func:`mean`.

    Returns
    -------
    Estimate
        In the unit of the values; ``sd`` is that of the runs, ``df`` one less than the blocks.

    Raises
    ------
    ValueError
        If there is no label for each value, or a value does not fit the scale.

    References
    ----------
    Searle, Casella and McCulloch, Variance Components, 1992, section 3.6 (balanced one-way random model: the
    mean's variance is the between mean square over n, with b - 1 degrees of freedom).

    Examples
    --------
    >>> found = block_mean([1.0, 3.0, 5.0, 7.0], ["mon", "mon", "tue", "tue"], scale="linear")
    >>> found.estimate, found.df, round(found.high, 2)
    (4.0, 1.0, 29.41)
    """
    scaled = on_scale(values, scale)
    labels = [str(label) for label in blocks]
    if len(labels) != scaled.size:
        raise ValueError(f"blocks must have one label per value ({scaled.size}), found {len(labels)}")
    distinct = list(dict.fromkeys(labels))
    centre = geometric_mean if scale == "log" else mean
    whole = centre(values, confidence, resolution)
    if len(distinct) == 1:
        return replace(whole, note=_joined(whole.note, ONE_BLOCK))
    if len(distinct) == scaled.size:
        return whole
    means = [float(scaled[[one == label for one in labels]].mean()) for label in distinct]
    between = _t_estimate(np.array(means), "linear", check_confidence(confidence), means, resolution)
    back = from_log if scale == "log" else float
    middle, low, high = (
        None if end is None else back(end) for end in (between.estimate, between.low, between.high)
    )
    words = "geometric mean" if scale == "log" else "mean"
    logs = " on logs" if scale == "log" else ""
    return replace(
        whole,
        estimate=middle,
        low=low,
        high=high,
        df=between.df,
        method=f"{words} of the means of {len(distinct)} blocks, t interval{logs} "
        f"({len(distinct) - 1} degrees of freedom)",
        note=_joined(between.note, FEW_BLOCKS.format(n=len(distinct)) if len(distinct) < 4 else None),
    )


def _joined(*notes: str | None) -> str | None:
    return "; ".join(note for note in notes if note) or None


@dataclass(frozen=True, slots=True)
class RateInterval:
    """A proportion or a rate with its interval.

    Parameters
    ----------
    estimate : float
        The proportion or rate.
    low, high : float
        Confidence limits.
    confidence : float
        Two-sided confidence.
    method : str
        Kind of interval, as a report prints it.
    """

    estimate: float
    low: float
    high: float
    confidence: float
    method: str


def clopper_pearson(successes: int, n: int, confidence: float = 0.95) -> RateInterval:
    r"""Estimate a proportion with the exact interval of Clopper and Pearson.

    .. math:: B_{\alpha/2}(x, n - x + 1) \;\text{to}\; B_{1-\alpha/2}(x + 1, n - x)

    Parameters
    ----------
    successes : int
        Runs in which it happened, x [-].
    n : int
        All runs [-], at least 1.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    RateInterval
        Proportion and limits [-].

    Raises
    ------
    ValueError
        Where the counts or the confidence are impossible.

    References
    ----------
    C. J. Clopper and E. S. Pearson, The use of confidence or fiducial limits illustrated in the case of the
    binomial, 1934.

    Examples
    --------
    >>> result = clopper_pearson(1, 29)
    >>> round(result.low, 4), round(result.high, 4)
    (0.0009, 0.1776)
    """
    _check(successes, n, confidence)
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if successes == 0 else float(betaincinv(successes, n - successes + 1, tail))
    high = 1.0 if successes == n else float(betaincinv(successes + 1, n - successes, 1.0 - tail))
    return RateInterval(successes / n, low, high, confidence, "Clopper-Pearson exact interval")


def poisson_interval(count: int, exposure: float = 1.0, confidence: float = 0.95) -> RateInterval:
    r"""Estimate the rate of a count with the exact Poisson interval.

    .. math:: \chi^2_{\alpha/2}(2 x) / 2 \;\text{to}\; \chi^2_{1-\alpha/2}(2 x + 2) / 2

    Events are assumed independent and of one rate; drips that come in bursts vary more.

    Parameters
    ----------
    count : int
        Number of events x [-], over all runs taken together.
    exposure : float
        What the rate is taken over: number of runs [-], time [s] or distance [m]; positive.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    RateInterval
        Rate and limits [1/exposure].

    Raises
    ------
    ValueError
        Where the count is negative, the exposure not positive or the confidence not in (0, 1).

    References
    ----------
    F. Garwood, Fiducial limits for the Poisson distribution, 1936.

    Examples
    --------
    >>> result = poisson_interval(10)
    >>> round(result.low, 3), round(result.high, 2)
    (4.795, 18.39)
    """
    if count < 0 or not exposure > 0.0 or not 0.0 < confidence < 1.0:
        raise ValueError(f"count {count}, exposure {exposure}, confidence {confidence}: out of range")
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if count == 0 else float(gammaincinv(count, tail))
    high = float(gammaincinv(count + 1, 1.0 - tail))
    return RateInterval(
        count / exposure, low / exposure, high / exposure, confidence, "exact Poisson interval"
    )


def _check(successes: int, n: int, confidence: float) -> None:
    if n < 1 or not 0 <= successes <= n:
        raise ValueError(f"{successes} of {n}: needs at least one run and no more successes than runs")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence}, it must lie between 0 and 1")


def prediction_interval(values: ArrayLike, confidence: float = 0.95, scale: Scale = "log") -> Estimate:
    r"""Interval that will hold one more run.

    .. math:: \bar y \pm t_{n-1} \, s \sqrt{1 + 1/n}

    It assumes that the next run comes from the same normal distribution, on the scale of the analysis.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values, one per run, in any unit; positive on the log scale.
    confidence : float
        Chance that the next run lies inside [-].
    scale : {"log", "linear"}
        Scale of the analysis.

    Returns
    -------
    Estimate
        The centre, and the limits for one more run. One run gives no interval.

    References
    ----------
    Hahn and Meeker, Statistical Intervals, Wiley 1991, section 4.7.

    Examples
    --------
    >>> result = prediction_interval([1.0, 2.0, 3.0], 0.95, "linear")
    >>> round(result.low, 4), round(result.high, 4)
    (-2.9683, 6.9683)
    """
    n = on_scale(values, scale).size
    factor = (
        float(stdtrit(n - 1, 0.5 + check_confidence(confidence) / 2)) * np.sqrt(1 + 1 / n) if n > 1 else 0.0
    )
    return _around(values, factor, confidence, scale, "prediction interval for one more run")


def tolerance_interval(
    values: ArrayLike, content: float = 0.95, confidence: float = 0.95, scale: Scale = "log"
) -> Estimate:
    r"""Interval that holds a share of all runs, with a confidence: :math:`\bar y \pm k_2 s`.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values, one per run, in any unit; positive on the log scale.
    content : float
        Share of all runs that the interval is to hold [-].
    confidence : float
        Confidence that it does [-].
    scale : {"log", "linear"}
        Scale of the analysis.

    Returns
    -------
    Estimate
        The centre, and the tolerance limits. One run gives no interval.

    References
    ----------
    ISO 16269-6; Hahn and Meeker, Statistical Intervals, Wiley 1991, section 4.6.

    Examples
    --------
    >>> result = tolerance_interval([1.0, 2.0, 3.0, 4.0, 5.0], 0.95, 0.95, "linear")
    >>> round((result.high - 3.0) / np.std([1, 2, 3, 4, 5], ddof=1), 3)
    np.float64(5.077)
    """
    n = on_scale(values, scale).size
    factor = two_sided_factor(n, content, confidence) if n > 1 else 0.0
    return _around(
        values, factor, confidence, scale, f"tolerance interval for {100 * content:.4g} % of all runs"
    )


def two_sided_factor(n: int, content: float, confidence: float) -> float:
    r"""Factor of a two-sided tolerance interval, from the exact integral.

    .. math:: \gamma = 2 \sqrt n \int_0^\infty \varphi(\sqrt n x) \,
        P\left(\chi^2_{n-1} \ge (n-1) r(x)^2 / k^2\right) dx, \quad \Phi(x + r) - \Phi(x - r) = P

    done by Gauss-Legendre quadrature, and solved for k.

    Parameters
    ----------
    n : int
        Number of runs, at least two [-].
    content : float
        Share of all runs inside the interval [-].
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    float
        The factor of the standard deviation [-].

    Raises
    ------
    ValueError
        If n is below two, or a share does not lie between 0 and 1.

    References
    ----------
    Odeh and Owen, Tables for Normal Tolerance Limits, 1980; ISO 16269-6 (prints 3.394 for n 10, 95 %, 95 %,
    from memory).

    Examples
    --------
    >>> round(two_sided_factor(10, 0.95, 0.95), 3)
    3.393
    """
    _check_sample(n, content, confidence)
    nodes, weights = np.polynomial.legendre.leggauss(80)
    span = 9 / np.sqrt(n)
    x = span * (nodes + 1) / 2
    density = weights * span * np.sqrt(n / (2 * np.pi)) * np.exp(-n * x**2 / 2)
    radius_squared = chndtrix(content, 1.0, x**2)

    def shortfall(log_k: float) -> float:
        return float(density @ chdtrc(n - 1, (n - 1) * radius_squared * np.exp(-2 * log_k))) - confidence

    return float(np.exp(brentq(shortfall, -10.0, 20.0, xtol=1e-12)))


def _check_sample(n: int, content: float, confidence: float) -> None:
    if n < 2:
        raise ValueError(f"n must be at least 2, found {n}")
    if not 0 < content < 1:
        raise ValueError(f"content must lie between 0 and 1, found {content}")
    check_confidence(confidence)


def _around(values: ArrayLike, factor: float, confidence: float, scale: Scale, what: str) -> Estimate:
    scaled = on_scale(values, scale)
    back = from_log if scale == "log" else float
    n, centre = scaled.size, float(scaled.mean())
    if n == 1:
        return Estimate(1, 0, back(centre), None, None, confidence, scale, None, None, SINGLE_RUN)
    sd = 0.0 if np.ptp(scaled) == 0 else float(scaled.std(ddof=1))
    low, high = back(centre - factor * sd), back(centre + factor * sd)
    method = what + (", normal logarithms" if scale == "log" else ", normal values")
    note = ZERO_SPREAD if sd == 0 else None
    return Estimate(n, 0, back(centre), low, high, confidence, scale, sd, float(n - 1), method, note)


NOT_ABOVE_ZERO = "the mean of the reference is not clearly above zero"
SAME_VALUE = "all runs of one side gave the same value and the resolution of the reading is unknown"
ONE_BLOCK_ONLY = (
    "all runs of one side lie in one block and both share no two, so the spread between blocks is unknown"
)
ENOUGH_PAIRS = 3
"""Shared blocks from which on they are enough, whatever other blocks there are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanRatio:
    """A ratio of two means with its limits.

    Parameters
    ----------
    ratio : float or None
        Mean of the subject over mean of the reference [-]; None where that is not clearly above zero.
    low, high : float or None
        Its limits [-]; None where there are none.
    p : float or None
        Two-sided p of a ratio of 1 [-].
    df : float or None
        Degrees of freedom.
    reason : str or None
        Why there are no limits.
    method : str
        What was compared, in words that a report can print.
    """

    ratio: float | None
    low: float | None
    high: float | None
    p: float | None
    df: float | None
    reason: str | None
    method: str = "ratio of means, Fieller's limits"


@dataclass(frozen=True, slots=True)
class MeanPair:
    """Two means with their variances.

    Parameters
    ----------
    means : tuple of float
        Mean of the subject and of the reference, in one unit.
    variances : tuple of float
        Variance of either mean, in that unit squared.
    covariance : float
        Their covariance, in that unit squared; zero for separate runs.
    df : float
        Degrees of freedom.
    shifts : tuple of float
        Most that rounding can have shifted either mean, in that unit.
    """

    means: tuple[float, float]
    variances: tuple[float, float]
    covariance: float
    df: float
    shifts: tuple[float, float]


def mean_ratio(
    subject: ArrayLike, reference: ArrayLike, confidence: float = 0.95, step: float = 0.0
) -> MeanRatio:
    r"""Ratio of two means by Fieller's theorem, each group with its own spread.

    The limits are the values of theta that a t test does not reject,

    .. math:: \frac{(\bar x - \theta \bar y)^2}{s_x^2/m + \theta^2 s_y^2/n} \le t_\nu^2

    with :math:`\nu = \min(m, n) - 1`, which keeps the error at or below what is asked also where the spreads
    differ. The set is an interval only where the mean of the reference is clearly above zero,
    :math:`\bar y / (s_y/\sqrt n) > t_\nu`; elsewhere there are no limits. It assumes independent runs with
    roughly normal means. Readings rounded to a step count with the spread and the shift that rounding can
    hide.

    Parameters
    ----------
    subject, reference : array_like, shapes (m,) and (n,)
        Values of both groups in one unit; zeros and negative values are allowed.
    confidence : float
        Confidence of the limits [-].
    step : float
        Step of the readings in the unit of the values; 0 where unknown.

    Returns
    -------
    MeanRatio
        Ratio and limits, or the reason why there are none.

    Raises
    ------
    ValueError
        If a value is not finite, or the confidence lies outside 0 to 1.

    References
    ----------
    Fieller, "Some problems in interval estimation", J. R. Stat. Soc. B 16 (1954) 175-185, for the theorem;
    the smaller degrees of freedom as in Scheffe, JASA 65 (1970) 1501-1508. Rounding:
    :mod:`pinscar.stats.estimates`.

    Examples
    --------
    >>> found = mean_ratio([4.0, 5.0, 6.0], [1.0, 2.0, 3.0, 2.0])
    >>> round(found.ratio, 2), found.low < 2.5 < found.high
    (2.5, True)
    >>> mean_ratio([1.0, 2.0], [0.0, 1.0]).reason
    'the mean of the reference is not clearly above zero'
    """
    check_confidence(confidence)
    first, second = finite_vector(subject, "subject"), finite_vector(reference, "reference")
    if min(first.size, second.size) < 2:
        return _none("a single run has no spread")
    if step <= 0.0 and (np.ptp(first) == 0 or np.ptp(second) == 0):
        return _none(SAME_VALUE)
    x, y = _one(first, step), _one(second, step)
    df = float(min(first.size, second.size) - 1)
    pair = MeanPair((x[0], y[0]), (x[1], y[1]), 0.0, df, (x[2], y[2]))
    return fieller(pair, confidence, f"ratio of means, Fieller's limits ({df:.0f} degrees of freedom)")


def mean_ratio_in_blocks(
    subject: ArrayLike,
    reference: ArrayLike,
    subject_blocks: Sequence[object],
    reference_blocks: Sequence[object],
    confidence: float = 0.95,
    step: float = 0.0,
) -> MeanRatio:
    r"""Ratio of two means over random blocks (days, rings), from the means within blocks.

    In each of b blocks that hold both, :math:`\bar x_j - \theta \bar y_j` is one value, which no longer holds
    what the block does to both in proportion; anything else that it does is in their spread. The limits are
    the values of theta at which the t test of these b values does not reject zero,

    .. math:: \frac{(\bar x - \theta \bar y)^2}{(s_{xx} - 2\theta s_{xy} + \theta^2 s_{yy})/b} \le t_{b-1}^2

    with the variances and the covariance of the block means. Where fewer than three blocks are shared and
    either side has more than those, the block means of both sides are taken as separate, with one less than
    the fewer blocks for degrees of freedom. The layout decides, never the values. With one block, or one run
    a block and none shared, it is :func:`mean_ratio`.

    Parameters
    ----------
    subject, reference : array_like, shapes (m,) and (n,)
        Values of both groups in one unit; zeros and negative values are allowed.
    subject_blocks, reference_blocks : sequence
        Block of each value.
    confidence : float
        Confidence of the limits [-].
    step : float
        Step of the readings in the unit of the values; 0 where unknown.

    Returns
    -------
    MeanRatio
        Ratio and limits, or the reason why there are none.

    Raises
    ------
    ValueError
        If a value is not finite, a value has no label, or the confidence lies outside 0 to 1.

    References
    ----------
    Fieller, J. R. Stat. Soc. B 16 (1954) 175-185, with correlated means; for equal numbers a block the block
    means carry the whole error: Searle, Casella and McCulloch, Variance Components, 1992, section 3.6.

    Examples
    --------
    >>> days = ["mon", "mon", "tue", "tue", "wed", "wed"]
    >>> found = mean_ratio_in_blocks([8, 9, 17, 16, 12, 11], [4, 4.5, 8, 8, 6.2, 6], days, days)
    >>> round(found.ratio, 2), found.df, 1.3 < found.low < found.high < 2.3
    (1.99, 2.0, True)
    """
    check_confidence(confidence)
    x = _block_means(subject, subject_blocks, "subject")
    y = _block_means(reference, reference_blocks, "reference")
    shared = [label for label in x if label in y]
    single = len(x) == np.size(np.asarray(subject)) and len(y) == np.size(np.asarray(reference))
    if len(x.keys() | y.keys()) == 1 or (single and not shared):
        return mean_ratio(subject, reference, confidence, step)
    fewer = min(len(x), len(y))
    if len(shared) > 1 and (len(shared) >= ENOUGH_PAIRS or len(shared) == fewer):
        return _paired(np.array([[x[one], y[one]] for one in shared]).T, confidence, step)
    if fewer < 2:
        return _none(ONE_BLOCK_ONLY)
    found = mean_ratio(list(x.values()), list(y.values()), confidence, step)
    what = f"ratio of the means of {len(x)} and {len(y)} blocks, Fieller's limits ({fewer - 1} degrees of "
    return MeanRatio(
        ratio=found.ratio,
        low=found.low,
        high=found.high,
        p=found.p,
        df=found.df,
        reason=found.reason,
        method=f"{what}freedom)",
    )


def fieller(pair: MeanPair, confidence: float, method: str) -> MeanRatio:
    r"""Limits of a ratio of two means from their variances, by Fieller's theorem.

    Parameters
    ----------
    pair : MeanPair
        Both means with their variances.
    confidence : float
        Confidence of the limits [-].
    method : str
        What the means are, in words that a report can print.

    Returns
    -------
    MeanRatio
        Ratio and limits, or the reason why there are none.

    References
    ----------
    Fieller, J. R. Stat. Soc. B 16 (1954) 175-185. Rounding may have shifted either mean: the limits are the
    union of those of all shifts, which the corners give.

    Examples
    --------
    >>> pair = MeanPair((2.0, 1.0), (0.01, 0.01), 0.0, 10.0, (0.0, 0.0))
    >>> found = fieller(pair, 0.95, "ratio of means")
    >>> round(found.low, 3), round(found.high, 3)
    (1.583, 2.626)
    """
    (x, y), (vx, vy), (dx, dy) = pair.means, pair.variances, pair.shifts
    t2 = float(stdtrit(pair.df, 0.5 + confidence / 2)) ** 2

    def ends(x: float, y: float) -> tuple[float, float]:
        a, b, c = y * y - t2 * vy, x * y - t2 * pair.covariance, x * x - t2 * vx
        root = float(np.sqrt(max(b * b - a * c, 0.0)))
        return (b - root) / a, (b + root) / a

    if y - dy <= 0 or (y - dy) ** 2 <= t2 * vy:
        return _none(NOT_ABOVE_ZERO, pair.df, method)
    low, high = ends(x - dx, y + dy)[0], ends(x + dx, y - dy)[1]
    if low < 0.0:
        low = ends(x - dx, y - dy)[0]
    if high < 0.0:
        high = ends(x + dx, y + dy)[1]
    away = max(abs(x - y) - dx - dy, 0.0)
    spread = float(np.sqrt(max(vx + vy - 2.0 * pair.covariance, 0.0)))
    p = 2.0 * float(stdtr(pair.df, -away / spread)) if spread > 0 else float(away == 0.0)
    return MeanRatio(ratio=x / y, low=low, high=high, p=p, df=pair.df, reason=None, method=method)


def _paired(means: NDArray[np.float64], confidence: float, step: float) -> MeanRatio:
    b = means.shape[1]
    if step <= 0.0 and np.any(np.ptp(means, axis=1) == 0):
        return _none(SAME_VALUE)
    cov = np.cov(means)
    (x, vx, dx), (y, vy, dy) = (_one(row, step) for row in means)
    pair = MeanPair((x, y), (vx, vy), float(cov[0, 1]) / b, float(b - 1), (dx, dy))
    what = f"ratio of means within {b} blocks that hold both, Fieller's limits"
    return fieller(pair, confidence, f"{what} ({b - 1} degree{'s' if b > 2 else ''} of freedom)")


def _one(values: NDArray[np.float64], step: float) -> tuple[float, float, float]:
    """Mean, its variance, and the most that rounding can have shifted it."""
    variance = float(values.var(ddof=1))
    shift = rounding_shift(float(np.sqrt(variance)), step)
    return float(values.mean()), least_variance(variance, step) / values.size, shift


def _block_means(values: ArrayLike, blocks: Sequence[object], name: str) -> dict[object, float]:
    vector = finite_vector(values, name)
    if len(blocks) != vector.size:
        raise ValueError(f"blocks must have one label a value of {name} ({vector.size}), found {len(blocks)}")
    return {label: float(vector[[one == label for one in blocks]].mean()) for label in dict.fromkeys(blocks)}


def _none(reason: str, df: float | None = None, method: str = "ratio of means, no limits") -> MeanRatio:
    return MeanRatio(ratio=None, low=None, high=None, p=None, df=df, reason=reason, method=method)
