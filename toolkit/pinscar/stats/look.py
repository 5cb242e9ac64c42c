"""The penalty for looking before adding repeats."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr


@dataclass(frozen=True, slots=True)
class LookPenalty:
    """What looking several times does to the level of a test.

    Parameters
    ----------
    looks : tuple of int
        Runs a lubricant at each look.
    alpha : float
        Level used at each look.
    actual_alpha : float
        Chance of a false difference at one look or another.
    standard_error : float
        Simulation error of that chance.
    alpha_per_look : float
        Level to use at every look so that the whole keeps `alpha`.
    n_simulations, seed : int
        Size and seed of the simulation.
    statement : str
        The result in a plain sentence.
    """

    looks: tuple[int, ...]
    alpha: float
    actual_alpha: float
    standard_error: float
    alpha_per_look: float
    n_simulations: int
    seed: int
    statement: str


def look_penalty(
    looks: Sequence[int], alpha: float = 0.05, n_simulations: int = 20_000, seed: int = 0
) -> LookPenalty:
    """Simulate what it costs to test, add repeats while no difference is shown, and test again.

    Two lubricants without a difference are drawn, normal on the scale of analysis, and compared by the
    pooled t test at every look. The smallest p over the looks decides: how often it is under alpha is the
    actual level, and its alpha quantile the constant level a look that restores it.

    Parameters
    ----------
    looks : sequence of int
        Runs of each lubricant at each look [-], rising, the first at least 2.
    alpha : float
        Level used at each look, two-sided [-].
    n_simulations : int
        Number of simulated campaigns [-], at least 1000.
    seed : int
        Seed of the simulation.

    Returns
    -------
    LookPenalty
        Actual level, its simulation error, and the level a look that restores the wanted one.

    Raises
    ------
    ValueError
        Where the looks do not rise from 2 up, or an argument is out of range.

    References
    ----------
    P. Armitage, C. K. McPherson and B. C. Rowe, Repeated significance tests on accumulating data, 1969;
    S. J. Pocock, Group sequential methods in the design and analysis of clinical trials, 1977 (constant
    level). Here by simulation, since the spread is estimated from few runs.

    Examples
    --------
    >>> penalty = look_penalty([5, 8])
    >>> 0.06 < penalty.actual_alpha < 0.085, 0.025 < penalty.alpha_per_look < 0.045
    (True, True)
    """
    sizes = tuple(int(n) for n in looks)
    if not sizes or sizes[0] < 2 or any(a >= b for a, b in itertools.pairwise(sizes)):
        raise ValueError(f"looks are {sizes}, they must rise from at least 2")
    if not 0.0 < alpha < 1.0 or n_simulations < 1000:
        raise ValueError(f"alpha is {alpha}, n_simulations {n_simulations}: needs 0 to 1, and at least 1000")
    draws = np.random.default_rng(seed).standard_normal((2, n_simulations, sizes[-1]))
    smallest = np.min([_pooled_p(draws[:, :, :n]) for n in sizes], axis=0)
    actual = float(np.mean(smallest < alpha))
    per_look = float(np.quantile(smallest, alpha))
    return LookPenalty(
        looks=sizes,
        alpha=alpha,
        actual_alpha=actual,
        standard_error=math.sqrt(actual * (1.0 - actual) / n_simulations),
        alpha_per_look=per_look,
        n_simulations=n_simulations,
        seed=seed,
        statement=_statement(sizes, alpha, actual, per_look),
    )


def _pooled_p(draws: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two-sided p of the pooled t test, for equal groups along the last axis."""
    n = draws.shape[2]
    variance = np.mean(np.var(draws, axis=2, ddof=1), axis=0)
    t = np.abs(np.mean(draws[0], axis=1) - np.mean(draws[1], axis=1)) / np.sqrt(2.0 * variance / n)
    return np.asarray(2.0 * stdtr(2 * n - 2, -t), dtype=np.float64)


def _statement(looks: tuple[int, ...], alpha: float, actual: float, per_look: float) -> str:
    if len(looks) == 1:
        return f"One look at {looks[0]} runs a lubricant: no penalty."
    places = ", ".join(str(n) for n in looks[:-1]) + f" and {looks[-1]}"
    return (
        f"Looking at {places} runs a lubricant, each time at {100 * alpha:.2g} %, shows a difference that is "
        f"not there in {100 * actual:.2g} % of campaigns; a level of {100 * per_look:.2g} % at each look "
        f"keeps it at {100 * alpha:.2g} %."
    )
