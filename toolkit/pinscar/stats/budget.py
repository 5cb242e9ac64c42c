"""Uncertainty budgets: one row an input, with what it contributes and its share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.coverage import combine
from pinscar.stats.derivative import RELATIVE_STEP, gradient


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One input of an uncertainty budget.

    Parameters
    ----------
    name : str
        The input.
    value : float
        Its value, in its own SI unit.
    standard_uncertainty : float
        Its standard uncertainty, in the same unit.
    sensitivity : float
        Derivative of the result to this input.
    contribution : float
        Sensitivity times standard uncertainty, with its sign, in the unit of the result.
    share : float
        Part of the combined variance; the shares add up to 1. A correlated input can have a negative one.
    """

    name: str
    value: float
    standard_uncertainty: float
    sensitivity: float
    contribution: float
    share: float


@dataclass(frozen=True, slots=True)
class Budget:
    """An uncertainty budget.

    Parameters
    ----------
    lines : tuple of BudgetLine
        One line an input.
    value : float
        The result, in SI.
    standard_uncertainty : float
        Its combined standard uncertainty, in the same unit.
    degrees_of_freedom : float or None
        Effective degrees of freedom; None where correlated inputs of finite degrees leave none defined.
    """

    lines: tuple[BudgetLine, ...]
    value: float
    standard_uncertainty: float
    degrees_of_freedom: float | None


def uncertainty_budget(
    function: Callable[[NDArray[np.float64]], float],
    names: Sequence[str],
    values: ArrayLike,
    standard_uncertainties: ArrayLike,
    correlation: ArrayLike | None = None,
    degrees_of_freedom: ArrayLike | None = None,
) -> Budget:
    r"""Uncertainty budget of any function of several inputs.

    The sensitivities are derivatives by differences. The share of input i is
    :math:`c_i u_i \sum_j r_{ij} c_j u_j / u_c^2`.

    Parameters
    ----------
    function : callable
        The model: takes the inputs as an array, shape (n,), and returns one number.
    names : sequence of str
        Names of the inputs.
    values : array_like
        Values of the inputs [each its own], shape (n,).
    standard_uncertainties : array_like
        Standard uncertainties of the inputs [each its own], shape (n,).
    correlation : array_like, optional
        Correlation coefficients of the inputs [-], shape (n, n); independent where left out.
    degrees_of_freedom : array_like, optional
        Degrees of freedom of each standard uncertainty [-], shape (n,); infinite where left out.

    Returns
    -------
    Budget
        Lines, result, combined standard uncertainty and effective degrees of freedom.

    Raises
    ------
    ValueError
        Where the inputs are not of equal length, or an input is zero and exactly known.

    References
    ----------
    JCGM 100:2008 (GUM), clause 5 and 8; equations (13) and (16).

    Examples
    --------
    >>> budget = uncertainty_budget(lambda x: x[0] / x[1], ["load", "area"], [600.0, 3e-6], [18.0, 1.2e-7])
    >>> [(line.name, round(line.share, 2)) for line in budget.lines]
    [('load', 0.36), ('area', 0.64)]
    >>> round(budget.standard_uncertainty / budget.value, 6)
    0.05
    """
    x, u = np.asarray(values, dtype=np.float64), np.asarray(standard_uncertainties, dtype=np.float64)
    if not len(names) == x.size == u.size:
        raise ValueError(f"{len(names)} names, {x.size} values and {u.size} uncertainties: unequal counts")
    # An input whose value is zero has no magnitude to scale the step by: its uncertainty sets it.
    c = gradient(function, x, np.where(x == 0.0, u, np.abs(x)) * RELATIVE_STEP)
    combined = combine(c, u, correlation, degrees_of_freedom)
    contributions = c * u
    linked = contributions if correlation is None else np.asarray(correlation, np.float64) @ contributions
    variance = combined.standard_uncertainty**2
    shares = contributions * linked / variance if variance > 0.0 else np.zeros_like(contributions)
    rows = zip(names, x, u, c, contributions, shares, strict=True)
    lines = tuple(BudgetLine(name, *(float(number) for number in numbers)) for name, *numbers in rows)
    return Budget(lines, float(function(x)), combined.standard_uncertainty, combined.degrees_of_freedom)


def scar_pressure_budget(
    load: float,
    length: float,
    width: float,
    load_uncertainty: float,
    reading_uncertainty: float,
    width_of_length: Callable[[NDArray[np.float64]], ArrayLike] | None = None,
) -> Budget:
    """Uncertainty budget of one run's mean scar pressure p = F / ((pi/4) L W).

    Parameters
    ----------
    load : float
        Load F [N].
    length : float
        Scar length L [m].
    width : float
        Scar width W [m]; not used where `width_of_length` is given.
    load_uncertainty : float
        Relative standard uncertainty of the load [-].
    reading_uncertainty : float
        Standard uncertainty of one reading of length or width [m].
    width_of_length : callable, optional
        Implied width [m] of a length [m]; give it where the width was not read: it then has no line of its
        own and the length carries both.

    Returns
    -------
    Budget
        Lines for load, scar length and, where it was read, scar width; the result in Pa.

    References
    ----------
    JCGM 100:2008 (GUM), clause 5.

    Examples
    --------
    >>> budget = scar_pressure_budget(450.0, 3e-3, 1.6e-3, 0.01, 0.03e-3)
    >>> [(line.name, round(line.share, 2)) for line in budget.lines]
    [('load', 0.18), ('scar length', 0.18), ('scar width', 0.64)]
    """
    inputs = [(load, load_uncertainty * load), (length, reading_uncertainty), (width, reading_uncertainty)]
    names = ["load", "scar length", "scar width"]
    if width_of_length is None:
        return uncertainty_budget(
            lambda x: float(x[0] / (np.pi / 4.0 * x[1] * x[2])), names, *zip(*inputs, strict=True)
        )

    def pressure(x: NDArray[np.float64]) -> float:
        return float(x[0] / (np.pi / 4.0 * x[1] * np.asarray(width_of_length(x[1]), np.float64)))

    return uncertainty_budget(pressure, names[:2], *zip(*inputs[:2], strict=True))


def wear_coefficient_budget(
    load: float,
    length: float,
    distance: float,
    load_uncertainty: float,
    reading_uncertainty: float,
    volume_of_length: Callable[[NDArray[np.float64]], ArrayLike],
    distance_uncertainty: float = 0.0,
) -> Budget:
    """Uncertainty budget of one run's wear coefficient k = V(L) / (F s).

    Parameters
    ----------
    load : float
        Load F [N]; with load steps, the mean of the load over the sliding distance.
    length : float
        Scar length L [m].
    distance : float
        Sliding distance s [m].
    load_uncertainty : float
        Relative standard uncertainty of the load [-].
    reading_uncertainty : float
        Standard uncertainty of one reading of the length [m].
    volume_of_length : callable
        Wear volume [m^3] of a length [m].
    distance_uncertainty : float
        Relative standard uncertainty of the sliding distance [-].

    Returns
    -------
    Budget
        Lines for load, scar length and sliding distance; the result in m^2/N.

    References
    ----------
    JCGM 100:2008 (GUM), clause 5.

    Examples
    --------
    >>> budget = wear_coefficient_budget(450.0, 2e-3, 600.0, 0.01, 0.02e-3, lambda length: length**4)
    >>> [round(line.share, 3) for line in budget.lines]
    [0.059, 0.941, 0.0]
    """

    def coefficient(x: NDArray[np.float64]) -> float:
        return float(np.asarray(volume_of_length(x[1]), np.float64) / (x[0] * x[2]))

    return uncertainty_budget(
        coefficient,
        ["load", "scar length", "sliding distance"],
        [load, length, distance],
        [load_uncertainty * load, reading_uncertainty, distance_uncertainty * distance],
    )
