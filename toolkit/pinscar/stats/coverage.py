"""Combined standard uncertainty, its effective degrees of freedom and the coverage factor (GUM)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri, stdtrit


@dataclass(frozen=True, slots=True)
class Combined:
    """A combined standard uncertainty.

    Parameters
    ----------
    standard_uncertainty : float
        Combined standard uncertainty, in the unit of the result.
    degrees_of_freedom : float or None
        Effective degrees of freedom (infinite where every input is known that well); None where the
        Welch-Satterthwaite formula does not hold, because inputs of finite degrees of freedom are correlated.
    """

    standard_uncertainty: float
    degrees_of_freedom: float | None


def combine(
    sensitivities: ArrayLike,
    standard_uncertainties: ArrayLike,
    correlation: ArrayLike | None = None,
    degrees_of_freedom: ArrayLike | None = None,
) -> Combined:
    r"""Combine the standard uncertainties of the inputs into that of the result.

    .. math:: u_c^2 = \sum_i \sum_j c_i u_i\, r_{ij}\, c_j u_j

    Parameters
    ----------
    sensitivities : array_like
        Sensitivity coefficients c_i, the derivative of the result to each input [result/input], shape (n,).
    standard_uncertainties : array_like
        Standard uncertainties u_i of the inputs [input], shape (n,).
    correlation : array_like, optional
        Correlation coefficients r_ij of the inputs [-], shape (n, n); independent inputs where left out.
    degrees_of_freedom : array_like, optional
        Degrees of freedom of each u_i [-], shape (n,), infinite allowed; all infinite where left out.

    Returns
    -------
    Combined
        Combined standard uncertainty and effective degrees of freedom (Welch-Satterthwaite).

    Raises
    ------
    ValueError
        Where shapes disagree, an uncertainty is negative or the correlations are no correlation matrix.

    References
    ----------
    JCGM 100:2008 (GUM), equations (13), (16) and (G.2b).

    Examples
    --------
    The end gauge of GUM H.1 in nanometres: the printed answer is 32 nm.

    >>> u = combine([1, 1, 1, 1, 1, 1], [25, 5.8, 3.9, 6.7, 2.9, 16.6],
    ...             degrees_of_freedom=[18, 24, 5, 8, 50, 2])
    >>> round(u.standard_uncertainty), round(u.degrees_of_freedom, 1)
    (32, 16.8)
    """
    contributions = _contributions(sensitivities, standard_uncertainties)
    r = _correlation_matrix(correlation, contributions.size)
    variance = float(contributions @ r @ contributions)
    combined = float(np.sqrt(max(variance, 0.0)))
    dof = (
        np.full(contributions.size, np.inf)
        if degrees_of_freedom is None
        else np.asarray(degrees_of_freedom, dtype=np.float64)
    )
    if dof.shape != contributions.shape or bool(np.any(dof <= 0.0)):
        raise ValueError("degrees_of_freedom must hold one positive number for each input")
    linked = np.any((r != 0.0) & ~np.eye(contributions.size, dtype=bool), axis=1)
    if bool(np.any(linked & np.isfinite(dof) & (contributions != 0.0))):
        return Combined(combined, None)
    return Combined(combined, effective_degrees_of_freedom(combined, contributions, dof))


def effective_degrees_of_freedom(
    combined_uncertainty: float, contributions: ArrayLike, degrees_of_freedom: ArrayLike
) -> float:
    r"""Effective degrees of freedom of a combined standard uncertainty, by Welch and Satterthwaite.

    .. math:: \nu_\mathrm{eff} = u_c^4 \Big/ \sum_i (c_i u_i)^4 / \nu_i

    Parameters
    ----------
    combined_uncertainty : float
        Combined standard uncertainty u_c [result].
    contributions : array_like
        Contributions c_i u_i of independent inputs [result], shape (n,).
    degrees_of_freedom : array_like
        Degrees of freedom of each input's uncertainty [-], shape (n,), infinite allowed.

    Returns
    -------
    float
        Effective degrees of freedom, infinite where no input has finite ones.

    References
    ----------
    JCGM 100:2008 (GUM), equation (G.2b).

    Examples
    --------
    >>> round(effective_degrees_of_freedom(5.0, [3.0, 4.0], [10.0, float("inf")]), 2)
    77.16
    """
    fourth = np.asarray(contributions, dtype=np.float64) ** 4
    denominator = float(np.sum(fourth / np.asarray(degrees_of_freedom, dtype=np.float64)))
    return float("inf") if denominator == 0.0 else combined_uncertainty**4 / denominator


def coverage_factor(degrees_of_freedom: float, confidence: float) -> float:
    """Coverage factor k of an expanded uncertainty U = k u_c: the two-sided t quantile.

    Degrees of freedom that are no whole number are cut to the next lower one, which errs on the wide side.

    Parameters
    ----------
    degrees_of_freedom : float
        Effective degrees of freedom [-], at least 1, infinite allowed (normal quantile).
    confidence : float
        Level of confidence [-], between 0 and 1.

    Returns
    -------
    float
        Coverage factor [-].

    Raises
    ------
    ValueError
        Where the degrees of freedom are under 1 or the confidence is not between 0 and 1.

    References
    ----------
    JCGM 100:2008 (GUM), G.3.2 and G.6.4 step 3.

    Examples
    --------
    GUM H.1.6 prints t99(16) = 2.92.

    >>> round(coverage_factor(16.7, 0.99), 2)
    2.92
    """
    if not degrees_of_freedom >= 1.0:
        raise ValueError(f"degrees_of_freedom is {degrees_of_freedom}, it must be at least 1")
    return t_factor(float(np.floor(degrees_of_freedom)), confidence)


def t_factor(degrees_of_freedom: float, confidence: float) -> float:
    """Two-sided t quantile for a level of confidence, the normal one for infinite degrees of freedom.

    Parameters
    ----------
    degrees_of_freedom : float
        Degrees of freedom [-], positive, fractions and infinity allowed.
    confidence : float
        Two-sided level of confidence [-], between 0 and 1.

    Returns
    -------
    float
        Quantile [-].

    Raises
    ------
    ValueError
        Where the degrees of freedom are not positive or the confidence is not between 0 and 1.

    References
    ----------
    JCGM 100:2008 (GUM), table G.2, which prints 2.23 for 10 degrees of freedom and 95 %.

    Examples
    --------
    >>> round(t_factor(10, 0.95), 2), round(t_factor(float("inf"), 0.95), 2)
    (2.23, 1.96)
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence}, it must lie between 0 and 1")
    if not degrees_of_freedom > 0.0:
        raise ValueError(f"degrees_of_freedom is {degrees_of_freedom}, it must be positive")
    upper = 0.5 + confidence / 2.0
    return float(ndtri(upper) if np.isinf(degrees_of_freedom) else stdtrit(degrees_of_freedom, upper))


def _contributions(sensitivities: ArrayLike, standard_uncertainties: ArrayLike) -> NDArray[np.float64]:
    c = np.asarray(sensitivities, dtype=np.float64)
    u = np.asarray(standard_uncertainties, dtype=np.float64)
    if c.ndim != 1 or c.shape != u.shape:
        raise ValueError(f"sensitivities {c.shape} and standard_uncertainties {u.shape} differ in shape")
    if not bool(np.all(u >= 0.0)):
        raise ValueError("standard_uncertainties must be zero or more")
    return c * u


def _correlation_matrix(correlation: ArrayLike | None, size: int) -> NDArray[np.float64]:
    if correlation is None:
        return np.eye(size)
    r = np.asarray(correlation, dtype=np.float64)
    if r.shape != (size, size):
        raise ValueError(f"correlation has shape {r.shape}, it must be ({size}, {size})")
    if not (np.allclose(r, r.T) and np.allclose(np.diag(r), 1.0) and bool(np.all(np.abs(r) <= 1.0 + 1e-12))):
        raise ValueError("correlation must be symmetric with ones on its diagonal and entries from -1 to 1")
    return r
