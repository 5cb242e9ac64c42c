"""A second route to the interval of one group: the bias-corrected and accelerated bootstrap."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.stats.checks import check_confidence, from_log, on_scale
from pinscar.stats.estimate import Estimate, Scale
from pinscar.stats.intervals import SINGLE_RUN, ZERO_SPREAD

SMALL = 20
TOO_NARROW = (
    "with {n} runs a bootstrap interval is narrower than its confidence needs: read it beside the t interval"
)


def bootstrap_interval(
    values: ArrayLike,
    seed: int,
    confidence: float = 0.95,
    scale: Scale = "log",
    resamples: int = 9999,
) -> Estimate:
    """Mean on the scale of the analysis with a BCa bootstrap interval.

    It assumes independent runs from one distribution, of any form. In small samples it is too narrow; it
    serves as a check on the form of the distribution, not in place of the t interval.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values, one a run, in any unit; positive on the log scale.
    seed : int
        Seed of the random resampling.
    confidence : float
        Confidence of the interval [-].
    scale : {"log", "linear"}
        On the log scale the geometric mean is estimated, on the linear scale the mean.
    resamples : int
        Number of resamples [-].

    Returns
    -------
    Estimate
        In the unit of the values. One run gives no interval; fewer than 20 carry a note.

    References
    ----------
    Efron, "Better bootstrap confidence intervals", JASA 82 (1987) 171-185; the resampling is that of
    scipy.stats.bootstrap.

    Examples
    --------
    >>> result = bootstrap_interval([100.0, 108.0, 96.0, 103.0, 111.0], seed=1)
    >>> result.low < result.estimate < result.high
    True
    """
    from scipy.stats import bootstrap  # slow to import, and needed here only

    scaled = on_scale(values, scale)
    check_confidence(confidence)
    back = from_log if scale == "log" else float
    n, centre = scaled.size, back(float(scaled.mean()))
    method = f"BCa bootstrap, {resamples} resamples, seed {seed}"
    if n == 1:
        return Estimate(1, 0, centre, None, None, confidence, scale, None, None, SINGLE_RUN)
    if np.ptp(scaled) == 0:
        return Estimate(n, 0, centre, centre, centre, confidence, scale, 0.0, None, method, ZERO_SPREAD)
    found = bootstrap(
        (scaled,),
        np.mean,
        n_resamples=resamples,
        confidence_level=confidence,
        method="BCa",
        rng=np.random.default_rng(seed),
    ).confidence_interval
    sd = float(scaled.std(ddof=1))
    note = TOO_NARROW.format(n=n) if n < SMALL else None
    low, high = back(float(found.low)), back(float(found.high))
    return Estimate(n, 0, centre, low, high, confidence, scale, sd, None, method, note)
