"""The kinds of value in campaign.toml as people type them: SI numbers, plain text, shares and prices."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.errors import NO_FORMULA, either, starts_formula, visible
from pinscar.units import EXAMPLES, UnitError, check_dimension, parse_quantity, parse_unit, to_si

NUMBER = r"[+\-−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+\-−]?\d+)?"
# The unit begins and ends with a letter: with blanks at its ends the time would grow with their square.
QUANTITY = re.compile(rf"\s*({NUMBER})\s*((?:\S(?:.*\S)?)?)\s*", re.DOTALL)
GROUP_OF_THREE = re.compile(r"[+\-−]?[1-9]\d{0,2},\d{3}")
"""A number whose comma may stand before decimals or between thousands."""
TURNS = frozenset(
    {"1/min", "/min", "min-1", "min^-1", "min⁻¹", "u/min", "umdr/min", "umdr./min", "upm", "r/min", "tr/min"}
)
"""Ways to write turns per minute. A bare 1/min counts turns at a bench: nobody sets radians per minute."""
WORDS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "time": {
            **dict.fromkeys(("sek", "sek.", "sec.", "s.", "sekunde", "sekunden", "secondes"), "s"),
            **dict.fromkeys(("min.", "min", "minute", "minuten", "mn"), "min"),
            **dict.fromkeys(("std", "std.", "stunde", "stunden", "heures"), "h"),
        },
        "temperature": dict.fromkeys(("c", "°c", "grad c", "grad celsius", "deg c", "celsius"), "degC"),
        "volume": {"ml": "mL", "µl": "uL", "μl": "uL"},
        "rotational speed": dict.fromkeys(TURNS, "rpm"),
    }
)
"""Units as written at the bench, in small letters, by the kind of quantity: each has one sense there."""


def usual_unit(unit: str, dimension: str = "") -> str:
    """Give the unit that a way of writing stands for.

    Examples
    --------
    >>> usual_unit("N/mm2"), usual_unit("1/min", "rotational speed"), usual_unit("Sek", "time")
    ('N/mm^2', 'rpm', 's')
    """
    said = " ".join(unit.split())
    known = WORDS.get(dimension, {}).get(said.casefold().replace("− ", "-").replace("−", "-"))
    if known:
        return known
    raised = re.sub(r"(?<=[A-Za-zµμ])([23])(?!\d)", r"^\1", said)
    return raised if raised != said and not _can_be_read(said) and _can_be_read(raised) else said


def _can_be_read(unit: str) -> bool:
    try:
        parse_unit(unit)
    except UnitError:
        return False
    return True


def usual_quantity(text: str, dimension: str = "") -> str:
    """Write a quantity as typed in the one form that is read everywhere.

    Examples
    --------
    >>> usual_quantity("1,5 min", "time"), usual_quantity("700/min", "rotational speed")
    ('1.5 min', '700 rpm')
    """
    match = QUANTITY.fullmatch(text)
    if match is None:
        return text
    number, unit = match.groups()
    if re.match(r"[.,'’]|\d", unit) and not re.match(r"1\s*/", unit):
        return text  # marks between thousands: told where the text is read
    if GROUP_OF_THREE.fullmatch(number):
        small, large = number.replace(",", "."), number.replace(",", "")
        message = f"the comma can mean {small} or {large}"
        raise UnitError("quantity-unreadable", message, f"write decimals with a point: {small}, or {large}")
    plain = number.replace(",", ".").replace("−", "-")
    return f"{plain} {usual_unit(unit, dimension)}" if unit else plain


def quantities_in(text: str, dimension: str = "") -> tuple[str, ...]:
    """Take a list of quantities apart; a unit at its end holds for all that have none.

    Semicolons, line breaks, "and" and commas separate. A comma between digits with no blank after it is a
    decimal mark where semicolons separate, and where it is the only one and one digit follows.

    Examples
    --------
    >>> quantities_in("450, 600, 750 N", "force")
    ('450 N', '600 N', '750 N')
    >>> quantities_in("4,5 kg; 6 kg", "mass")
    ('4.5 kg', '6 kg')
    """
    parts = [part for part in _split(text) if part.strip()]
    found = [QUANTITY.fullmatch(part) for part in parts]
    last = found[-1].group(2) if found and found[-1] else ""
    given = [part if match is None or match.group(2) else f"{part.strip()} {last}".strip()
             for part, match in zip(parts, found, strict=True)]  # fmt: skip
    if given and not last and all(match and not match.group(2) for match in found):
        wanted = EXAMPLES.get(dimension, "N or kg")
        raise UnitError("unit-missing", "the numbers have no unit", f"write it after the last: {wanted}")
    return tuple(usual_quantity(part, dimension) for part in given)


def _split(text: str) -> list[str]:
    rest = re.sub(r"(?<!\s)\s+(and|und|et|&|\+)\s+", ";", text.strip())
    if re.search(r"[;\n]", rest):
        return re.split(r"[;\n]", rest)
    if len(re.findall(r"(?<=\d),(?=\d)", rest)) == 1 and not re.search(r",(?!\d)|(?<!\d),", rest):
        # one comma between digits: two loads or one with decimals
        match = re.search(r"(\d+),(\d+)", rest)
        if match and not re.search(r"[A-Za-z]", rest[: match.start()]):
            one, other = match.groups()
            if len(other) == 1:
                return [rest]  # such as 1,5
            message = f"{one},{other} can be one number with decimals, or two numbers"
            mend = f'write "{one}; {other}" for two, or {one}.{other} for one'
            raise UnitError("quantity-unreadable", message, mend)
    return rest.split(",")


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
