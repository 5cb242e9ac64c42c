"""Power of a plan with several candidates, simulated with the method that will judge the campaign."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache

import numpy as np

from pinscar.stats.choose import compare_with_reference
from pinscar.stats.family import Comparison

SIMULATIONS = 1_000


@cache
def simulated_ratio_power(
    repeats: int,
    ratio: float,
    log_sd: float,
    alpha: float = 0.05,
    comparisons: int = 1,
    n_simulations: int = SIMULATIONS,
    seed: int = 1,
) -> float:
    """Simulate the power to show a ratio for one of several candidates, all compared with one reference.

    Campaigns with log-normal values of one spread are drawn; one candidate has the ratio, the others are like
    the reference. Each campaign is judged by `compare_with_reference`, as its report will be; shown means
    that the simultaneous interval excludes 1. The standard error of the power is at most 0.5 over the root
    of the number of simulations.

    Parameters
    ----------
    repeats : int
        Runs of each lubricant [-], at least 2.
    ratio : float
        True ratio of the geometric means [-], positive.
    log_sd : float
        Standard deviation of the logarithms [-], positive.
    alpha : float
        Level for all comparisons together [-].
    comparisons : int
        Candidates compared with the reference [-].
    n_simulations : int
        Simulated campaigns.
    seed : int
        Seed of the draws.

    Returns
    -------
    float
        Share of the campaigns that show the ratio [-].

    Raises
    ------
    ValueError
        Where an argument is out of range.

    References
    ----------
    Own simulation; two-sided tests by the method of `compare_with_reference`.

    Examples
    --------
    One candidate, a difference of one standard deviation, 20 runs each: 0.869 by the noncentral t.

    >>> abs(simulated_ratio_power(20, math.exp(0.2), 0.2) - 0.869) < 0.035
    True
    """
    if not (ratio > 0.0 and log_sd > 0.0 and repeats >= 2 and comparisons >= 1):
        raise ValueError(
            f"ratio {ratio} and log_sd {log_sd} must be positive, repeats {repeats} at least 2 and "
            f"comparisons {comparisons} at least 1"
        )
    rng = np.random.default_rng(seed)
    shown = 0
    for _ in range(n_simulations):
        logs = log_sd * rng.standard_normal((comparisons + 1, repeats))
        logs[1] += math.log(ratio)
        cells = {str(place): np.exp(row) for place, row in enumerate(logs)}
        shown += _shows(compare_with_reference(cells, "0", 1.0 - alpha))
    return shown / n_simulations


def _shows(found: list[Comparison]) -> bool:
    by_name: Mapping[str, Comparison] = {one.subject: one for one in found}
    low, high = by_name["1"].low, by_name["1"].high
    return low is not None and high is not None and not low <= 1.0 <= high
