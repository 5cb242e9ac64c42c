"""Power of a comparison of film pressures of which some are left-censored, by seeded simulation."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, ndtri

from pinscar.stats.censored_batch import BatchRatio, likelihood_ratios
from pinscar.stats.planning import family_alpha, repeats_for_ratio


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
        Share of campaigns with too few values seen for any comparison; they count as not shown.
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
    "under the pressure its scar had reached at the end; likelihood ratio test whose critical value is "
    "simulated too, so that its level is kept"
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
        Candidates compared with the reference [-]; the level is that of `family_alpha`.
    bound_spread : float
        Standard deviation of the reached pressure's logarithm over `log_sd` [-], zero or more.
    n_simulations : int
        Simulated campaigns with, and as many without, the difference [-], at least 1000.
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
    Own derivation: simulation; the test is that of R. J. Olsen's likelihood, 1978, with a critical value
    from the simulated null distribution.

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
    level = family_alpha(alpha, comparisons)
    shift = math.log(ratio) / log_sd
    rng = np.random.default_rng(seed)
    shape = (n_simulations, repeats)
    null = _simulate(rng, shape, 0.0, censored_fraction, bound_spread)
    real = _simulate(rng, shape, shift, censored_fraction, bound_spread)
    critical = float(np.quantile(null.statistics, 1.0 - level))
    power = float(np.mean(real.statistics > critical))
    return CensoredPower(
        repeats=repeats,
        power=power,
        standard_error=math.sqrt(power * (1.0 - power) / n_simulations),
        censored_reference=censored_fraction,
        censored_candidate=_candidate_fraction(censored_fraction, shift, bound_spread),
        undecidable=float(np.mean(real.undecidable)),
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
    rng: np.random.Generator, shape: tuple[int, int], shift: float, fraction: float, spread: float
) -> BatchRatio:
    """Two groups in units of the film's spread, the second shifted, and their likelihood ratios."""
    campaigns, repeats = shape
    in_second = np.arange(2 * repeats) >= repeats
    film = rng.standard_normal((campaigns, 2 * repeats)) + np.where(in_second, shift, 0.0)
    reached = spread * rng.standard_normal(film.shape)
    if fraction > 0.0:
        reached += float(ndtri(fraction)) * math.hypot(1.0, spread)
        censored = film < reached
    else:
        censored = np.zeros(film.shape, dtype=bool)
    return likelihood_ratios(np.where(censored, reached, film), censored, in_second)


def _candidate_fraction(fraction: float, shift: float, spread: float) -> float:
    if fraction == 0.0:
        return 0.0
    return float(ndtr(float(ndtri(fraction)) - shift / math.hypot(1.0, spread)))
