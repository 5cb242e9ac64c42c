"""Quantities as people type them: decimal commas, units as the trade writes them, one unit for a list."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from pinscar.units import EXAMPLES, UnitError, parse_unit

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
