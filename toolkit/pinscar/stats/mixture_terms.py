"""Terms of mixture models: Scheffé, on shares or pseudo-components, and which can be told apart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linprog

FloatArray = NDArray[np.float64]
Term = tuple[int, ...]
NARROW = 0.5
"""Free part of the mixture below which pseudo-components are used [1]."""
ZERO = 1e-9


def scheffe_terms(components: int, order: int) -> tuple[Term, ...]:
    r"""List the terms of Scheffé's polynomial.

    .. math:: \eta = \sum_i \beta_i x_i + \sum_{i<j} \beta_{ij} x_i x_j, \quad \sum_i x_i = 1

    The constraint of the sum leaves no constant and no squares.

    Parameters
    ----------
    components : int
        Number of components.
    order : int
        1 for the linear, 2 for the quadratic model.

    Returns
    -------
    tuple of tuple of int
        Components of each term.

    References
    ----------
    Scheffé, "Experiments with mixtures", J. R. Stat. Soc. B 20 (1958) 344-360; NIST/SEMATECH e-Handbook of
    Statistical Methods, 5.5.4.2.

    Examples
    --------
    >>> scheffe_terms(3, 2)
    ((0,), (1,), (2,), (0, 1), (0, 2), (1, 2))
    """
    linear: list[Term] = [(i,) for i in range(components)]
    return tuple(linear + [pair for pair in combinations(range(components), 2) if order == 2])


def scheffe_design(shares: ArrayLike, terms: Sequence[Term]) -> FloatArray:
    """Write blends as rows of a model's design.

    Parameters
    ----------
    shares : array_like, shape (n, q)
        Shares, or pseudo-components, with sum 1 [1].
    terms : sequence of tuple of int
        The model's terms.

    Returns
    -------
    ndarray, shape (n, p)
        Products of the shares of each term [1].

    References
    ----------
    As :func:`scheffe_terms`.

    Examples
    --------
    >>> scheffe_design([[0.5, 0.5, 0.0]], scheffe_terms(3, 2)).tolist()
    [[0.5, 0.5, 0.0, 0.25, 0.0, 0.0]]
    """
    x = np.atleast_2d(np.asarray(shares, dtype=np.float64))
    return np.column_stack([np.prod(x[:, list(term)], axis=1) for term in terms])


def pseudo_components(shares: ArrayLike, lowest: ArrayLike) -> FloatArray:
    r"""Stretch a narrow range of mixtures to the whole triangle.

    .. math:: x'_i = \frac{x_i - L_i}{1 - \sum_j L_j}

    Parameters
    ----------
    shares : array_like, shape (n, q)
        Shares with sum 1 [1].
    lowest : array_like, shape (q,)
        Least share of each component [1]; their sum is below 1.

    Returns
    -------
    ndarray, shape (n, q)
        Pseudo-components with sum 1 [1].

    Raises
    ------
    ValueError
        If the least shares leave nothing free.

    References
    ----------
    Kurotori, "Experiments with mixtures of components having lower bounds", Industrial Quality Control 22
    (1966) 592-596; NIST/SEMATECH e-Handbook, 5.5.4.4.

    Examples
    --------
    >>> pseudo_components([[0.90, 0.06, 0.04]], [0.9, 0.0, 0.0]).round(3).tolist()
    [[0.0, 0.6, 0.4]]
    """
    low = np.asarray(lowest, dtype=np.float64)
    free = 1.0 - float(low.sum())
    if not free > ZERO:
        raise ValueError("the least shares add up to all of the mixture")
    return np.asarray((np.atleast_2d(np.asarray(shares, dtype=np.float64)) - low) / free, dtype=np.float64)


def lowest_of(shares: ArrayLike) -> FloatArray:
    """Choose the least shares that pseudo-components start from.

    Parameters
    ----------
    shares : array_like, shape (n, q)
        Shares of the blends tested [1].

    Returns
    -------
    ndarray, shape (q,)
        The least share of each component where they leave under half of the mixture free, else zeros [1].

    References
    ----------
    Cornell, Experiments with Mixtures, 3rd ed. 2002, section 3.3, recommends pseudo-components where the
    range is narrow; the half is an own choice.

    Examples
    --------
    >>> lowest_of([[0.98, 0.02, 0.0], [0.94, 0.02, 0.04]]).tolist()
    [0.94, 0.02, 0.0]
    >>> lowest_of([[1.0, 0.0], [0.0, 1.0]]).tolist()
    [0.0, 0.0]
    """
    x = np.atleast_2d(np.asarray(shares, dtype=np.float64))
    low = x.min(axis=0)
    free = 1.0 - float(low.sum())
    return low if ZERO < free < NARROW else np.zeros(x.shape[1])


def estimable(design: FloatArray, names: Sequence[str]) -> tuple[list[int], list[str]]:
    """Sort out the terms that the blends cannot tell from those before them.

    Parameters
    ----------
    design : ndarray, shape (n, p)
        The design [1].
    names : sequence of str
        Name of each term.

    Returns
    -------
    tuple of list of int and list of str
        Places of the terms kept, and a clause for each of the others: what it moves with.

    References
    ----------
    Own derivation: a column is kept where it raises the rank.

    Examples
    --------
    >>> estimable(np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 2.0]]), ["A", "B", "C"])
    ([0, 1], ['C moves with B: the blends cannot tell the two apart'])
    """
    kept: list[int] = []
    told: list[str] = []
    for place in range(design.shape[1]):
        column = design[:, place]
        size = float(np.linalg.norm(column))
        if size < ZERO:
            told.append(f"{names[place]} is in no blend, or never beside the other")
            continue
        weights: FloatArray = np.zeros(0)
        left = column
        if kept:
            weights = np.asarray(np.linalg.lstsq(design[:, kept], column, rcond=None)[0], np.float64)
            left = column - design[:, kept] @ weights
        if float(np.linalg.norm(left)) > 1e-7 * size:
            kept.append(place)
            continue
        partners = [names[kept[i]] for i in np.flatnonzero(np.abs(weights) > 1e-6)]
        if len(partners) == 1:
            told.append(f"{names[place]} moves with {partners[0]}: the blends cannot tell the two apart")
        else:
            told.append(f"{names[place]} is a mix of {', '.join(partners)} in these blends")
    return kept, told


def is_inside(shares: ArrayLike, tested: ArrayLike) -> bool:
    """Tell whether a blend lies among those tested: whether it can be mixed from them.

    Parameters
    ----------
    shares : array_like, shape (q,)
        The blend [1].
    tested : array_like, shape (n, q)
        The blends tested [1].

    Returns
    -------
    bool
        Whether it is in their convex hull.

    References
    ----------
    Own derivation: a point of the hull is a convex combination, which a linear program finds.

    Examples
    --------
    >>> corners = [[1.0, 0.0], [0.4, 0.6]]
    >>> is_inside([0.7, 0.3], corners), is_inside([0.3, 0.7], corners)
    (True, False)
    """
    x = np.asarray(tested, dtype=np.float64)
    wanted = np.append(np.asarray(shares, dtype=np.float64), 1.0)
    system = np.vstack([x.T, np.ones(x.shape[0])])
    # within a hundred-thousandth of the mixture, since shares are rounded
    slack = 1e-5
    both = np.vstack([system, -system])
    found = linprog(np.zeros(x.shape[0]), A_ub=both, b_ub=np.append(wanted, -wanted) + slack, method="highs")
    return bool(found.status == 0)
