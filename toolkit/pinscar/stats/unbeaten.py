"""Blends that no other beats in all respects, and how sure that is."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
PAIRS = 20_000_000
"""Comparisons that are made at once."""


def unbeaten(values: ArrayLike, higher_is_better: ArrayLike) -> BoolArray:
    """Tell which blends no other beats: none is as good in all respects and better in one.

    Parameters
    ----------
    values : array_like, shape (..., b, r)
        Value of each blend in each respect [any unit].
    higher_is_better : array_like of bool, shape (r,)
        Which way is better in each respect.

    Returns
    -------
    ndarray of bool, shape (..., b)
        Whether no other beats it.

    References
    ----------
    Pareto's order, as in Miettinen, Nonlinear Multiobjective Optimization, 1999, section 2.2.

    Examples
    --------
    >>> unbeaten([[1.0, 5.0], [2.0, 4.0], [1.0, 4.0]], [True, True]).tolist()
    [True, True, False]
    """
    x = np.asarray(values, dtype=np.float64) * np.where(np.asarray(higher_is_better, dtype=bool), 1.0, -1.0)
    other, own = x[..., :, None, :], x[..., None, :, :]
    beats = np.all(other >= own, axis=-1) & np.any(other > own, axis=-1)
    return np.asarray(~np.any(beats, axis=-2))


def chance_unbeaten(
    means: ArrayLike,
    standard_errors: ArrayLike,
    correlation: ArrayLike,
    df: ArrayLike,
    higher_is_better: ArrayLike,
    seed: int,
    draws: int = 4000,
) -> FloatArray:
    r"""Estimate by parametric bootstrap how often each blend is unbeaten.

    Each draw takes every blend's true values as :math:`m + s\,\sqrt{\nu/\chi^2_\nu}\, z` with z normal,
    correlated between the respects of one blend, and one :math:`\chi^2` a respect.

    Parameters
    ----------
    means, standard_errors : array_like, shape (b, r)
        Estimates and their standard errors [any unit, each respect its own]; 0 where a value is known, such
        as a price.
    correlation : array_like, shape (r, r)
        Correlation of the errors of one blend [1].
    df : array_like, shape (r,)
        Degrees of freedom of each respect's standard errors [-]; infinite where known.
    higher_is_better : array_like of bool, shape (r,)
        Which way is better in each respect.
    seed : int
        Seed of the draws.
    draws : int
        How many.

    Returns
    -------
    ndarray, shape (b,)
        Share of the draws in which no other blend beats it [1].

    References
    ----------
    Efron and Tibshirani, An Introduction to the Bootstrap, 1993, section 6.5 (parametric bootstrap).

    Examples
    --------
    >>> sure = chance_unbeaten([[1.0, 5.0], [2.0, 4.0], [0.0, 0.0]], np.full((3, 2), 1e-6), np.eye(2),
    ...                        [5, 5], [True, True], seed=1)
    >>> sure.tolist()
    [1.0, 1.0, 0.0]
    """
    m, s = np.asarray(means, dtype=np.float64), np.asarray(standard_errors, dtype=np.float64)
    rng = np.random.default_rng(seed)
    values, vectors = np.linalg.eigh(np.asarray(correlation, dtype=np.float64))
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    z = rng.standard_normal((draws, *m.shape)) @ root.T
    nu = np.asarray(df, dtype=np.float64)
    known = ~np.isfinite(nu)
    chi = rng.chisquare(np.where(known, 1.0, nu), (draws, nu.size))
    wide = np.where(known, 1.0, np.sqrt(np.where(known, 1.0, nu) / chi))
    drawn = m + s * wide[:, None, :] * z
    # every blend against every other takes memory: so many draws at a time
    at_once = max(1, PAIRS // (m.shape[0] ** 2 * m.shape[1]))
    total = np.zeros(m.shape[0])
    for first in range(0, draws, at_once):
        total += unbeaten(drawn[first : first + at_once], higher_is_better).sum(axis=0)
    return np.asarray(total / draws, dtype=np.float64)
