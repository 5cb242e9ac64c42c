"""The size of a fling card as people write it: 150 mm x 100 mm."""

from __future__ import annotations

import re
from typing import Any

from pinscar.campaign.quantities import FieldError
from pinscar.units import UnitError, parse_quantity, split_quantity

MEND = 'write both sides with their unit, such as "150 mm x 100 mm"'


def card_size(value: Any) -> tuple[float, float]:
    """Read the sides of a card.

    Parameters
    ----------
    value : Any
        Text such as ``"150 mm x 100 mm"``; a unit after the second side alone counts for both.

    Returns
    -------
    tuple of float and float
        The longer and the shorter side [m].

    Raises
    ------
    FieldError
        When it is no text, or no two lengths more than zero.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> card_size("100 x 150 mm")
    (0.15, 0.1)
    """
    parts = re.fullmatch(r"\s*([^x×]+?)\s*[x×]\s*([^x×]+?)\s*", value) if isinstance(value, str) else None
    if parts is None:
        raise FieldError("toml-not-a-quantity", "this is not a card size", MEND)
    sides = [_length(text) for text in _with_units(*parts.groups())]
    return max(sides), min(sides)


def _with_units(first: str, second: str) -> tuple[str, str]:
    try:
        alone, unit = split_quantity(first)[1] == "1", split_quantity(second)[1]
    except UnitError as error:
        raise FieldError(f"toml-{error.code}", error.message, error.mend) from error
    return (f"{first} {unit}" if alone and unit != "1" else first), second


def _length(text: str) -> float:
    try:
        number = parse_quantity(text, "length")
    except UnitError as error:
        mend = MEND if error.code == "unit-missing" else error.mend
        raise FieldError(f"toml-{error.code}", error.message, mend) from error
    if not 0 < number < float("inf"):
        raise FieldError("toml-out-of-range", "the sides must be more than zero", "correct the value")
    return number
