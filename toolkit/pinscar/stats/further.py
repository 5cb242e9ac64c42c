"""Further repeats that settle a limit, by the interval that will judge it: own spreads, blocks, bounds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pinscar.stats.block_power import power_within_blocks
from pinscar.stats.censored import censoring_shift, deviance_cut
from pinscar.stats.censored_own_batch import apart, fit_groups_apart
from pinscar.stats.censored_power import median_roots
from pinscar.stats.power import family_alpha, unlike_welch_power

FloatArray = NDArray[np.float64]
PROBABILITY, MOST = 0.8, 50
"""Chance of settling a limit that is asked for, and the most further runs that are looked at."""
CAMPAIGNS = 500
"""Campaigns drawn where bounds leave no formula: the chance of 80 % is then known to about 2 points."""
BOUND_SPREAD = 0.5
"""Scatter of the pressure reached over that of the film, as in :mod:`pinscar.stats.censored_power`."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What is known now of one group, taken for the truth.

    Parameters
    ----------
    n : int
        Runs now [-].
    sd : float
        Standard deviation of single runs on the scale of the analysis [any one unit].
    more_df : float
        Degrees of freedom that earlier campaigns add [-].
    hidden : float
        Share of the runs that are bounds on the left [-].
    """

    n: int
    sd: float
    more_df: float = 0.0
    hidden: float = 0.0


def fewest(reached: Callable[[int], float], probability: float = PROBABILITY, most: int = MOST) -> int | None:
    """Find the fewest further runs whose chance is the wanted one, for a chance that rises with them.

    Parameters
    ----------
    reached : callable
        Gives the chance of a number of further runs [-].
    probability : float
        The wanted chance [-].
    most : int
        Largest number looked at [-].

    Returns
    -------
    int or None
        At least 1; None where more than `most` would be needed.

    References
    ----------
    Own derivation: doubling, then bisection.

    Examples
    --------
    >>> fewest(lambda m: m / 10.0), fewest(lambda m: m / 100.0)
    (8, None)
    """
    low, high = 0, 1
    while reached(high) < probability:
        if high == most:
            return None
        low, high = high, min(2 * high, most)
    while high - low > 1:
        middle = (low + high) // 2
        if reached(middle) >= probability:
            high = middle
        else:
            low = middle
    return high


def further_own_spreads(
    subject: Seen, reference: Seen, distance: float, confidence: float, comparisons: int = 1
) -> int | None:
    r"""Find the further runs of two groups with which Welch's limits probably clear a value.

    The chance is that of :func:`pinscar.stats.power.unlike_welch_power` with :math:`N_i = n_i + m`,
    :math:`v_i = s_i^2/N_i` and :math:`f_i = N_i - 1` plus what earlier campaigns add, at the level of
    :func:`pinscar.stats.power.family_alpha`.

    Parameters
    ----------
    subject, reference : Seen
        Both groups.
    distance : float
        From the estimate to the value to be cleared, on the scale of the analysis [any one unit].
    confidence : float
        Joint confidence of the intervals [-].
    comparisons : int
        How many intervals hold together [-].

    Returns
    -------
    int or None
        Further runs of each group; None where more than 50 would be needed.

    References
    ----------
    As :func:`pinscar.stats.power.unlike_welch_power`.

    Examples
    --------
    Of four runs each and one tenth of spread; where one group scatters three times as much it takes more.

    >>> further_own_spreads(Seen(4, 0.1), Seen(4, 0.1), 0.15, 0.95)
    5
    >>> further_own_spreads(Seen(4, 0.3), Seen(4, 0.1), 0.15, 0.95)
    33
    """
    alpha = family_alpha(1.0 - confidence, comparisons)

    def reached(more: int) -> float:
        sizes = (subject.n + more, reference.n + more)
        return unlike_welch_power(
            (subject.sd**2 / sizes[0], reference.sd**2 / sizes[1]),
            (sizes[0] - 1.0 + subject.more_df, sizes[1] - 1.0 + reference.more_df),
            distance,
            alpha,
        )

    return fewest(reached)


def more_blocks(blocks: Sequence[str], per_block: int, more: int) -> list[str]:
    """Give the blocks of the present runs with further ones, which fill new blocks.

    Parameters
    ----------
    blocks : sequence of str
        Block of each run of a group.
    per_block : int
        Runs of the group in each new block [-].
    more : int
        Further runs [-].

    Returns
    -------
    list of str
        Blocks of all of them.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> more_blocks(["mon", "tue"], 2, 3)
    ['mon', 'tue', 'new 0', 'new 0', 'new 1']
    """
    return [*blocks, *(f"new {number // per_block}" for number in range(more))]


def further_in_blocks(
    sides: tuple[Sequence[str], Sequence[str]],
    spreads: tuple[float, float],
    distance: float,
    confidence: float,
    comparisons: int = 1,
) -> int | None:
    """Find the further runs of two groups with which the limits within blocks probably clear a value.

    The further runs of both fill new blocks with as many of each as the present blocks hold of both groups on
    average.

    Parameters
    ----------
    sides : tuple of sequence of str
        Block of each run of subject and reference.
    spreads : tuple of float
        Standard deviations within blocks, on the scale of the analysis [any one unit].
    distance : float
        From the estimate to the value to be cleared, on that scale [the same unit].
    confidence : float
        Joint confidence of the intervals [-].
    comparisons : int
        How many intervals hold together [-].

    Returns
    -------
    int or None
        Further runs of each group; None where more than 50 would be needed.

    References
    ----------
    As :func:`pinscar.stats.block_power.power_within_blocks`.

    Examples
    --------
    >>> days = ["mon", "mon", "tue", "tue"]
    >>> further_in_blocks((days, days), (0.1, 0.1), 0.15, 0.95)
    5
    """
    alpha = family_alpha(1.0 - confidence, comparisons)
    per_block = runs_per_block(sides)

    def reached(more: int) -> float:
        subject, reference = (more_blocks(side, per_block, more) for side in sides)
        return power_within_blocks(subject, reference, distance, alpha, spreads=spreads)

    return fewest(reached)


def runs_per_block(sides: Sequence[Sequence[str]]) -> int:
    """Give the usual number of runs of a group in a block, at least one.

    Parameters
    ----------
    sides : sequence of sequence of str
        Block of each run, group by group.

    Returns
    -------
    int
        Mean over groups and blocks, rounded.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> runs_per_block([["mon", "mon", "tue", "tue"], ["mon", "tue"]])
    2
    """
    held = sum(len(set(side)) for side in sides)
    return max(1, int(sum(len(side) for side in sides) / held + 0.5))


@lru_cache(maxsize=256)  # a limit may be asked about more than once for one report
def further_with_bounds(
    subject: Seen,
    reference: Seen | None,
    distance: float,
    confidence: float,
    comparisons: int = 1,
    *,
    seed: int = 0,
) -> int | None:
    """Find the further runs with which calibrated limits probably clear a value where some runs are bounds.

    By simulation: the share of bounds stays as it is, and the pressures reached scatter half as much as the
    film. A campaign whose groups have no two values seen settles nothing.

    Parameters
    ----------
    subject : Seen
        The group.
    reference : Seen or None
        The other; None for the median of one group.
    distance : float
        From the log median, or log ratio, to the value to be cleared; positive where it lies above [-].
    confidence : float
        Joint confidence of the intervals [-].
    comparisons : int
        How many intervals share the error by Bonferroni [-].
    seed : int
        Seed of the draws.

    Returns
    -------
    int or None
        Further runs of each group; None where more than 50 would be needed.

    References
    ----------
    As :mod:`pinscar.stats.censored_own_batch` and :func:`pinscar.stats.censored_power.median_roots`.

    Examples
    --------
    >>> plain, bounds = Seen(5, 0.1), Seen(5, 0.1, hidden=0.4)
    >>> further_with_bounds(bounds, plain, 0.1, 0.95) > further_with_bounds(plain, plain, 0.1, 0.95)
    True
    """
    level = 1.0 - (1.0 - confidence) / comparisons

    def reached(more: int) -> float:
        rng = np.random.default_rng([seed, more])
        drawn = [_drawn(rng, one, more) for one in (subject, reference) if one is not None]
        usable = np.all([np.sum(~hidden, axis=1) > 1 for _, hidden in drawn], axis=0)
        shifted = drawn[0][0][usable] + distance, drawn[0][1][usable]
        if reference is None:
            settled = _clears(*shifted, level)
        else:
            base = fit_groups_apart(drawn[1][0][usable], drawn[1][1][usable])
            settled = apart(fit_groups_apart(*shifted), base, level)
        return float(np.sum(settled)) / CAMPAIGNS

    return fewest(reached)


def _drawn(rng: np.random.Generator, seen: Seen, more: int) -> tuple[FloatArray, NDArray[np.bool_]]:
    shape = (CAMPAIGNS, seen.n + more)
    film = rng.standard_normal(shape)
    if seen.hidden <= 0.0:
        return seen.sd * film, np.zeros(shape, dtype=bool)
    reached = BOUND_SPREAD * rng.standard_normal(shape)
    reached += float(ndtri(seen.hidden)) * float(np.hypot(1.0, BOUND_SPREAD))
    return seen.sd * np.maximum(film, reached), film < reached


def _clears(logs: FloatArray, hidden: NDArray[np.bool_], confidence: float) -> NDArray[np.bool_]:
    """Tell in which campaigns the limits of a median leave zero out."""
    n = logs.shape[1]
    roots = median_roots(logs, hidden)
    shifts = np.array([censoring_shift(n, count) for count in range(n + 1)])[hidden.sum(axis=1)]
    cut = float(np.sqrt(deviance_cut(confidence, n, 1, "student")))
    return np.asarray((roots > cut + shifts) | (roots < -cut), dtype=np.bool_)
