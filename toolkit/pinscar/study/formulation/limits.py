"""The limits that a blend must keep: stated as a parameter, or the campaigns' own criteria."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from pinscar.campaign.model import Campaign
from pinscar.campaign.quantities import FieldError, price
from pinscar.decision.responses import STANDARD, Response, own_responses
from pinscar.errors import UsageError
from pinscar.units import UnitError, parse_unit, split_quantity, to_si, to_unit

Side = Literal["at least", "at most"]
_WRITTEN = re.compile(r"\s*(\w+)\s+(at least|at most)\s+(.+?)\s*")
KNOWN = ("price", "drive_loss")


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit on one response, on the price or on the drive loss.

    Attributes
    ----------
    name : str
        What it is on.
    side : {"at least", "at most"}
        On which side of it a blend keeps it.
    value : float
        The limit [the response's unit, currency/kg or W].
    text : str
        As a reader would write it.
    """

    name: str
    side: Side
    value: float
    text: str


def read_limit(written: str, campaigns: Sequence[Campaign]) -> Limit:
    """Read a limit such as ``film_pressure at least 95 MPa`` or ``price at most 4.2 EUR/kg``."""
    found = _WRITTEN.fullmatch(written)
    if found is None:
        raise UsageError(f'{written!r} is not a limit; write it like "fling_mass at most 25 mg"')
    name, side, amount = found.group(1), found.group(2), found.group(3)
    kept: Side = "at least" if side == "at least" else "at most"
    try:
        if name == "price":
            value = price(amount).per_kg
        elif name == "drive_loss":
            value = _in_unit(amount, "W")
        else:
            value = _in_unit(amount, response_named(campaigns, name).unit)
    except (FieldError, UnitError) as wrong:
        raise UsageError(f"{written!r}: {wrong.message}; {wrong.mend}") from wrong
    if not value > 0.0:
        raise UsageError(f"{written!r}: the limit must be more than zero")
    return Limit(name, kept, value, f"{kept} {amount}")


def _in_unit(amount: str, unit: str) -> float:
    number, own = split_quantity(amount)
    if parse_unit(own).dimensionality != parse_unit(unit).dimensionality:
        raise UnitError("unit-wrong", f"{own} is no unit of it", f"write the limit in {unit}")
    return float(to_unit(to_si(number, own), unit))


def limits_of(
    campaigns: Sequence[Campaign], response: Response, load_level: float, written: Sequence[str]
) -> tuple[Limit, ...]:
    """Collect the limits: those stated, and the campaigns' criteria on anything that none is stated on."""
    found = {limit.name: limit for limit in (read_limit(one, campaigns) for one in written)}
    own: dict[str, Limit] = {}
    for one in campaigns:
        for criterion in one.file.criteria:
            near = criterion.load is None or abs(criterion.load - load_level) < 0.02 * load_level
            if criterion.is_relative or criterion.limit_text is None or not near:
                continue
            side: Side = "at least" if criterion.rule == "at least" else "at most"
            try:
                made = read_limit(f"{criterion.response} {side} {criterion.limit_text}", campaigns)
            except UsageError:
                continue  # a response that no model is made of
            known = own.get(made.name)
            stricter = known is None or (
                made.value > known.value if side == "at least" else made.value < known.value
            )
            if stricter:
                own[made.name] = made
    del response
    return tuple({**own, **found}.values())


def response_named(campaigns: Sequence[Campaign], name: str) -> Response:
    """Find a response that ratios exist of."""
    known = {r.name: r for one in campaigns for r in own_responses(one.units)} | {r.name: r for r in STANDARD}
    if name not in known:
        raise UsageError(f"no campaign has the response {name!r}; there are {', '.join(sorted(known))}")
    response = known[name]
    if response.scale != "log" or response.censored_side == "right":
        raise UsageError(f"{name} cannot be modelled by its logarithm; take film_pressure or scar_area")
    return response
