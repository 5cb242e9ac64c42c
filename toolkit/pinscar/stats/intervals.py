"""The centre of one group of runs with Student's t interval, on the log or the linear scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from pinscar.stats.checks import check_confidence, from_log, on_scale
from pinscar.stats.estimate import Estimate, Scale

SINGLE_RUN = "single run, no interval"
NO_LIMIT = "the runs differ so widely that the interval has no limit on one side"
ZERO_SPREAD = (
    "all runs gave the same value and the resolution of the reading is unknown: no interval, since that "
    "tells of the reading, not of certainty"
)
ROUNDED = "the spread is taken as no smaller than rounding the readings alone can hide"
FEW_BLOCKS = "rests on {n} blocks, so the spread between blocks is hardly known"
ONE_BLOCK = "all runs lie in one block, so the spread between blocks is not in the interval"


def geometric_mean(values: ArrayLike, confidence: float = 0.95, resolution: float = 0.0) -> Estimate:
    r"""Geometric mean with the t interval on logarithms.

    .. math:: \exp\left(\bar y \pm t_{n-1} \, s_y / \sqrt n\right), \quad y = \ln x

    It assumes that the runs are independent and that their logarithms are normally distributed; the
    geometric mean then estimates the median.

    Parameters
    ----------
    values : array_like, shape (n,)
        Positive values, one a run, in any unit.
    confidence : float
        Confidence of the interval [-].
    resolution : float
        Step of the readings relative to the values [-]; see :func:`mean`.

    Returns
    -------
    Estimate
        In the unit of the values; ``sd`` is that of the natural logarithms. One run gives no interval.

    Raises
    ------
    ValueError
        If there are no values, or one is not positive and finite.

    References
    ----------
    Student, "The probable error of a mean", Biometrika 6 (1908) 1-25, applied to logarithms.

    Examples
    --------
    >>> result = geometric_mean([100.0, 110.0, 121.0])
    >>> round(result.estimate, 6), round(result.low, 4), round(result.high, 3)
    (110.0, 86.8096, 139.386)
    >>> geometric_mean([118.0]).method
    'single run, no interval'
    """
    return _t_estimate(on_scale(values, "log"), "log", check_confidence(confidence), values, resolution)


def mean(values: ArrayLike, confidence: float = 0.95, resolution: float = 0.0) -> Estimate:
    r"""Arithmetic mean with the t interval.

    .. math:: \bar x \pm \left(t_{n-1} \frac{\max(s, \delta/\sqrt{12})}{\sqrt n}
        + \frac{\delta}{2} e^{-2 \pi^2 s^2 / \delta^2}\right)

    It assumes that the runs are independent and normally distributed. Readings rounded to steps of
    :math:`\delta` can agree by rounding alone, so the spread counts as no smaller than that of a uniform
    error of one step. Where the spread is small beside the step, all runs may be rounded the same way: the
    last term bounds that shift, and vanishes where the spread passes half a step.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values, one a run, in any unit.
    confidence : float
        Confidence of the interval [-].
    resolution : float
        Step of the readings, in the unit of the values; 0 where unknown. Equal values then give no interval.

    Returns
    -------
    Estimate
        In the unit of the values. One run gives no interval.

    Raises
    ------
    ValueError
        If there are no values, or one is not finite.

    References
    ----------
    Student, "The probable error of a mean", Biometrika 6 (1908) 1-25. The example is NIST/SEMATECH e-Handbook
    1.3.5.2's formula on three numbers. JCGM 100:2008, F.2.2.1, for the standard deviation of rounding,
    :math:`\delta/\sqrt{12}`; the first term of the Fourier series of a rounding error, for its mean.

    Examples
    --------
    >>> result = mean([1.0, 2.0, 3.0])
    >>> result.estimate, round(result.low, 4), round(result.high, 4)
    (2.0, -0.4841, 4.4841)
    """
    return _t_estimate(on_scale(values, "linear"), "linear", check_confidence(confidence), values, resolution)


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
        Values, one a run, in any unit; positive on the log scale.
    blocks : sequence, length n
        Label of each run's block.
    confidence : float
        Confidence of the interval [-].
    scale : {"log", "linear"}
        On the log scale the estimate is a geometric mean of the blocks' geometric means.
    resolution : float
        Step of the readings, relative on the log scale; see :func:`mean`.

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
        raise ValueError(f"blocks must have one label a value ({scaled.size}), found {len(labels)}")
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


def _t_estimate(
    scaled: NDArray[np.float64], scale: Scale, confidence: float, values: ArrayLike, resolution: float
) -> Estimate:
    name = "geometric mean, t interval on logs" if scale == "log" else "mean, t interval"
    n = scaled.size
    centre = float(scaled.mean())
    back = from_log if scale == "log" else float
    if n == 1:
        only = float(np.asarray(values, dtype=np.float64)[0])
        return Estimate(1, 0, only, None, None, confidence, scale, None, None, SINGLE_RUN, None)
    sd = 0.0 if np.ptp(scaled) == 0 else float(scaled.std(ddof=1))
    if sd == 0.0 and resolution <= 0.0:
        same = float(np.asarray(values, dtype=np.float64)[0])
        return Estimate(n, 0, same, None, None, confidence, scale, 0.0, float(n - 1), name, ZERO_SPREAD)
    rounding = resolution / np.sqrt(12.0)
    reach = float(stdtrit(n - 1, 0.5 + confidence / 2)) * max(sd, rounding) / np.sqrt(n)
    if resolution > 0.0:
        reach += 0.5 * resolution * float(np.exp(-2.0 * (np.pi * sd / resolution) ** 2))
    low, high = back(centre - reach), back(centre + reach)
    note = NO_LIMIT if None in (low, high) else ROUNDED if sd < rounding else None
    return Estimate(n, 0, back(centre), low, high, confidence, scale, sd, float(n - 1), name, note)
