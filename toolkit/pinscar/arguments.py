"""Quantities with units at the edge of the library: arguments to SI floats, results to quantities."""

from __future__ import annotations

import functools
import inspect
import typing
from collections.abc import Callable
from typing import Annotated, Any, ParamSpec, TypeAlias, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.units import EXAMPLES, Q_, UnitError, split_quantity, to_si, to_unit

P = ParamSpec("P")
R = TypeVar("R")

# What a function declares of an argument; it is handed over as pint quantity, text or a list of either.
Angle: TypeAlias = Annotated[Any, "angle"]
Area: TypeAlias = Annotated[Any, "area"]
MassDensity: TypeAlias = Annotated[Any, "density"]
DynamicViscosity: TypeAlias = Annotated[Any, "dynamic viscosity"]
Force: TypeAlias = Annotated[Any, "force"]
InversePressure: TypeAlias = Annotated[Any, "inverse pressure"]
KinematicViscosity: TypeAlias = Annotated[Any, "kinematic viscosity"]
Length: TypeAlias = Annotated[Any, "length"]
Mass: TypeAlias = Annotated[Any, "mass"]
Number: TypeAlias = Annotated[Any, "pure number"]
Pressure: TypeAlias = Annotated[Any, "pressure"]
RotationalSpeed: TypeAlias = Annotated[Any, "rotational speed"]
SpecificHeat: TypeAlias = Annotated[Any, "specific heat capacity"]
Speed: TypeAlias = Annotated[Any, "speed"]
Temperature: TypeAlias = Annotated[Any, "temperature"]
Conductivity: TypeAlias = Annotated[Any, "thermal conductivity"]
Time: TypeAlias = Annotated[Any, "time"]
Volume: TypeAlias = Annotated[Any, "volume"]
WearCoefficient: TypeAlias = Annotated[Any, "wear coefficient"]


def with_units(function: Callable[P, R]) -> Callable[P, R]:
    """Let a function that computes in SI take quantities: its arguments are converted as they are declared.

    An argument declared with one of the names above (`Length`, `Force`, ...) may be a pint quantity of any
    registry, text such as ``"12 mm"``, or a list of either; a pure number may be a number. The function
    itself sees SI floats, or None where None is the default.

    Parameters
    ----------
    function : callable
        The function.

    Returns
    -------
    callable
        The same function, taking quantities.

    Raises
    ------
    ValueError
        On calling, when an argument measures something else or has no unit.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> @with_units
    ... def half(pin_diameter: Length) -> float:
    ...     return float(pin_diameter / 2)
    >>> half("12 mm")
    0.006
    >>> half("12 N")
    Traceback (most recent call last):
        ...
    ValueError: pin_diameter: '12 N' does not measure a length; write e.g. 12 mm
    """
    signature = inspect.signature(function)

    @functools.cache
    def declared() -> dict[str, str]:
        hints = typing.get_type_hints(function, include_extras=True)
        return {name: hint.__metadata__[0] for name, hint in hints.items() if hasattr(hint, "__metadata__")}

    @functools.wraps(function)
    def converted(*args: P.args, **kwargs: P.kwargs) -> R:
        bound = signature.bind(*args, **kwargs)
        bound.apply_defaults()
        for name, dimension in declared().items():
            value = bound.arguments[name]
            if value is None and signature.parameters[name].default is not None:
                raise ValueError(f"{name} is needed; {_example(dimension)}")
            bound.arguments[name] = None if value is None else si_values(name, value, dimension)
        return function(*bound.args, **bound.kwargs)

    return converted


def si_values(name: str, value: Any, dimension: str) -> NDArray[np.float64]:
    """Convert one argument to SI floats.

    Parameters
    ----------
    name : str
        Name of the argument, for the message.
    value : pint.Quantity, str, number or sequence
        What was handed over [its own unit]; a bare number only where a pure number is wanted.
    dimension : str
        Kind of quantity it must measure, a key of `pinscar.units.DIMENSIONS`.

    Returns
    -------
    ndarray of float
        The values [SI], shape of the argument.

    Raises
    ------
    ValueError
        When it measures something else, or cannot be read.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> si_values("width", ["1 mm", "0.5 in"], "length").tolist()
    [0.001, 0.0127]
    >>> si_values("load", 450, "force")
    Traceback (most recent call last):
        ...
    ValueError: load: 450 has no unit; write e.g. 12 N
    """
    if isinstance(value, list | tuple) or (isinstance(value, np.ndarray) and value.dtype == object):
        return np.array([si_values(name, one, dimension) for one in value], dtype=np.float64)
    try:
        number, unit = split_quantity(value) if isinstance(value, str) else _parts(value)
    except UnitError as failure:
        raise ValueError(f"{name}: {value!r} {_as_predicate(failure.message)}; {failure.mend}") from None
    example = _example(dimension)
    shown = repr(value) if isinstance(value, str) else f"{value:~C}" if hasattr(value, "units") else value
    if unit == "1" and dimension != "pure number":
        raise ValueError(f"{name}: {shown} has no unit; {example}")
    try:
        return to_si(number, unit, dimension)
    except UnitError as failure:
        if failure.code == "unit-wrong":
            article = "an" if dimension[0] in "aeiou" else "a"
            raise ValueError(f"{name}: {shown} does not measure {article} {dimension}; {example}") from None
        raise ValueError(f"{name}: {shown}: {failure}") from None


def _example(dimension: str) -> str:
    return f"write e.g. 12 {EXAMPLES[dimension].split(' or ')[0].split(', ')[0]}"


def _parts(value: Any) -> tuple[ArrayLike, str]:
    if hasattr(value, "units"):
        return value.magnitude, f"{value.units:~C}" or "1"
    if isinstance(value, np.ndarray | np.number | int | float) and not isinstance(value, bool):
        return value, "1"
    message = "this is neither a quantity, nor text, nor a number"
    raise UnitError("quantity-unreadable", message, 'write it like "12 mm"')


def _as_predicate(message: str) -> str:
    return message.removeprefix("this ")


def quantity(values: ArrayLike, unit: str) -> Any:
    """Give SI values as a quantity in a unit that fits the eye.

    Parameters
    ----------
    values : array_like
        Values [SI], any shape.
    unit : str
        Unit to show them in.

    Returns
    -------
    pint.Quantity
        The quantity; a plain float inside where there is one value.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> print(quantity(0.012, "mm"))
    12.0 millimeter
    """
    shown = to_unit(values, unit)
    return Q_(float(shown) if shown.ndim == 0 else shown, unit)
