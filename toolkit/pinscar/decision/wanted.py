"""What a plan is to achieve, checked and completed from campaign.toml."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pinscar.campaign.model import CampaignFile
from pinscar.errors import UsageError
from pinscar.units import UnitError, parse_quantity


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a plan is to achieve.

    Parameters
    ----------
    ratio : float
        Ratio to the reference that is to be shown.
    power : float
        Wanted chance of showing it.
    confidence : float
        Confidence of the comparison [1].
    response : str
        What will be compared.
    lubricants : tuple of str
        The oils, the reference first.
    loads : tuple of float
        Loads [N].
    days : int
        Days that the runs are spread over.
    seed : int
        Seed of the order and of the simulations.
    """

    ratio: float
    power: float
    confidence: float
    response: str
    lubricants: tuple[str, ...]
    loads: tuple[float, ...]
    days: int
    seed: int


def wanted_of(
    file: CampaignFile,
    *,
    ratio: float,
    power: float,
    response: str,
    lubricants: Sequence[str] | None,
    loads: Sequence[str] | None,
    days: int,
    seed: int,
    confidence: float | None = None,
) -> Wanted:
    """Check what is asked for, and fill in what campaign.toml says.

    Parameters
    ----------
    file : CampaignFile
        campaign.toml.
    ratio, power : float
        Ratio to be shown, and the wanted chance of showing it.
    response : str
        What will be compared.
    lubricants : sequence of str or None
        The oils; those of campaign.toml where not given. The reference is put first, and added if missing.
    loads : sequence of str or None
        Loads with their unit; those of the criteria where not given.
    days, seed : int
        Days that the runs are spread over, and seed of all draws.
    confidence : float, optional
        Confidence of the comparison [1]; the campaign's where not given.

    Returns
    -------
    Wanted
        Checked and complete.

    Raises
    ------
    UsageError
        For anything out of range or missing.
    """
    level = file.campaign.confidence if confidence is None else confidence
    if not ratio > 0.0 or ratio == 1.0:
        raise UsageError(f"ratio must be positive and not 1, such as 0.8, not {ratio:g}")
    if not 0.5 < level < 1.0:
        raise UsageError(f"confidence must lie between 0.5 and 1, not {level:g}")
    if not 1.0 - level < power < 1.0:
        raise UsageError(f"power must lie between {1.0 - level:g} and 1, such as 0.8, not {power:g}")
    if not 1 <= days <= 60:
        raise UsageError(f"days must lie between 1 and 60, not {days}")
    if seed < 0:
        raise UsageError(f"seed must be 0 or more, not {seed}")
    named = [name.strip() for name in lubricants or [one.id for one in file.lubricants]]
    oils = tuple(dict.fromkeys([file.campaign.reference, *(name for name in named if name)]))
    if len(oils) < 2:
        raise UsageError("there is no oil besides the reference; name some: --lubricants R-10,C-21")
    return Wanted(ratio, power, level, response, oils, _loads(file, loads), days, seed)


def _loads(file: CampaignFile, loads: Sequence[str] | None) -> tuple[float, ...]:
    if loads:
        try:
            found = [parse_quantity(text, "force") for text in loads]
        except UnitError as error:
            raise UsageError(f"a load cannot be read: {error.message}; {error.mend}") from error
    else:
        found = [one.load for one in file.criteria if one.load is not None]
    if not found:
        raise UsageError('name the loads: --loads "450 N,600 N"')
    if min(found) <= 0.0:
        raise UsageError("a load must be over 0 N")
    return tuple(sorted(dict.fromkeys(found)))
