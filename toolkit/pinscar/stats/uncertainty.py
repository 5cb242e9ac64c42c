"""Reading and load uncertainty carried through to scar area, pressure and wear, by the GUM.

All results are relative standard uncertainties: on the log scale, where the runs are analysed, they stand
directly beside the between-run standard deviation. A budget has one row per input, with its contribution and
share.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri, stdtrit

# A step of a thousandth leaves a fourth-power error near 1e-12 and lifts rounding noise only a thousandfold.
RELATIVE_STEP = 1e-3


def derivative(
    function: Callable[[NDArray[np.float64]], ArrayLike], at: ArrayLike, step: ArrayLike | None = None
) -> NDArray[np.float64]:
    r"""Differentiate an elementwise function by the five-point central difference.

    .. math:: f'(x) \approx \frac{f(x-2h) - 8 f(x-h) + 8 f(x+h) - f(x+2h)}{12 h}

    Parameters
    ----------
    function : callable
        Takes an array and returns an array of its shape, element by element.
    at : array_like
        Where to differentiate [x], any shape.
    step : array_like, optional
        Step h [x], positive, broadcast to `at`; a thousandth of each value's magnitude where left out.

    Returns
    -------
    ndarray
        Derivative [f/x], the shape of `at`.

    Raises
    ------
    ValueError
        Where a value is zero and no step is given.

    References
    ----------
    M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, equation 25.3.6.

    Examples
    --------
    >>> derivative(lambda x: x**4, [2.0]).round(9)
    array([32.])
    """
    x = np.asarray(at, dtype=np.float64)
    h = np.abs(x) * RELATIVE_STEP if step is None else np.broadcast_to(np.asarray(step, np.float64), x.shape)
    if not bool(np.all(h > 0.0)):
        raise ValueError("step must be positive; give one where a value is zero")
    far = np.asarray(function(x - 2.0 * h), np.float64) - np.asarray(function(x + 2.0 * h), np.float64)
    near = np.asarray(function(x + h), np.float64) - np.asarray(function(x - h), np.float64)
    return np.asarray((far + 8.0 * near) / (12.0 * h), dtype=np.float64)


def _partial(
    function: Callable[[NDArray[np.float64]], float], x: NDArray[np.float64], index: int, step: float
) -> float:
    def along(values: NDArray[np.float64]) -> float:
        moved = x.copy()
        moved[index] = float(values)
        return float(function(moved))

    return float(derivative(along, x[index], step))


ArrayFunction = Callable[[NDArray[np.float64]], ArrayLike]


def relative_area_uncertainty(
    length: ArrayLike,
    width: ArrayLike,
    reading_uncertainty: ArrayLike,
    width_of_length: ArrayFunction | None = None,
    width_implied: ArrayLike = False,
) -> NDArray[np.float64]:
    r"""Relative standard uncertainty of the scar area A = (pi/4) L W.

    .. math:: (u_A/A)^2 = (u/L)^2 + (u/W)^2

    for two axes read independently. Where the width was not read but implied by the geometry from the length,
    it carries no error of its own and moves with the length:

    .. math:: u_A/A = \frac{u}{L} \left(1 + \frac{L}{W} \frac{dW}{dL}\right)

    Parameters
    ----------
    length : array_like
        Scar length L [m], shape (n,).
    width : array_like
        Scar width W [m], shape (n,).
    reading_uncertainty : array_like
        Standard uncertainty u of one reading of length or width [m], broadcast.
    width_of_length : callable, optional
        Implied width [m] of a length [m], elementwise; needed where a width is implied.
    width_implied : array_like of bool
        Where the width was implied by the length instead of read [-], broadcast.

    Returns
    -------
    ndarray
        Relative standard uncertainty [-], shape (n,).

    Raises
    ------
    ValueError
        Where a width is implied and no `width_of_length` is given, or a length or width is not positive.

    References
    ----------
    JCGM 100:2008 (GUM), equations (12) and (16); the implied width is own derivation.

    Examples
    --------
    >>> float(relative_area_uncertainty(3e-3, 4e-3, 0.03e-3).round(9))
    0.0125
    >>> float(relative_area_uncertainty(3e-3, 4e-3, 0.03e-3, lambda l: l * 4 / 3, True).round(9))
    0.02
    """
    first, second, reading = np.broadcast_arrays(*(_positive(v, n) for v, n in (
        (length, "length"), (width, "width"), (reading_uncertainty, "reading_uncertainty"))))  # fmt: skip
    read = np.hypot(reading / first, reading / second)
    implied = np.broadcast_to(np.asarray(width_implied, dtype=bool), first.shape)
    if not bool(np.any(implied)):
        return np.asarray(read, dtype=np.float64)
    if width_of_length is None:
        raise ValueError("width_of_length is missing: it is needed where a width is implied by the length")
    exponent = 1.0 + first / second * derivative(width_of_length, first)
    return np.asarray(np.where(implied, np.abs(exponent) * reading / first, read), dtype=np.float64)


def relative_pressure_uncertainty(
    length: ArrayLike,
    width: ArrayLike,
    load_uncertainty: ArrayLike,
    reading_uncertainty: ArrayLike,
    width_of_length: ArrayFunction | None = None,
    width_implied: ArrayLike = False,
) -> NDArray[np.float64]:
    r"""Relative standard uncertainty of the mean scar pressure p = F/A, and so of the film pressure.

    .. math:: (u_p/p)^2 = (u_F/F)^2 + (u_A/A)^2

    Parameters
    ----------
    length : array_like
        Scar length [m], shape (n,).
    width : array_like
        Scar width [m], shape (n,).
    load_uncertainty : array_like
        Relative standard uncertainty of the load u_F/F [-], broadcast.
    reading_uncertainty : array_like
        Standard uncertainty of one reading of length or width [m], broadcast.
    width_of_length : callable, optional
        Implied width [m] of a length [m], elementwise; needed where a width is implied.
    width_implied : array_like of bool
        Where the width was implied by the length instead of read [-], broadcast.

    Returns
    -------
    ndarray
        Relative standard uncertainty [-], shape (n,).

    Raises
    ------
    ValueError
        As for the area, or where the load uncertainty is negative.

    References
    ----------
    JCGM 100:2008 (GUM), equation (12).

    Examples
    --------
    >>> float(relative_pressure_uncertainty(3e-3, 4e-3, 0.03, 0.096e-3).round(9))
    0.05
    """
    area = relative_area_uncertainty(length, width, reading_uncertainty, width_of_length, width_implied)
    return np.asarray(np.hypot(area, _not_negative(load_uncertainty, "load_uncertainty")), dtype=np.float64)


def relative_volume_uncertainty(
    length: ArrayLike, reading_uncertainty: ArrayLike, volume_of_length: ArrayFunction
) -> NDArray[np.float64]:
    r"""Relative standard uncertainty of the wear volume V(L), from the reading of the length.

    .. math:: \frac{u_V}{V} = \left|\frac{dV}{dL}\right| \frac{u}{V}

    Parameters
    ----------
    length : array_like
        Scar length L [m], shape (n,).
    reading_uncertainty : array_like
        Standard uncertainty u of one reading of the length [m], broadcast.
    volume_of_length : callable
        Wear volume [m^3] of a length [m], elementwise; differentiated numerically.

    Returns
    -------
    ndarray
        Relative standard uncertainty [-], shape (n,).

    Raises
    ------
    ValueError
        Where a length or a reading uncertainty is not positive.

    References
    ----------
    JCGM 100:2008 (GUM), equation (11b), with the derivative by differences (5.1.3, note 2).

    Examples
    --------
    A volume that grows as L^4 has four times the relative uncertainty of the length.

    >>> float(relative_volume_uncertainty(2e-3, 0.02e-3, lambda length: length**4).round(9))
    0.04
    """
    at, reading = np.broadcast_arrays(
        _positive(length, "length"), _positive(reading_uncertainty, "reading_uncertainty")
    )
    volume = np.asarray(volume_of_length(at), dtype=np.float64)
    return np.asarray(np.abs(derivative(volume_of_length, at)) * reading / volume, dtype=np.float64)


def relative_wear_coefficient_uncertainty(
    length: ArrayLike,
    load_uncertainty: ArrayLike,
    reading_uncertainty: ArrayLike,
    volume_of_length: ArrayFunction,
    distance_uncertainty: ArrayLike = 0.0,
) -> NDArray[np.float64]:
    r"""Relative standard uncertainty of the wear coefficient k = V/(F s).

    .. math:: (u_k/k)^2 = (u_V/V)^2 + (u_F/F)^2 + (u_s/s)^2

    Parameters
    ----------
    length : array_like
        Scar length [m], shape (n,).
    load_uncertainty : array_like
        Relative standard uncertainty of the load [-], broadcast.
    reading_uncertainty : array_like
        Standard uncertainty of one reading of the length [m], broadcast.
    volume_of_length : callable
        Wear volume [m^3] of a length [m], elementwise; differentiated numerically.
    distance_uncertainty : array_like
        Relative standard uncertainty of the sliding distance (speed and time) [-], broadcast.

    Returns
    -------
    ndarray
        Relative standard uncertainty [-], shape (n,).

    Raises
    ------
    ValueError
        Where a length or reading uncertainty is not positive, or another uncertainty is negative.

    References
    ----------
    JCGM 100:2008 (GUM), equation (12).

    Examples
    --------
    >>> float(relative_wear_coefficient_uncertainty(2e-3, 0.03, 0.02e-3, lambda length: length**4).round(9))
    0.05
    """
    volume = relative_volume_uncertainty(length, reading_uncertainty, volume_of_length)
    load = _not_negative(load_uncertainty, "load_uncertainty")
    distance = _not_negative(distance_uncertainty, "distance_uncertainty")
    return np.asarray(np.sqrt(volume**2 + load**2 + distance**2), dtype=np.float64)


def _positive(values: ArrayLike, name: str) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=np.float64)
    # A run without a scar reading is NaN and stays NaN; only a number that cannot be is refused.
    if bool(np.any(array <= 0.0)):
        raise ValueError(f"{name} must be positive, found {float(np.nanmin(array))}")
    return array


def _not_negative(values: ArrayLike, name: str) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=np.float64)
    if bool(np.any(array < 0.0)):
        raise ValueError(f"{name} must be zero or more, found {float(np.nanmin(array))}")
    return array


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
