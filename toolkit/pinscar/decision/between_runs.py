"""How far repeats of one oil scatter, beside which the error of reading is judged."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pinscar.decision.grouping import by_cell
from pinscar.stats.components import variance_component


@dataclass(frozen=True, slots=True)
class BetweenRuns:
    """Relative spread between runs of one oil at one load, pooled.

    Parameters
    ----------
    spread : float
        Relative standard deviation [1].
    low, high : float
        Its confidence limits [1].
    df : int
        Degrees of freedom.
    n_cells : int
        Pairs of oil and load with repeats.
    """

    spread: float
    low: float
    high: float
    df: int
    n_cells: int


def between_runs(included: pd.DataFrame, column: str, confidence: float) -> BetweenRuns | None:
    """Pool the spread between runs of one oil at one load, on logarithms.

    Parameters
    ----------
    included : DataFrame
        Evaluated runs that count.
    column : str
        What is measured, positive.
    confidence : float
        Confidence of the interval [1].

    Returns
    -------
    BetweenRuns or None
        None where no oil has repeats at a load, or nothing varies.

    References
    ----------
    The relative standard deviation of a log-normal variable, sqrt(exp(s^2) - 1); chi-square limits of s.
    """
    logs = [np.log(cell[column].dropna().to_numpy(dtype=float)) for _, _, cell in by_cell(included)]
    repeated = [values for values in logs if values.size > 1]
    df = sum(values.size - 1 for values in repeated)
    squares = math.fsum(float(np.sum((values - np.mean(values)) ** 2)) for values in repeated)
    if df == 0 or squares <= 0.0:
        return None
    found = variance_component([1.0], [squares / df], [df], confidence)
    spread, low, high = (math.sqrt(math.expm1(v)) for v in (found.estimate, found.low, found.high))
    return BetweenRuns(spread, low, high, df, len(repeated))
