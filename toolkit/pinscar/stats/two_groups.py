"""Two groups compared, each with its own spread or with one: the t tests that rounding cannot fool."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.pairwise import Contrast, contrast, own_spreads, pooled_variance
from pinscar.stats.rounding import least_variance, rounding_shift
from pinscar.stats.variance_prior import VariancePrior, moderated

FloatArray = NDArray[np.float64]


def own_spreads_t(
    subject: FloatArray,
    reference: FloatArray,
    confidence: float,
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> Contrast:
    """Two groups, each with its own spread: Welch's t, guarded so that unlike spreads never raise the error.

    The spread of rounded readings counts as no smaller than rounding can hide, and the shift that rounding
    can give to the means is added to the reach. With a prior both variances are moderated by it.

    Parameters
    ----------
    subject, reference : ndarray
        Two or more values each, on the scale of the analysis [any one unit].
    confidence : float
        Confidence of the interval [-].
    step : float
        Step of the readings on that scale [its unit]; 0 where unknown.
    prior : VariancePrior, optional
        What the laboratory's earlier runs tell of the spread on the scale of the analysis.

    Returns
    -------
    Contrast
        Mean of the subject minus mean of the reference.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; :mod:`pinscar.stats.guarded_welch`; rounding:
    :mod:`pinscar.stats.rounding`.

    Examples
    --------
    >>> from pinscar.stats.pairwise import welch_t
    >>> logs = np.array([1.4, 1.5, 1.9]), np.array([1.0, 1.1, 1.3])
    >>> own_spreads_t(*logs, 0.95).low < welch_t(*logs).low
    True
    """
    raw = [float(group.var(ddof=1)) for group in (subject, reference)]
    sizes = subject.size, reference.size
    spreads = [moderated(least_variance(v, step), n - 1.0, prior) for v, n in zip(raw, sizes, strict=True)]
    return own_spreads(
        float(subject.mean() - reference.mean()),
        (spreads[0][0] / sizes[0], spreads[1][0] / sizes[1]),
        (spreads[0][1], spreads[1][1]),
        confidence,
        guarded=True,
        shift=sum(rounding_shift(float(np.sqrt(variance)), step) for variance in raw),
    )


def one_spread_t(
    subject: FloatArray,
    reference: FloatArray,
    confidence: float,
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> Contrast:
    """Two groups with one spread: the pooled t, its spread and reach no smaller than rounding allows.

    Parameters
    ----------
    subject, reference : ndarray
        Values of both, on the scale of the analysis [any one unit]; together more than two.
    confidence : float
        Confidence of the interval [-].
    step : float
        Step of the readings on that scale [its unit]; 0 where unknown.
    prior : VariancePrior, optional
        What the laboratory's earlier runs tell of the spread on the scale of the analysis.

    Returns
    -------
    Contrast
        Mean of the subject minus mean of the reference.

    References
    ----------
    Student, Biometrika 6 (1908) 1-25; rounding: :mod:`pinscar.stats.rounding`.

    Examples
    --------
    >>> from pinscar.stats.pairwise import pooled_t
    >>> logs = np.array([1.4, 1.5, 1.9]), np.array([1.0, 1.1, 1.3])
    >>> one_spread_t(*logs, 0.95) == pooled_t(*logs)
    True
    """
    raw, df = pooled_variance([subject, reference])
    variance, freedom = moderated(least_variance(raw, step), df, prior)
    error = np.sqrt(variance * (1 / subject.size + 1 / reference.size))
    shift = 2.0 * rounding_shift(float(np.sqrt(raw)), step)
    return contrast(float(subject.mean() - reference.mean()), float(error), freedom, confidence, shift)


def sidak_welch(
    subjects: list[FloatArray],
    reference: FloatArray,
    confidence: float,
    comparisons: int | None = None,
    step: float = 0.0,
    prior: VariancePrior | None = None,
) -> list[Contrast]:
    r"""Each subject against one reference, each group with its own spread, joint by Sidak's inequality.

    Parameters
    ----------
    subjects : list of ndarray
        The groups, each of two or more values that differ [any one unit].
    reference : ndarray
        The group they are compared with [any one unit].
    confidence : float
        Joint confidence [-].
    comparisons : int, optional
        How many comparisons hold together; as many as there are subjects where not given.
    step : float
        Step of the readings on that scale [its unit]; 0 where unknown.
    prior : VariancePrior, optional
        What the laboratory's earlier runs tell of the spread on the scale of the analysis.

    Returns
    -------
    list of Contrast
        One a subject: difference, joint limits, adjusted p, degrees of freedom.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; :mod:`pinscar.stats.guarded_welch`; Sidak, JASA 62 (1967) 626-633.

    Examples
    --------
    >>> groups = np.array([1.4, 1.5, 1.9]), np.array([1.0, 1.1, 1.3])
    >>> sidak_welch([groups[0]], groups[1], 0.95)[0] == own_spreads_t(*groups, 0.95)
    True
    """
    k = len(subjects) if comparisons is None else comparisons
    each = confidence ** (1.0 / k)
    return [shared(own_spreads_t(subject, reference, each, step, prior), k) for subject in subjects]


def shared(one: Contrast, comparisons: int) -> Contrast:
    r"""Adjust the p of one of several comparisons by Sidak's inequality, :math:`1 - (1 - p)^k`.

    Parameters
    ----------
    one : Contrast
        At the confidence of each comparison.
    comparisons : int
        How many hold together.

    Returns
    -------
    Contrast
        With the adjusted p.

    References
    ----------
    Sidak, JASA 62 (1967) 626-633.

    Examples
    --------
    >>> from pinscar.stats.pairwise import contrast
    >>> one = contrast(1.0, 0.5, 4, 0.95)
    >>> round(shared(one, 2).p, 6) == round(1.0 - (1.0 - one.p) ** 2, 6)
    True
    """
    if comparisons == 1:
        return one
    p = float(-np.expm1(comparisons * np.log1p(-one.p))) if one.p < 1.0 else 1.0
    return replace(one, p=p)
