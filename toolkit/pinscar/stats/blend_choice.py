"""Which blends to choose: those to add to the tested ones, and those that no other beats in all respects."""

from __future__ import annotations

from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaln, stdtr

FloatArray = NDArray[np.float64]
Criterion = Literal["D", "I"]
START = 1e-6
"""What the first choice adds to the diagonal, as a share of its mean, so that it can begin from too few
blends. The exchange after it does without."""
MOST = 20000
"""Most candidates that are looked at."""
TRIED = 10
"""How many times that many are drawn, since the bounds of the balance turn some away."""
FINEST = 1_000_000
"""Most steps of one component."""
SEED = 16
WELL = 1e8
"""Condition number below which an inverse is trusted."""


def candidate_blends(lowest: ArrayLike, highest: ArrayLike, steps: ArrayLike, balance: int) -> FloatArray:
    """List the blends that bounds and steps allow; an even sample of them where there are more than `MOST`.

    Parameters
    ----------
    lowest, highest : array_like, shape (q,)
        Bounds of each share [1].
    steps : array_like, shape (q,)
        Step of each share, from its lowest on [1]; that of the balance is not used.
    balance : int
        Place of the component that fills up to 1.

    Returns
    -------
    ndarray, shape (n, q)
        The blends [1].

    Raises
    ------
    ValueError
        If there are none, or none was met in the sample.

    References
    ----------
    Own derivation: a grid. The sample draws each share by itself from its steps, with an even chance
    from 0 to 1 of staying at its lowest, so that blends of few components are among them; its seed is fixed.

    Examples
    --------
    >>> candidate_blends([0.9, 0.0], [1.0, 0.02], [0.01, 0.01], 0).round(6).tolist()
    [[1.0, 0.0], [0.99, 0.01], [0.98, 0.02]]
    """
    low, high, step = (np.asarray(one, dtype=np.float64) for one in (lowest, highest, steps))
    others = [i for i in range(low.size) if i != balance]
    if any(not step[i] > 0.0 for i in others):
        raise ValueError("each component but the balance needs a step above zero")
    counts = [int(np.floor((high[i] - low[i]) / step[i] + 1e-9)) + 1 for i in others]
    if any(count < 1 for count in counts):
        raise ValueError("a highest share is below its lowest")
    if max(counts, default=1) > FINEST:
        raise ValueError(f"a step is under a {FINEST}th of its range")
    places = _places(counts)
    found = np.zeros((places.shape[0], low.size))
    found[:, others] = low[others] + places * step[others]
    found[:, balance] = 1.0 - found.sum(axis=1)
    inside = (found[:, balance] >= low[balance] - 1e-9) & (found[:, balance] <= high[balance] + 1e-9)
    if not inside.any():
        raise ValueError("no blend lies within the bounds")
    return np.asarray(found[inside][:MOST], dtype=np.float64)


def grid_size(lowest: ArrayLike, highest: ArrayLike, steps: ArrayLike, balance: int) -> float:
    """Count the points of the grid that bounds and steps make, before the balance is looked at.

    Parameters
    ----------
    lowest, highest, steps : array_like, shape (q,)
        As :func:`candidate_blends` [1].
    balance : int
        Place of the component that fills up to 1.

    Returns
    -------
    float
        The count [-], which may be beyond any integer of the machine.

    References
    ----------
    Own derivation: a product.

    Examples
    --------
    >>> grid_size([0.9, 0.0, 0.0], [1.0, 0.02, 0.1], [0.01, 0.01, 0.05], 0)
    9.0
    """
    low, high, step = (np.asarray(one, dtype=np.float64) for one in (lowest, highest, steps))
    others = [i for i in range(low.size) if i != balance]
    return float(np.prod(np.floor((high[others] - low[others]) / step[others] + 1e-9) + 1.0))


def _places(counts: list[int]) -> NDArray[np.int64]:
    """List the steps of each component, all of them or an even sample, each once."""
    if np.prod([float(count) for count in counts]) <= MOST:
        return np.array(list(product(*(range(count) for count in counts))), dtype=np.int64)
    rng = np.random.default_rng(SEED)
    sizes = np.array(counts, dtype=np.int64)
    drawn = rng.integers(0, sizes, (TRIED * MOST, sizes.size))
    # blends of many components at once leave little to the balance, and few are made at the bench
    share = rng.random((TRIED * MOST, 1))
    drawn[rng.random(drawn.shape) < share] = 0
    first = np.unique(drawn, axis=0, return_index=True)[1]
    return np.asarray(drawn[np.sort(first)], dtype=np.int64)


def d_efficiency(design: ArrayLike, best: ArrayLike | None = None) -> float:
    r"""Compare a design with the best one of its kind.

    .. math:: \left( \frac{|X^T X| / n^p}{|X_0^T X_0| / n_0^p} \right)^{1/p}

    Parameters
    ----------
    design : array_like, shape (n, p)
        The design [1].
    best : array_like, shape (n0, p), optional
        The design that it is held against [any one unit]; an orthogonal one with entries of size 1 where not
        given, for which the denominator is 1.

    Returns
    -------
    float
        The efficiency [1].

    References
    ----------
    NIST/SEMATECH e-Handbook, 5.5.2.1 (D-efficiency).

    Examples
    --------
    >>> factorial = np.array([[1, a, b] for a in (-1, 1) for b in (-1, 1)])
    >>> round(d_efficiency(factorial), 12)
    1.0
    """
    x = np.asarray(design, dtype=np.float64)
    own = _log_det(x.T @ x) - x.shape[1] * np.log(x.shape[0])
    other = 0.0
    if best is not None:
        b = np.asarray(best, dtype=np.float64)
        other = _log_det(b.T @ b) - b.shape[1] * np.log(b.shape[0])
    return float(np.exp((own - other) / x.shape[1]))


def augment(
    existing: ArrayLike,
    candidates: ArrayLike,
    count: int,
    criterion: Criterion = "D",
    *,
    repeats: bool = False,
) -> list[int]:
    r"""Choose the candidates that make the design most informative together with what is there.

    D: the largest :math:`|X^T X|`, the smallest joint uncertainty of the coefficients. I: the smallest mean
    variance of prediction over the candidates, :math:`\mathrm{tr}[(X^T X)^{-1} M]` with their mean square M.
    One after the other is chosen first; then each is exchanged for any other candidate as long as that helps.

    Parameters
    ----------
    existing : array_like, shape (n, p)
        Rows of what was tested [1]; n may be 0.
    candidates : array_like, shape (m, p)
        Rows of the candidates [1].
    count : int
        How many to choose.
    criterion : {"D", "I"}
        What is made small.
    repeats : bool
        Whether a candidate may be chosen twice.

    Returns
    -------
    list of int
        Places of the candidates chosen, the most telling first.

    Raises
    ------
    ValueError
        If there are fewer candidates than wanted.

    References
    ----------
    Fedorov, Theory of Optimal Experiments, 1972, chapter 3 (exchange); NIST/SEMATECH e-Handbook, 5.5.2.1. Own
    code of a few dozen lines, since no kept library augments what is there within bounds and steps.

    Examples
    --------
    >>> levels = np.array([[1.0, x] for x in (-1.0, -0.5, 0.0, 0.5, 1.0)])
    >>> augment(np.zeros((0, 2)), levels, 2)
    [0, 4]
    """
    old, rows = np.asarray(existing, dtype=np.float64), np.asarray(candidates, dtype=np.float64)
    if count > rows.shape[0] and not repeats:
        raise ValueError(f"{count} blends are wanted and the bounds allow {rows.shape[0]}")
    moments = rows.T @ rows / rows.shape[0]
    base = old.T @ old if old.size else np.zeros((rows.shape[1], rows.shape[1]))
    lift = START * float(np.trace(base) + np.trace(moments)) / rows.shape[1] * np.eye(rows.shape[1])
    chosen: list[int] = []
    for _ in range(count):
        free = [i for i in range(rows.shape[0]) if repeats or i not in chosen]
        whole = base + rows[chosen].T @ rows[chosen] + lift
        chosen.append(free[int(np.argmax(_gains(whole, rows[free], criterion, moments)))])
    return _exchanged(base, rows, chosen, criterion, moments, repeats)


def _exchanged(
    base: FloatArray,
    rows: FloatArray,
    chosen: list[int],
    criterion: Criterion,
    moments: FloatArray,
    repeats: bool,
) -> list[int]:
    for _ in range(100):
        moved = False
        for place in range(len(chosen)):
            others = chosen[:place] + chosen[place + 1 :]
            kept = base + rows[others].T @ rows[others]
            free = [i for i in range(rows.shape[0]) if repeats or i not in others]
            worths = _worths(kept, rows[free], criterion, moments)
            best = free[int(np.argmax(worths))]
            own = _worth(kept + np.outer(rows[chosen[place]], rows[chosen[place]]), criterion, moments)
            if worths.max() > own + 1e-10 * max(abs(own), 1.0):
                chosen[place], moved = best, True
        if not moved:
            break
    return chosen


def _gains(whole: FloatArray, rows: FloatArray, criterion: Criterion, moments: FloatArray) -> FloatArray:
    """Compute what each row adds to the criterion, by the update of an inverse (Sherman and Morrison)."""
    inverse = np.linalg.inv(whole)
    lifted = rows @ inverse
    variance = np.einsum("ij,ij->i", lifted, rows)
    if criterion == "D":
        return np.asarray(variance, dtype=np.float64)
    return np.asarray(np.einsum("ij,jk,ik->i", lifted, moments, lifted) / (1.0 + variance), dtype=np.float64)


def _worths(kept: FloatArray, rows: FloatArray, criterion: Criterion, moments: FloatArray) -> FloatArray:
    """Compute the criterion with each row added: by an update where what is kept can be inverted."""
    if np.linalg.cond(kept) > WELL:
        return np.array([_worth(kept + np.outer(row, row), criterion, moments) for row in rows])
    gains = _gains(kept, rows, criterion, moments)
    own = _worth(kept, criterion, moments)
    return np.asarray(own + (np.log1p(gains) if criterion == "D" else gains), dtype=np.float64)


def _worth(information: FloatArray, criterion: Criterion, moments: FloatArray) -> float:
    value = _log_det(information)
    if criterion == "D" or not np.isfinite(value):
        return value
    return -float(np.trace(np.linalg.solve(information, moments)))


def _log_det(matrix: FloatArray) -> float:
    sign, value = np.linalg.slogdet(matrix)
    return float(value) if sign > 0 else -float("inf")


def expected_improvement(mean: ArrayLike, standard_error: ArrayLike, best: float, df: float) -> FloatArray:
    r"""Give how much a blend is expected to beat the best so far, counting losses as nothing.

    .. math:: E = s\left[ z\, T_\nu(z) + \frac{\nu + z^2}{\nu - 1} t_\nu(z) \right], \quad z = (\mu - f)/s

    with T and t the distribution and density of Student's t: the error's spread is itself estimated. It goes
    over into the normal form for many degrees of freedom.

    Parameters
    ----------
    mean, standard_error : array_like
        Prediction and its standard error, of a response of which more is better [any unit].
    best : float
        The best so far [the same unit].
    df : float
        Degrees of freedom of the standard error, more than 1 [-].

    Returns
    -------
    ndarray
        Expected improvement [the same unit].

    Raises
    ------
    ValueError
        If there is at most one degree of freedom: then the mean does not exist.

    References
    ----------
    Jones, Schonlau and Welch, "Efficient global optimization of expensive black-box functions", J. Global
    Optimization 13 (1998) 455-492, equation (15), for the normal; the t form by the same integral.

    Examples
    --------
    >>> float(expected_improvement(0.0, 1.0, 0.0, 1e9).round(4))
    0.3989
    """
    if not df > 1.0:
        raise ValueError("expected improvement needs more than one degree of freedom")
    mu, s = np.asarray(mean, dtype=np.float64), np.asarray(standard_error, dtype=np.float64)
    safe = np.where(s > 0.0, s, 1.0)
    z = (mu - best) / safe
    shape = gammaln((df + 1.0) / 2.0) - gammaln(df / 2.0) - 0.5 * np.log(df * np.pi)
    density = np.exp(shape - 0.5 * (df + 1.0) * np.log1p(z**2 / df))
    grown = (df + z**2) / (df - 1.0) * density
    return np.where(s > 0.0, s * (z * stdtr(df, z) + grown), np.maximum(mu - best, 0.0))


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
