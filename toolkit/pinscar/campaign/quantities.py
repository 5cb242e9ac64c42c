"""The kinds of value in campaign.toml: each turns what stands in the file into an SI number or plain text.

A number beyond the limits of its kind is a slip and would overflow, so it is refused.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.campaign.typed_quantity import usual_quantity
from pinscar.problems import NO_FORMULA, either, starts_formula
from pinscar.units import EXAMPLES, UnitError, parse_quantity
from pinscar.visible import visible

MAGNITUDES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "length": (1e-10, 100.0),
        "area": (1e-40, 1e3),
        "volume": (1e-60, 1e3),
        "mass": (1e-40, 1e6),
        "force": (1e-9, 1e9),
        "time": (1e-9, 1e9),
        "power": (1e-15, 1e12),
        "pressure": (1e-6, 1e15),
        "temperature": (1e-3, 1e5),
        "rotational speed": (1e-6, 1e6),
    }
)
"""Smallest and largest size of a number that is not zero, by kind of quantity [SI]; wide of any bench."""

OTHERS = (1e-30, 1e30)
"""The same of every other kind: its powers and products still are numbers."""


def beyond(values: ArrayLike, dimension: str) -> NDArray[np.bool_]:
    """Tell which numbers are too small or too large to be of a kind; zero and NaN (not measured) are not.

    Examples
    --------
    >>> beyond([0.0, 2.2e-304, 0.004], "area").tolist()
    [False, True, False]
    """
    least, most = MAGNITUDES.get(dimension, OTHERS)
    size = np.abs(np.asarray(values, dtype=float))
    return np.asarray((size > most) | ((size > 0.0) & (size < least)))


MOST = 1_000_000
"""Largest whole number that anything is counted to."""


class FieldError(ValueError):
    """A value of campaign.toml that does not fit, before its place in the file is known.

    Attributes
    ----------
    code : str
        Stable identifier of the problem.
    message : str
        What is wrong, in one plain clause.
    mend : str
        What to write instead, in one plain clause.
    key : str, optional
        The key it belongs to, where the check looks at a whole section.
    """

    def __init__(self, code: str, message: str, mend: str, key: str | None = None) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.mend = mend
        self.key = key


def text(value: Any) -> str:
    """Take text as it stands, without blanks at its ends; refuse numbers and empty text.

    Examples
    --------
    >>> text(" R-10 ")
    'R-10'
    """
    if not isinstance(value, str):
        raise FieldError("toml-not-text", "this must be text", f'write it in quotes: "{value}"')
    if not value.strip():
        raise FieldError(
            "toml-not-text", "the text is empty", "write something between the quotes, or leave the key out"
        )
    return visible(value.strip())


def name(value: Any) -> str:
    """Take the name of a lubricant: text that no spreadsheet takes for a formula.

    Examples
    --------
    >>> name("R-10")
    'R-10'
    """
    found = text(value)
    if starts_formula(found):
        raise FieldError("name-formula", "a spreadsheet takes this for a formula", NO_FORMULA)
    return found


def choice(*options: str) -> Callable[[Any], str]:
    """Make a reader that takes one of a few words.

    Examples
    --------
    >>> choice("lower", "higher")("lower")
    'lower'
    """

    def read(value: Any) -> str:
        if value not in options:
            near = difflib.get_close_matches(str(value).casefold(), options, n=1, cutoff=0.8)
            quoted = [f'"{option}"' for option in near or options]
            message = "this word is not one of the choices"
            raise FieldError("toml-not-a-choice", message, f"write {either(quoted)}")
        return str(value)

    return read


def quantity(
    dimension: str,
    low: float = 0.0,
    high: float = float("inf"),
    *,
    low_allowed: bool = False,
    needed: str = "",
) -> Callable[[Any], float]:
    """Make a reader that turns text such as ``"12 mm"`` into an SI number within a range.

    Examples
    --------
    >>> quantity("length")("12 mm")
    0.012
    """

    def read(value: Any) -> float:
        number = _number(value, dimension)
        if beyond(number, dimension):
            message = "no measurement gives a number of this size"
            raise FieldError("toml-out-of-range", message, "correct the value or its unit")
        above = number >= low if low_allowed else number > low
        if not (above and number <= high and number < float("inf")):
            words = needed or ("zero or more" if low_allowed else "more than zero")
            share = number / 100.0
            is_percent = dimension == "pure number" and number > 1.0 and low < share <= high
            mend = f'write "{number:g} %" or {share:g}' if is_percent else "correct the value"
            raise FieldError("toml-out-of-range", f"this must be {words}", mend)
        return number

    return read


def _number(value: Any, dimension: str) -> float:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    if plain and dimension == "pure number":
        return _as_float(value)
    unit = EXAMPLES[dimension].split(" or ")[0].split(", ")[0]
    if plain:
        raise FieldError(
            "toml-unit-missing",
            "the number has no unit",
            f'write it in quotes with its unit: "{value if abs(value) < MOST else _as_float(value)} {unit}"',
        )
    if not isinstance(value, str):
        raise FieldError(
            "toml-not-a-quantity",
            "this is not a quantity",
            f'write a number and a unit in quotes, such as "1 {unit}"',
        )
    try:
        return parse_quantity(usual_quantity(value, dimension), dimension)
    except UnitError as error:
        raise FieldError(f"toml-{error.code}", error.message, error.mend) from error


def _as_float(value: float) -> float:
    try:
        return float(value)
    except OverflowError:
        return float("inf")  # a whole number of hundreds of digits is out of every range


def text_list(value: Any) -> tuple[str, ...]:
    """Take a list of texts, each as `text` does.

    Examples
    --------
    >>> text_list(["../control/2026-03 "])
    ('../control/2026-03',)
    """
    if not isinstance(value, list):
        raise FieldError(
            "toml-not-text", "this must be a list of texts", f'write it in brackets: ["{value}"]'
        )
    return tuple(text(item) for item in value)


def whole_number(low: int) -> Callable[[Any], int]:
    """Make a reader that takes a whole number from a lower end on.

    Examples
    --------
    >>> whole_number(6)(19)
    19
    """

    def read(value: Any) -> int:
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= MOST:
            raise FieldError(
                "toml-out-of-range",
                f"this must be a whole number, {low} or more and at most {MOST}",
                "write it without quotes, such as 19",
            )
        return value

    return read


def yes_no(value: Any) -> bool:
    """Take true or false.

    Examples
    --------
    >>> yes_no(True)
    True
    """
    if not isinstance(value, bool):
        raise FieldError(
            "toml-not-a-choice", "this must be true or false", "write true or false, without quotes"
        )
    return value
