"""A campaign planned: repeats for a ratio and power, the cost of censoring and of looking, the order.

The aim is checked and completed from campaign.toml; an earlier campaign tells spread, share still wearing and
duration.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pinscar.campaign.model import Campaign, CampaignFile
from pinscar.decision.evaluate import evaluate_runs
from pinscar.decision.joined_campaigns import unbounded_response
from pinscar.decision.responses import STANDARD, Response
from pinscar.decision.summaries import cells
from pinscar.errors import InputError, Problem, Severity, UsageError
from pinscar.stats.censored_power import CensoredPower, censored_power, repeats_for_censored_ratio
from pinscar.stats.power import (
    LookPenalty,
    RepeatsPlan,
    Spread,
    look_penalty,
    upper_sd,
)
from pinscar.stats.run_order import OrderCheck, check_run_order
from pinscar.study.plan.chances import DAY, Wanted, detectable_at, needed_for, order_of, power_at
from pinscar.study.plan.table import SheetRun, named_runs
from pinscar.units import UnitError, parse_quantity
from pinscar.wording import load_text


@dataclass(frozen=True, slots=True)
class PilotCell:
    """One oil at one load of the pilot.

    Attributes
    ----------
    name : str
        Oil and load in words.
    n : int
        Runs.
    log_sd : float
        Standard deviation of the logarithms.
    """

    name: str
    n: int
    log_sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pilot:
    """What a pilot tells.

    Attributes
    ----------
    id : str
        The campaign.
    cells : tuple of PilotCell
        Oils and loads with repeats.
    log_sd : float
        Standard deviation of the logarithms, pooled over the cells.
    df : int
        Its degrees of freedom.
    censored : float
        Share of the reference's runs that had not stopped wearing, or were not judged.
    duration : float
        Usual duration of its runs [s].
    """

    id: str
    cells: tuple[PilotCell, ...]
    log_sd: float
    df: int
    censored: float
    duration: float


def read_pilot(campaign: Campaign, response: str) -> Pilot:
    r"""Take spread, share still wearing and duration from a campaign.

    .. math:: s = \sqrt{\sum_i (n_i - 1) s_i^2 / \sum_i (n_i - 1)}

    over all oils and loads, on logarithms: one spread for all is assumed, as in the comparisons. Days and
    rings of the pilot are in it.
    """
    chosen = unbounded_response([campaign], response)
    if chosen.scale != "log":
        raise UsageError(f"{response} has no ratios, since the zero of its unit is arbitrary")
    runs = evaluate_runs(campaign)
    included = runs[runs["excluded"] == ""]
    found = []
    # A pilot whose folder was made for another response simply lacks the column.
    for cell in cells(runs, chosen) if chosen.name in runs else ():
        values = cell.values[cell.values > 0.0]
        if values.size > 1:
            sd = float(np.std(np.log(values), ddof=1))
            found.append(PilotCell(f"{cell.lubricant} at {load_text(cell.load_level)}", int(values.size), sd))
    df = sum(cell.n - 1 for cell in found)
    total = math.fsum((cell.n - 1) * cell.log_sd**2 for cell in found)
    if df == 0 or total == 0.0:
        message = "no oil has two runs at a load that differ, so the pilot gives no spread"
        mend = "name another pilot, or give the spread: --log-sd 0.12"
        raise InputError(
            [
                Problem(
                    code="pilot-no-spread",
                    severity=Severity.ERROR,
                    file="runs.csv",
                    message=message,
                    mend=mend,
                )
            ]
        )
    own = included[included["lubricant"] == campaign.file.campaign.reference]
    return Pilot(
        id=campaign.file.campaign.id,
        cells=tuple(found),
        log_sd=math.sqrt(total / df),
        df=df,
        censored=float(own["left_censored"].mean()),
        duration=float(included["duration"].median()),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOptions:
    """What a person asks of a plan; the rest comes from campaign.toml and the pilot.

    Attributes
    ----------
    pilot : str, optional
        Folder of an earlier campaign, relative to the new one, that tells the spread.
    log_sd : float, optional
        Standard deviation of the logarithms, taken as known; one of this and the pilot is needed.
    ratio, power : float
        Ratio to be shown, and the wanted chance of showing it.
    lubricants, loads : sequence of str, optional
        Oils, and loads with their unit; those of campaign.toml and its criteria where not given.
    days : int
        Days that the runs are spread over.
    repeats : int, optional
        Runs of each oil at each load, in place of those that the power takes.
    censored : float, optional
        Share of the reference's runs expected to be still wearing at their end [1]; the pilot's where not
        given.
    duration : str, optional
        Duration of a run with its unit; the pilot's where not given.
    response : str
        What will be compared.
    confidence : float, optional
        Confidence of the comparison [1]; the campaign's where not given.
    seed : int
        Seed of the order and of the simulations.
    """

    pilot: str | None = None
    log_sd: float | None = None
    ratio: float = 0.8
    power: float = 0.8
    lubricants: Sequence[str] | None = None
    loads: Sequence[str] | None = None
    days: int = 2
    repeats: int | None = None
    censored: float | None = None
    duration: str | None = None
    response: str = "scar_area"
    confidence: float | None = None
    seed: int = 1


def wanted_of(file: CampaignFile, asked: PlanOptions) -> Wanted:
    """Check what is asked for, and fill in what campaign.toml says."""
    ratio, power, days = asked.ratio, asked.power, asked.days
    level = file.campaign.confidence if asked.confidence is None else asked.confidence
    if not ratio > 0.0 or ratio == 1.0:
        raise UsageError(f"ratio must be positive and not 1, such as 0.8, not {ratio:g}")
    if not 0.5 < level < 1.0:
        raise UsageError(f"confidence must lie between 0.5 and 1, not {level:g}")
    if not 1.0 - level < power < 1.0:
        raise UsageError(f"power must lie between {1.0 - level:g} and 1, such as 0.8, not {power:g}")
    if not 1 <= days <= 60:
        raise UsageError(f"days must lie between 1 and 60, not {days}")
    if asked.seed < 0:
        raise UsageError(f"seed must be 0 or more, not {asked.seed}")
    named = [name.strip() for name in asked.lubricants or [one.id for one in file.lubricants]]
    oils = tuple(dict.fromkeys([file.campaign.reference, *(name for name in named if name)]))
    if len(oils) < 2:
        raise UsageError("there is no oil besides the reference; name some: --lubricants R-10,C-21")
    return Wanted(
        ratio=ratio,
        power=power,
        confidence=level,
        response=asked.response,
        lubricants=oils,
        loads=_loads(file, asked.loads),
        days=days,
        seed=asked.seed,
    )


def _loads(file: CampaignFile, loads: Sequence[str] | None) -> tuple[float, ...]:
    if loads:
        try:
            found = [parse_quantity(text, "force") for text in loads]
        except UnitError as error:
            raise UsageError(f"a load cannot be read: {error.message}; {error.mend}") from error
    else:
        found = [one.load for one in file.criteria if one.load is not None]
    if not found:
        raise UsageError('neither a limit nor the runs name a load; name some: --loads "450 N, 600 N"')
    if min(found) <= 0.0:
        raise UsageError("a load must be over 0 N")
    return tuple(sorted(dict.fromkeys(found)))


MOST = 60
"""Repeats of each oil that are looked at; no bench makes more."""
SAFE = 0.8
"""One-sided confidence of the spread that is planned with, where it comes from a pilot."""
SIMULATIONS = 2000


@dataclass(frozen=True, slots=True)
class Step:
    """What one number of repeats gives.

    Attributes
    ----------
    repeats : int
        Runs of each oil at each load.
    power : float
        Chance of showing the wanted ratio with the spread planned with.
    power_as_found : float
        The same with the spread as the pilot found it.
    detectable : float or None
        Smallest ratio over 1 that is shown with the wanted power; None where days leave nothing to judge by.
    """

    repeats: int
    power: float
    power_as_found: float
    detectable: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A planned campaign.

    Attributes
    ----------
    file : CampaignFile
        campaign.toml.
    wanted : Wanted
        What was asked for.
    response : Response
        What will be compared.
    pilot : Pilot or None
        Where the spread comes from; None where it was given.
    log_sd, log_sd_found : float
        Standard deviation of the logarithms planned with, and as found or given.
    needed : RepeatsPlan
        Repeats for the wanted ratio and power.
    repeats : int
        Runs of each oil at each load in this plan.
    chosen : bool
        Whether these were asked for rather than computed.
    steps : tuple of Step
        Numbers of repeats with what they give.
    censored_share : float or None
        Share of the reference's runs expected to be still wearing; None where unknown.
    censored, censored_needed : CensoredPower or None
        Power of this plan for film pressures, and the repeats that the wanted power takes; None where the
        share is unknown, none or all.
    looks : LookPenalty
        What it costs to look at these repeats and then add half as many.
    order : tuple of SheetRun
        The runs in order.
    check : OrderCheck
        How well the order is balanced.
    duration : float or None
        Duration of a run [s]; None where not stated.
    """

    file: CampaignFile
    wanted: Wanted
    response: Response
    pilot: Pilot | None
    log_sd: float
    log_sd_found: float
    needed: RepeatsPlan
    repeats: int
    chosen: bool
    steps: tuple[Step, ...]
    censored_share: float | None
    censored: CensoredPower | None
    censored_needed: CensoredPower | None
    looks: LookPenalty
    order: tuple[SheetRun, ...]
    check: OrderCheck
    duration: float | None

    @property
    def comparisons(self) -> int:
        """Oils compared with the reference at one load."""
        return len(self.wanted.lubricants) - 1

    @property
    def spread(self) -> Spread:
        """Whether the comparisons will take one spread for all oils, or each oil's own."""
        return judged_spread(self.file)


def judged_in_days(file: CampaignFile) -> bool:
    """Tell whether the comparisons of a campaign will be made within days."""
    return file.campaign.block == DAY


def judged_spread(file: CampaignFile) -> Spread:
    """Tell which spread the comparisons of a campaign will take."""
    return "one" if file.campaign.spread == "pooled" else "own"


def make_plan(file: CampaignFile, wanted: Wanted, asked: PlanOptions, *, pilot: Pilot | None = None) -> Plan:
    """Plan a campaign.

    The chances are those of the very test by which the campaign will be judged: Welch's t with each oil's own
    spread, or one pooled spread where campaign.toml says so; within days where it declares them as blocks.
    """
    log_sd, repeats, censored = asked.log_sd, asked.repeats, asked.censored
    duration = _seconds(asked.duration)
    if (pilot is None) == (log_sd is None):
        raise UsageError("give either a pilot or the spread: --pilot DIR or --log-sd 0.12")
    found = pilot.log_sd if pilot else float(log_sd or 0.0)
    if not found > 0.0:
        raise UsageError(f"log_sd must be over 0, not {found:g}")
    spread = upper_sd(pilot.log_sd, pilot.df, SAFE) if pilot else found
    response = _response(wanted.response)
    alpha = 1.0 - wanted.confidence
    own = judged_spread(file)
    in_days = judged_in_days(file)
    needed = needed_for(wanted, own, in_days, spread, MOST)
    n = repeats or needed.repeats
    if n is None:
        raise UsageError(
            f"a ratio of {wanted.ratio:g} with a spread of {100 * spread:.2g} % takes more than {MOST} "
            "repeats; choose a ratio further from 1, less power, or name the repeats: --repeats 5"
        )
    if not 2 <= n <= 200:
        raise UsageError(f"repeats must lie between 2 and 200, not {n}")
    share = censored if censored is not None else (pilot.censored if pilot else None)
    films = _films(wanted, response, spread, n, share, own)
    order = order_of(wanted, n)
    return Plan(
        file=file,
        wanted=wanted,
        response=response,
        pilot=pilot,
        log_sd=spread,
        log_sd_found=found,
        needed=needed,
        repeats=n,
        chosen=repeats is not None,
        steps=_steps(wanted, n, spread, found, own, in_days),
        censored_share=share,
        censored=films[0],
        censored_needed=films[1],
        looks=look_penalty((n, n + math.ceil(n / 2)), alpha, seed=wanted.seed),
        order=named_runs(order),
        check=check_run_order(order),
        duration=duration if duration is not None else (pilot.duration if pilot else None),
    )


def _seconds(duration: str | None) -> float | None:
    if duration is None:
        return None
    try:
        seconds = parse_quantity(duration, "time")
    except UnitError as error:
        raise UsageError(f"the duration cannot be read: {error.message}; {error.mend}") from error
    if not seconds > 0.0:
        raise UsageError("the duration must be over 0 s")
    return seconds


def _response(name: str) -> Response:
    known = {one.name: one for one in STANDARD if one.censored_side is None}
    return known.get(name) or Response(
        name=name, label=name.replace("_", " ").capitalize(), unit="1", shown_unit=""
    )


def _films(
    wanted: Wanted, response: Response, spread: float, n: int, share: float | None, own: Spread
) -> tuple[CensoredPower | None, CensoredPower | None]:
    if share is not None and not 0.0 <= share <= 1.0:
        raise UsageError(f"the share still wearing must lie between 0 and 1, not {share:g}")
    # Film pressure is load over area: a scar of 0.8 times the area is a pressure of 1/0.8, with one spread.
    if share is None or share in (0.0, 1.0) or response.name not in ("scar_area", "scar_pressure"):
        return None, None
    ratio = wanted.ratio if response.better == "higher" else 1.0 / wanted.ratio
    alpha, m, pooled = 1.0 - wanted.confidence, len(wanted.lubricants) - 1, own == "one"
    now = censored_power(
        n,
        ratio,
        spread,
        share,
        alpha,
        comparisons=m,
        n_simulations=SIMULATIONS,
        seed=wanted.seed,
        pooled=pooled,
    )
    needed = repeats_for_censored_ratio(
        ratio,
        spread,
        share,
        wanted.power,
        alpha,
        comparisons=m,
        most=MOST,
        n_simulations=SIMULATIONS,
        seed=wanted.seed,
        pooled=pooled,
    )
    return now, needed


def _steps(
    wanted: Wanted, n: int, spread: float, found: float, own: Spread, in_days: bool
) -> tuple[Step, ...]:
    numbers = sorted({2, 3, 4, 5, 6, 8, 10, 12, 15, 20, n} & set(range(2, max(2 * n, 10) + 1)))
    return tuple(
        Step(
            number,
            power_at(wanted, own, in_days, number, wanted.ratio, spread),
            power_at(wanted, own, in_days, number, wanted.ratio, found),
            detectable_at(wanted, own, in_days, number, spread),
        )
        for number in numbers
    )


def treatment_name(lubricant: str, load: float) -> str:
    """Name an oil at a load.

    Examples
    --------
    >>> treatment_name("C-21", 450.0)
    'C-21 at 450 N'
    """
    return f"{lubricant} at {load_text(load)}"
