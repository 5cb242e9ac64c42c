"""How often a rig that is in order raises a signal all the same, by seeded simulation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pinscar.stats.rig_control import rig_control

SIMULATIONS = 1000
SEED = 0


@dataclass(frozen=True, slots=True)
class FalseAlarms:
    """Signals of series that have no cause to give any.

    Parameters
    ----------
    share : float
        Share of simulated series with at least one signal.
    standard_error : float
        Simulation error of that share.
    n_simulations, seed : int
        Size and seed of the simulation.
    """

    share: float
    standard_error: float
    n_simulations: int
    seed: int


def false_alarms(
    n: int,
    n_baseline: int,
    rules: Sequence[int],
    weight: float,
    n_simulations: int = SIMULATIONS,
    seed: int = SEED,
) -> FalseAlarms:
    """Simulate series of independent normal values and count those with a signal.

    Limits are set anew in each series from its own baseline, as in the chart, so the uncertainty of limits
    from few points is in the number.

    Parameters
    ----------
    n : int
        Points of a series.
    n_baseline : int
        Points that the limits rest on.
    rules : sequence of int
        Run rules applied beside the moving average.
    weight : float
        Weight of the newest value in the moving average.
    n_simulations : int
        Series simulated.
    seed : int
        Seed of the simulation.

    Returns
    -------
    FalseAlarms
        Share of series with a signal.

    Examples
    --------
    >>> 0.1 < false_alarms(20, 20, (1, 2, 5, 6), 0.3, 200).share < 0.3
    True
    """
    rng = np.random.default_rng(seed)
    times = np.arange(n).astype("datetime64[D]")
    first = np.arange(n) < n_baseline
    raised = sum(
        bool(rig_control(times, rng.standard_normal(n), first, rules, weight).signals)
        for _ in range(n_simulations)
    )
    share = raised / n_simulations
    return FalseAlarms(share, math.sqrt(share * (1.0 - share) / n_simulations), n_simulations, seed)
