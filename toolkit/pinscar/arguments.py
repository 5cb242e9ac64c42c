"""Quantities with units at the edge of the library: arguments to SI floats, results to quantities."""

from __future__ import annotations

import dataclasses
import functools
import inspect
import math
import typing
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, ParamSpec, TypeAlias, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.errors import OutOfRangeError
from pinscar.units import DIMENSIONS, EXAMPLES, Q_, UnitError, split_quantity, to_si, to_unit

P = ParamSpec("P")
R = TypeVar("R")

# Kinds of arguments. The caller gives a pint quantity, text or a list of either.
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
    return _taking_quantities(function, frozenset())


def with_units_one_by_one(*single: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Do as `with_units` for a function that takes some of its arguments as one number only.

    Where a list is given for one of these, all lists are matched element by element (a single value goes
    with every element), the function is called once for each, and the results are put together.

    Examples
    --------
    >>> @with_units_one_by_one("pin_diameter")
    ... def half(pin_diameter: Length) -> Any:
    ...     return quantity(float(pin_diameter) / 2, "mm")
    >>> print(half(["12 mm", "10 mm"]))
    [6.0 5.0] millimeter
    """
    return lambda function: _taking_quantities(function, frozenset(single))


def _taking_quantities(function: Callable[P, R], single: frozenset[str]) -> Callable[P, R]:
    signature = inspect.signature(function)

    @functools.cache
    def declared() -> dict[str, str]:
        hints = typing.get_type_hints(function, include_extras=True)
        return {name: hint.__metadata__[0] for name, hint in hints.items() if hasattr(hint, "__metadata__")}

    @functools.wraps(function)
    def converted(*args: P.args, **kwargs: P.kwargs) -> R:
        bound = signature.bind(*args, **kwargs)
        bound.apply_defaults()
        given = dict(bound.arguments)
        for name, dimension in declared().items():
            value = given[name]
            if value is None and signature.parameters[name].default is not None:
                raise ValueError(f"{name} is needed; {_example(dimension)}")
            bound.arguments[name] = None if value is None else si_values(name, value, dimension)
        try:
            lists = _lists(bound.arguments, declared())
            if any(np.ndim(bound.arguments[name]) for name in single if bound.arguments[name] is not None):
                return typing.cast(R, _one_by_one(function, bound, lists))
            return function(*bound.args, **bound.kwargs)
        except OutOfRangeError as failure:
            if failure.name not in declared():
                raise
            shown, unit = _shown(given[failure.name]), _si_unit(declared()[failure.name], failure.rule)
            raise ValueError(f"{failure.name} {failure.rule}{unit}; got {shown}") from None

    return converted


def _lists(arguments: dict[str, Any], declared: Mapping[str, str]) -> dict[str, NDArray[np.float64]]:
    """Give the arguments that are lists, matched in shape."""
    lists = {name: arguments[name] for name in declared if np.ndim(arguments[name])}
    try:
        matched = np.broadcast_arrays(*lists.values())
    except ValueError:
        lengths = ", ".join(f"{name} {np.size(value)}" for name, value in lists.items())
        raise ValueError(f"lists must be equally long or hold one value; found {lengths}") from None
    return dict(zip(lists, matched, strict=True))


def _one_by_one(
    function: Callable[..., Any], bound: inspect.BoundArguments, lists: Mapping[str, NDArray[np.float64]]
) -> Any:
    shape = next(iter(lists.values())).shape
    if not math.prod(shape):
        raise ValueError(f"{next(iter(lists))} is an empty list; give at least one value")
    results = []
    for place in np.ndindex(shape):
        one = {**bound.arguments, **{name: values[place] for name, values in lists.items()}}
        results.append(function(**one))
    return _together(results, shape)


def _together(results: Sequence[Any], shape: tuple[int, ...]) -> Any:
    first = results[0]
    if dataclasses.is_dataclass(first) and not isinstance(first, type):
        fields = [field.name for field in dataclasses.fields(first)]
        parts = {name: _together([getattr(one, name) for one in results], shape) for name in fields}
        return type(first)(**parts)
    if hasattr(first, "units"):
        numbers = [one.to(first.units).magnitude for one in results]
        return type(first)(np.reshape(np.array(numbers, dtype=np.float64), shape), first.units)
    return None if first is None else np.reshape(np.array(results), shape)


def si_values(name: str, value: Any, dimension: str) -> NDArray[np.float64]:
    """Convert one argument to SI floats.

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
        rows = [si_values(name, one, dimension) for one in value]
        if len({row.shape for row in rows}) > 1:
            raise ValueError(f"{name}: the lists in {_shown(value)} are not equally long")
        return np.array(rows, dtype=np.float64)
    try:
        number, unit = split_quantity(value) if isinstance(value, str) else _parts(value)
    except UnitError as failure:
        raise ValueError(f"{name}: {value!r} {_as_predicate(failure.message)}; {failure.mend}") from None
    example = _example(dimension)
    shown = _shown(value)
    if unit == "1" and dimension != "pure number":
        raise ValueError(f"{name}: {shown} has no unit; {example}")
    try:
        return to_si(number, unit, dimension)
    except UnitError as failure:
        if failure.code == "unit-wrong":
            article = "an" if dimension[0] in "aeiou" else "a"
            raise ValueError(f"{name}: {shown} does not measure {article} {dimension}; {example}") from None
        raise ValueError(f"{name}: {shown}: {failure}") from None


def _shown(value: Any) -> str:
    if isinstance(value, list | tuple):
        return f"[{', '.join(_shown(one) for one in value)}]"
    return f"{value:~C}" if hasattr(value, "units") else repr(value) if isinstance(value, str) else str(value)


def _si_unit(dimension: str, rule: str) -> str:
    """Give the unit of the numbers in a rule, where it holds any."""
    if "between" not in rule or dimension == "pure number":
        return ""
    return f" {DIMENSIONS[dimension]}"


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

    Examples
    --------
    >>> print(quantity(0.012, "mm"))
    12.0 millimeter
    """
    shown = to_unit(values, unit)
    return Q_(float(shown) if shown.ndim == 0 else shown, unit)
