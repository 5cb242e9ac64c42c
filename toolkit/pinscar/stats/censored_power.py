"""Power of a comparison of film pressures of which some are left-censored, by seeded simulation."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from pinscar.stats.censored_judged import separated
from pinscar.stats.planning import repeats_for_ratio


@dataclass(frozen=True, slots=True)
class CensoredPower:
    """Power of a comparison with censored runs.

    Parameters
    ----------
    repeats : int or None
        Runs of each lubricant; None where the stated most was not enough.
    power : float or None
        Share of simulated campaigns that show the difference.
    standard_error : float or None
        Simulation error of that share.
    censored_reference, censored_candidate : float
        Share of runs expected to be censored.
    undecidable : float or None
        Share of campaigns with too few values seen for limits of the comparison; they count as not shown.
    n_simulations, seed : int
        Size and seed of the simulation.
    method : str
        What was simulated, as a report prints it.
    """

    repeats: int | None
    power: float | None
    standard_error: float | None
    censored_reference: float
    censored_candidate: float
    undecidable: float | None
    n_simulations: int
    seed: int
    method: str


METHOD = (
    "simulation of log-normal film pressures with one spread; a run is censored when its film pressure lies "
    "under the pressure its scar had reached at the end; each campaign is judged by the limits that the "
    "report will use (calibrated likelihood limits, or a bound where all runs of an oil are censored)"
)


def censored_power(
    repeats: int,
    ratio: float,
    log_sd: float,
    censored_fraction: float,
    alpha: float = 0.05,
    *,
    comparisons: int = 1,
    bound_spread: float = 0.5,
    n_simulations: int = 4000,
    seed: int = 0,
) -> CensoredPower:
    """Simulate the power to show a ratio of film pressures when some runs are left-censored.

    The pressure that a scar has reached when its run ends varies from run to run, independent of the film; a
    run whose film carries less is censored at it. Its level is set so that the wanted share of the
    reference's runs is censored; the candidate's share follows from the ratio.

    Parameters
    ----------
    repeats : int
        Runs of each lubricant [-], at least 2.
    ratio : float
        True ratio of the median film pressures, candidate over reference [-], positive.
    log_sd : float
        Standard deviation of the logarithms of the film pressure [-], positive.
    censored_fraction : float
        Share of the reference's runs that is censored [-], from 0 up to, not including, 1.
    alpha : float
        Level for all comparisons together, two-sided [-].
    comparisons : int
        Candidates compared with the reference [-]; the others are taken to equal the reference, and the level
        is shared by Bonferroni, as in the report.
    bound_spread : float
        Standard deviation of the reached pressure's logarithm over `log_sd` [-], zero or more.
    n_simulations : int
        Simulated campaigns [-], at least 1000.
    seed : int
        Seed of the simulation.

    Returns
    -------
    CensoredPower
        Power with its simulation error.

    Raises
    ------
    ValueError
        Where an argument is out of range.

    References
    ----------
    Own derivation: simulation; the limits are those of `pinscar.stats.choose.compare_with_reference`.

    Examples
    --------
    >>> result = censored_power(6, 1.4, 0.15, 0.3, n_simulations=1000)
    >>> 0.6 < result.power < 0.95, round(result.censored_candidate, 3)
    (True, 0.006)
    """
    if repeats < 2 or not (ratio > 0.0 and log_sd > 0.0) or not 0.0 <= censored_fraction < 1.0:
        raise ValueError(
            f"repeats {repeats}, ratio {ratio}, log_sd {log_sd} or censored_fraction {censored_fraction} "
            "is out of range"
        )
    if bound_spread < 0.0 or n_simulations < 1000:
        raise ValueError(f"bound_spread {bound_spread}, n_simulations {n_simulations}: out of range")
    shift = math.log(ratio) / log_sd
    rng = np.random.default_rng(seed)
    values, censored = _simulate(
        rng, (n_simulations, comparisons + 1, repeats), shift, censored_fraction, bound_spread
    )
    shown, judged = separated(values, censored, 1.0 - alpha)
    power = float(np.mean(shown))
    return CensoredPower(
        repeats=repeats,
        power=power,
        standard_error=math.sqrt(power * (1.0 - power) / n_simulations),
        censored_reference=censored_fraction,
        censored_candidate=_candidate_fraction(censored_fraction, shift, bound_spread),
        undecidable=float(np.mean(~judged)),
        n_simulations=n_simulations,
        seed=seed,
        method=METHOD,
    )


def repeats_for_censored_ratio(
    ratio: float,
    log_sd: float,
    censored_fraction: float,
    power: float = 0.8,
    alpha: float = 0.05,
    *,
    comparisons: int = 1,
    bound_spread: float = 0.5,
    most: int = 60,
    n_simulations: int = 4000,
    seed: int = 0,
) -> CensoredPower:
    """Find the repeats that show a ratio of film pressures with a wanted power when some runs are censored.

    The search starts at the repeats needed without censoring and halves its way to the smallest number whose
    simulated power reaches the wanted one; the simulation error of the power is given with it.

    Parameters
    ----------
    ratio : float
        True ratio of the median film pressures, candidate over reference [-], positive, not 1.
    log_sd : float
        Standard deviation of the logarithms of the film pressure [-], positive.
    censored_fraction : float
        Share of the reference's runs that is censored [-], from 0 up to, not including, 1.
    power : float
        Wanted power [-].
    alpha : float
        Level for all comparisons together, two-sided [-].
    comparisons : int
        Candidates compared with the reference [-].
    bound_spread : float
        Standard deviation of the reached pressure's logarithm over `log_sd` [-].
    most : int
        Largest number of repeats looked at [-].
    n_simulations : int
        Simulated campaigns for each number of repeats [-], at least 1000.
    seed : int
        Seed of the simulation.

    Returns
    -------
    CensoredPower
        Repeats with their power; repeats and power None where `most` is not enough.

    Raises
    ------
    ValueError
        Where an argument is out of range.

    References
    ----------
    Own derivation: simulation, as `censored_power`.

    Examples
    --------
    >>> result = repeats_for_censored_ratio(1.5, 0.15, 0.2, n_simulations=1000)
    >>> result.repeats in (4, 5), result.power >= 0.8
    (True, True)
    """

    def simulated(n: int) -> CensoredPower:
        return censored_power(
            n,
            ratio,
            log_sd,
            censored_fraction,
            alpha,
            comparisons=comparisons,
            bound_spread=bound_spread,
            n_simulations=n_simulations,
            seed=seed,
        )

    start = repeats_for_ratio(ratio, log_sd, power, alpha, comparisons=comparisons, most=most).repeats or most
    too_few, low = max(start - 1, 1), start
    found = simulated(low)
    while (found.power or 0.0) < power:
        if low >= most:
            return replace(found, repeats=None, power=None, standard_error=None, undecidable=None)
        too_few, low = low, min(most, low + max(1, low // 2))
        found = simulated(low)
    while low - too_few > 1:
        middle = (too_few + low) // 2
        candidate = simulated(middle)
        if (candidate.power or 0.0) >= power:
            low, found = middle, candidate
        else:
            too_few = middle
    return found


def _simulate(
    rng: np.random.Generator, shape: tuple[int, int, int], shift: float, fraction: float, spread: float
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Campaigns, groups and runs in units of the film's spread; group 1 is shifted against group 0."""
    film = rng.standard_normal(shape)
    film[:, 1] += shift
    if fraction == 0.0:
        return film, np.zeros(shape, dtype=bool)
    reached = spread * rng.standard_normal(shape) + float(ndtri(fraction)) * math.hypot(1.0, spread)
    censored = film < reached
    return np.where(censored, reached, film), censored


def _candidate_fraction(fraction: float, shift: float, spread: float) -> float:
    if fraction == 0.0:
        return 0.0
    return float(ndtr(float(ndtri(fraction)) - shift / math.hypot(1.0, spread)))
