"""What an oil is made of, and what it costs: the readers of shares and prices."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pinscar.campaign.quantities import FieldError, quantity, text
from pinscar.units import UnitError, check_dimension, to_si

BALANCE = "balance"
A_SHARE = "a mass share from 0 to 100 %"
SUM_TOLERANCE = 1e-3
"""How far from 100 % a stated sum may be [1]: shares rounded to 0.1 % add up no better."""
SHOWN = 40
"""Characters of a share that are shown in a message."""

_PRICE = re.compile(r"\s*(\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)\s*([A-Z]{3})\s*/\s*(\S(?:.*\S)?)\s*")


@dataclass(frozen=True, slots=True)
class Price:
    """A price per mass.

    Attributes
    ----------
    per_kg : float
        Amount of money for one kilogram [currency/kg].
    currency : str
        Three capital letters (ISO 4217).
    """

    per_kg: float
    currency: str


def share(value: Any) -> float:
    """Take the mass share of a component, with its unit.

    Examples
    --------
    >>> round(share("1.5 %"), 6), round(share("15 g/kg"), 6)
    (0.015, 0.015)
    """
    if isinstance(value, int | float) and not isinstance(value, bool):
        message = "the share has no unit"
        raise FieldError("toml-unit-missing", message, f'write it in quotes with its unit: "{value:g} %"')
    if isinstance(value, str) and re.fullmatch(r"\s*[+-]?\d+([.,]\d+)?\s*", value):
        mend = f'write its unit too: "{value.strip()} %"'
        raise FieldError("toml-unit-missing", "the share has no unit", mend)
    found = quantity("pure number", low_allowed=True, needed=A_SHARE)(value)
    if found > 1.0:
        raise FieldError("toml-out-of-range", f"this must be {A_SHARE}", "correct the value")
    return found


def composition(value: Any) -> dict[str, float]:
    """Take the mass shares of an oil's components and check their sum.

    Examples
    --------
    >>> composition({"base A": "balance", "AW-1": "1.5 %"})
    {'base A': 0.985, 'AW-1': 0.015}
    """
    if not isinstance(value, Mapping):
        message = "the composition must be a section of components"
        mend = 'write [lubricants.composition] below the oil and under it lines such as "AW-1" = "1.5 %"'
        raise FieldError("toml-not-a-section", message, mend)
    if not value:
        raise FieldError("composition-sum", "the composition is empty", "add components, or take it out")
    open_ones = [name for name, one in value.items() if is_balance(one)]
    if len(open_ones) > 1:
        message = f"{' and '.join(open_ones)} are both the balance"
        raise FieldError("composition-balance", message, "leave one of them the balance", open_ones[1])
    shares: dict[str, float] = {}
    for name, one in value.items():
        try:
            shares[text(name)] = 0.0 if name in open_ones else share(one)
        except FieldError as wrong:
            # the section as a whole is no value to show, so the share stands in the message
            shown = str(one)[:SHOWN]
            found = "" if shown in wrong.message else f", found {shown}"
            raise FieldError(wrong.code, f"{name}: {wrong.message}{found}", wrong.mend, str(name)) from wrong
    total = sum(shares.values())
    if open_ones and total <= 1.0 + 1e-12:
        shares[open_ones[0]] = max(0.0, round(1.0 - total, 12))
    elif open_ones or abs(total - 1.0) > SUM_TOLERANCE * (1.0 + 1e-9):
        mend = "correct the shares" if open_ones else 'correct them, or make one of them "balance"'
        beside = " beside the balance" if open_ones else ""
        message = f"the shares{beside} add up to {100.0 * total:.6g} %"
        raise FieldError("composition-sum", message, mend)
    whole = sum(shares.values())
    return {name: one / whole for name, one in shares.items()} if whole != 1.0 else shares


def is_balance(value: Any) -> bool:
    """Tell whether a share is what the others leave.

    Examples
    --------
    >>> is_balance("Balance "), is_balance("1 %")
    (True, False)
    """
    return isinstance(value, str) and value.strip().casefold() == BALANCE


def price(value: Any) -> Price:
    """Take a price per mass.

    Examples
    --------
    >>> price("4.20 EUR/kg")
    Price(per_kg=4.2, currency='EUR')
    >>> round(price("420 EUR/t").per_kg, 9)
    0.42
    """
    mend = 'write it like "4.20 EUR/kg"'
    found = _PRICE.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise FieldError("price-unreadable", "this is not a price per mass", mend)
    amount, currency, unit = found.groups()
    try:
        check_dimension(unit, "mass")
        kilograms = float(to_si(1.0, unit))
    except UnitError as wrong:
        raise FieldError("price-unreadable", f"the price is not per mass: {wrong.message}", mend) from wrong
    per_kg = float(amount) / kilograms
    if not per_kg < 1e9:
        raise FieldError("price-unreadable", "no oil costs this much", "correct the price or its unit")
    return Price(per_kg, currency)
