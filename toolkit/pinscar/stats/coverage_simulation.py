"""Simulate how often profile-likelihood limits of censored runs hold the truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pinscar.stats.censored import fit_one_group, profile_deviance
from pinscar.stats.censored_groups import fit_censored_groups, ratio_deviance
from pinscar.stats.deviance_cut import Cut, deviance_cut

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Deviances:
    """Deviances of the truth, one a simulated campaign.

    Parameters
    ----------
    values : ndarray, shape (campaigns,)
        Profile deviance of the true value [-].
    used : float
        Share of the campaigns drawn that the profile method applies to [-]; the others had no censored run
        or too few uncensored ones, and were drawn again.
    n : int
        Runs fitted together in each campaign [-].
    locations : int
        Medians fitted in each campaign [-].
    """

    values: FloatArray
    used: float
    n: int
    locations: int

    def coverage(self, confidence: float, kind: Cut = "chi-square") -> float:
        """Share of the campaigns whose interval holds the truth.

        Parameters
        ----------
        confidence : float
            Nominal confidence [-].
        kind : {"chi-square", "student"}
            Which cut of the deviance makes the interval.

        Returns
        -------
        float
            The coverage [-].

        References
        ----------
        Own derivation: Monte Carlo.

        Examples
        --------
        >>> Deviances(np.array([1.0, 4.5]), 1.0, 5, 1).coverage(0.95)
        0.5
        """
        return float(np.mean(self.values <= deviance_cut(confidence, self.n, self.locations, kind)))


def draw_censored(
    n: int, share: float, scatter: float, rng: np.random.Generator
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Draw standard normal log values, left-censored where they fall below a limit.

    Parameters
    ----------
    n : int
        Number of runs [-].
    share : float
        Expected share of censored runs [-].
    scatter : float
        Standard deviation of the limits from run to run, in standard deviations of the values [-]; 0 is one
        common limit.
    rng : Generator
        Source of the random numbers.

    Returns
    -------
    logs : ndarray, shape (n,)
        The values, or the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the value fell below its limit.

    References
    ----------
    Own derivation: type I censoring; the limit's mean is the one that gives the share.

    Examples
    --------
    >>> logs, mask = draw_censored(5, 0.4, 0.0, np.random.default_rng(1))
    >>> bool(np.all(logs[mask] <= logs.min()))
    True
    """
    values = rng.normal(size=n)
    limits = ndtri(share) * np.sqrt(1 + scatter**2) + scatter * rng.normal(size=n)
    mask = values < limits
    return np.where(mask, limits, values), mask


def simulate_median(
    n: int, share: float, scatter: float, campaigns: int, rng: np.random.Generator
) -> Deviances:
    """Simulate the median of one censored group.

    Parameters
    ----------
    n : int
        Runs [-].
    share : float
        Expected share of censored runs [-].
    scatter : float
        Scatter of the limits, in standard deviations of the values [-].
    campaigns : int
        Campaigns to which the profile method applies: at least one run censored and two not [-].
    rng : Generator
        Source of the random numbers.

    Returns
    -------
    Deviances
        Of the true median.

    References
    ----------
    Own derivation: Monte Carlo.

    Examples
    --------
    >>> 0.8 < simulate_median(5, 0.4, 1.0, 200, np.random.default_rng(1)).coverage(0.95) < 1
    True
    """
    found: list[float] = []
    drawn = 0
    while len(found) < campaigns:
        drawn += 1
        logs, mask = draw_censored(n, share, scatter, rng)
        if 0 < mask.sum() <= n - 2:
            found.append(profile_deviance(logs, mask, 0.0, fit_one_group(logs, mask)))
    return Deviances(np.array(found), campaigns / drawn, n, 1)


def simulate_ratio(
    n: int, share: float, scatter: float, campaigns: int, rng: np.random.Generator
) -> Deviances:
    """Simulate the ratio of the medians of two equal censored groups.

    Parameters
    ----------
    n : int
        Runs in each group [-].
    share : float
        Expected share of censored runs in both [-].
    scatter : float
        Scatter of the limits, in standard deviations of the values [-].
    campaigns : int
        Campaigns to which the profile method applies: a censored run, one uncensored in each group and two in
        one of them [-].
    rng : Generator
        Source of the random numbers.

    Returns
    -------
    Deviances
        Of the true ratio.

    References
    ----------
    Own derivation: Monte Carlo.

    Examples
    --------
    >>> 0.8 < simulate_ratio(5, 0.4, 1.0, 100, np.random.default_rng(1)).coverage(0.95) < 1
    True
    """
    found: list[float] = []
    drawn = 0
    while len(found) < campaigns:
        drawn += 1
        draws = {name: draw_censored(n, share, scatter, rng) for name in ("subject", "reference")}
        seen = [n - int(mask.sum()) for _, mask in draws.values()]
        if min(seen) < 1 or max(seen) < 2 or sum(seen) == 2 * n:
            continue
        values = {name: np.exp(logs) for name, (logs, _) in draws.items()}
        groups = fit_censored_groups(values, {name: mask for name, (_, mask) in draws.items()})
        found.append(ratio_deviance(groups, "subject", "reference", 0.0))
    return Deviances(np.array(found), campaigns / drawn, 2 * n, 2)
