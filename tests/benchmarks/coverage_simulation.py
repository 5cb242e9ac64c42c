"""Simulate how often the intervals of campaigns with censored runs hold the truth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pinscar.stats.censored import censoring_shift, deviance_cut
from pinscar.stats.censored_power import median_roots, ratio_roots

FloatArray = NDArray[np.float64]
Kind = Literal["median", "ratio"]


@dataclass(frozen=True, slots=True)
class Roots:
    """Signed roots of the deviance of the truth, one a simulated campaign that yields an interval.

    Parameters
    ----------
    values : ndarray, shape (campaigns,)
        The roots [-]; positive where the estimate lies above the truth.
    low_shift, high_shift : ndarray, shape (campaigns,)
        Shifts of the cut at either end [-].
    censored : ndarray of bool, shape (campaigns,)
        Whether the campaign has censored runs.
    drawn : int
        Campaigns drawn, those included that yield no interval [-].
    n, locations : int
        Runs and medians fitted together in each campaign [-].
    """

    values: FloatArray
    low_shift: FloatArray
    high_shift: FloatArray
    censored: NDArray[np.bool_]
    drawn: int
    n: int
    locations: int


@dataclass(frozen=True, slots=True)
class Coverage:
    """How often intervals held the truth.

    Parameters
    ----------
    intervals : float
        Share of the campaigns drawn that yield an interval [-].
    coverage, coverage_censored : float
        Share of the intervals that hold the truth [-]: of all, and of those with a censored run (one where
        there are none).
    low_above, high_below : float
        Share of the campaigns drawn whose low end lies above the truth, or whose high end lies below it [-].
        Where the truth is at a limit, these are the shares that wrongly meet "at least" and "at most".
    profile : float
        Share of the intervals with a censored run that would hold the truth with the large-sample cut [-].
    """

    intervals: float
    coverage: float
    coverage_censored: float
    low_above: float
    high_below: float
    profile: float


def coverage(roots: Roots, confidence: float) -> Coverage:
    """Count how often the intervals of simulated campaigns hold the truth.

    Parameters
    ----------
    roots : Roots
        From :func:`simulate_median` or :func:`simulate_ratio`.
    confidence : float
        Nominal confidence [-].

    Returns
    -------
    Coverage
        Shares [-].

    References
    ----------
    Own derivation: Monte Carlo.

    Examples
    --------
    >>> none = np.zeros(4)
    >>> roots = Roots(np.array([0.0, 1.0, 2.5, -2.5]), none, none, none > 0, 5, 5, 1)
    >>> found = coverage(roots, 0.95)
    >>> found.intervals, found.coverage, found.low_above, found.high_below
    (0.8, 0.5, 0.2, 0.2)
    """
    root = np.sqrt(deviance_cut(confidence, roots.n, roots.locations, "student"))
    above, below = roots.values > root + roots.low_shift, roots.values < -root - roots.high_shift
    held = ~above & ~below
    hidden = roots.censored
    plain = np.abs(roots.values) <= np.sqrt(deviance_cut(confidence, roots.n, roots.locations))
    return Coverage(
        intervals=roots.values.size / roots.drawn,
        coverage=float(np.mean(held)),
        coverage_censored=float(np.mean(held[hidden])) if hidden.any() else 1.0,
        low_above=float(np.sum(above)) / roots.drawn,
        high_below=float(np.sum(below)) / roots.drawn,
        profile=float(np.mean(plain[hidden])) if hidden.any() else 1.0,
    )


def draw_censored(
    shape: tuple[int, int], share: float, scatter: float, rng: np.random.Generator
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Draw standard normal log values, left-censored where they fall below a limit.

    Parameters
    ----------
    shape : tuple of int
        Campaigns and runs [-].
    share : float
        Expected share of censored runs [-], 0 for none.
    scatter : float
        Standard deviation of the limits from run to run, in standard deviations of the values [-]; 0 is one
        common limit.
    rng : Generator
        Source of the random numbers.

    Returns
    -------
    logs : ndarray
        The values, or the limit where censored [-].
    left_censored : ndarray of bool
        True where the value fell below its limit.

    References
    ----------
    Own derivation: type I censoring; the limit's mean is the one that gives the share.

    Examples
    --------
    >>> logs, mask = draw_censored((1, 5), 0.4, 0.0, np.random.default_rng(1))
    >>> bool(np.all(logs[mask] <= logs.min()))
    True
    """
    values = rng.normal(size=shape)
    limits = ndtri(share) * np.sqrt(1 + scatter**2) + scatter * rng.normal(size=shape)
    mask = values < limits
    return np.where(mask, limits, values), mask


def simulate_median(n: int, share: float, scatter: float, campaigns: int, seed: int | list[int]) -> Roots:
    """Simulate the median of one group, without and with censored runs as they come.

    Parameters
    ----------
    n : int
        Runs [-].
    share : float
        Expected share of censored runs [-].
    scatter : float
        Scatter of the limits, in standard deviations of the values [-].
    campaigns : int
        Campaigns drawn [-].
    seed : int or list of int
        Seed of the random numbers.

    Returns
    -------
    Roots
        Of the true median, for the campaigns with two values seen. Right censoring is the mirror image.

    References
    ----------
    Own derivation: Monte Carlo.

    Examples
    --------
    >>> 0.93 < coverage(simulate_median(5, 0.4, 1.0, 2000, 1), 0.95).coverage < 0.98
    True
    """
    logs, mask = draw_censored((campaigns, n), share, scatter, np.random.default_rng(seed))
    hidden = mask.sum(axis=1)
    used = hidden <= n - 2
    low = np.array([censoring_shift(n, int(count)) for count in range(n + 1)])[hidden[used]]
    roots = median_roots(logs[used], mask[used])
    return Roots(roots, low, np.zeros_like(low), hidden[used] > 0, campaigns, n, 1)


def simulate_ratio(
    sizes: tuple[int, int],
    shares: tuple[float, float],
    scatter: float,
    campaigns: int,
    seed: int | list[int],
) -> Roots:
    """Simulate the ratio of the medians of two groups, without and with censored runs as they come.

    Parameters
    ----------
    sizes : tuple of int
        Runs of the subject and of the reference [-].
    shares : tuple of float
        Expected share of censored runs in each [-].
    scatter : float
        Scatter of the limits, in standard deviations of the values [-].
    campaigns : int
        Campaigns drawn [-].
    seed : int or list of int
        Seed of the random numbers.

    Returns
    -------
    Roots
        Of the true ratio, for the campaigns with a value seen in each group and two in one of them. Those
        without censored runs go by the pooled t.

    References
    ----------
    Own derivation: Monte Carlo.

    Examples
    --------
    >>> 0.93 < coverage(simulate_ratio((4, 4), (0.4, 0.2), 1.0, 2000, 1), 0.95).coverage < 0.98
    True
    """
    rng = np.random.default_rng(seed)
    draws = [draw_censored((campaigns, n), p, scatter, rng) for n, p in zip(sizes, shares, strict=True)]
    hidden = np.stack([mask.sum(axis=1) for _, mask in draws], axis=1)
    seen = np.array(sizes) - hidden
    used = (seen.min(axis=1) >= 1) & (seen.max(axis=1) >= 2)
    logs, mask = (np.concatenate(part, axis=1)[used] for part in zip(*draws, strict=True))
    groups = (np.arange(sum(sizes)) < sizes[0]).astype(np.int64)
    low, high = (
        np.array([censoring_shift(n, count) for count in range(n + 1)])[hidden[used, side]]
        for side, n in enumerate(sizes)
    )
    roots = ratio_roots(logs, mask, groups)
    return Roots(roots, low, high, hidden[used].sum(axis=1) > 0, campaigns, sum(sizes), 2)
