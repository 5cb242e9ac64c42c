"""A campaign planned: repeats for a ratio and power, the cost of censoring and of looking, the order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pinscar.campaign.model import CampaignFile
from pinscar.decision.pilot import Pilot
from pinscar.decision.responses import STANDARD, Response
from pinscar.decision.wanted import Wanted
from pinscar.decision.wording import load_text
from pinscar.errors import UsageError
from pinscar.stats.censored_power import CensoredPower, censored_power, repeats_for_censored_ratio
from pinscar.stats.look import LookPenalty, look_penalty
from pinscar.stats.planning import RepeatsPlan, detectable_ratio, ratio_power, repeats_for_ratio, upper_sd
from pinscar.stats.run_order import OrderCheck, PlannedRun, check_run_order, randomised_run_order

MOST = 60
"""Repeats of each oil that are looked at; no bench makes more."""
SAFE = 0.8
"""One-sided confidence of the spread that is planned with, where it comes from a pilot."""
SIMULATIONS = 2000


@dataclass(frozen=True, slots=True)
class Step:
    """What one number of repeats gives.

    Parameters
    ----------
    repeats : int
        Runs of each oil at each load.
    power : float
        Chance of showing the wanted ratio with the spread planned with.
    power_as_found : float
        The same with the spread as the pilot found it.
    detectable : float
        Smallest ratio over 1 that is shown with the wanted power.
    """

    repeats: int
    power: float
    power_as_found: float
    detectable: float


@dataclass(frozen=True, slots=True)
class Run:
    """One planned run.

    Parameters
    ----------
    run_id, lubricant : str
        Its name and oil.
    load : float
        Load [N].
    day, place, of_day : int
        Day, place within it, and runs of that day.
    """

    run_id: str
    lubricant: str
    load: float
    day: int
    place: int
    of_day: int


@dataclass(frozen=True, slots=True)
class Plan:
    """A planned campaign.

    Parameters
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
    order : tuple of Run
        The runs in order.
    check : OrderCheck
        How well the order is balanced.
    duration : float or None
        Duration of a run [s]; None where nobody said.
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
    order: tuple[Run, ...]
    check: OrderCheck
    duration: float | None

    @property
    def comparisons(self) -> int:
        """Oils compared with the reference at one load."""
        return len(self.wanted.lubricants) - 1


def make_plan(
    file: CampaignFile,
    wanted: Wanted,
    *,
    pilot: Pilot | None = None,
    log_sd: float | None = None,
    repeats: int | None = None,
    censored: float | None = None,
    duration: float | None = None,
) -> Plan:
    """Plan a campaign.

    Parameters
    ----------
    file : CampaignFile
        campaign.toml.
    wanted : Wanted
        What is to be achieved; see `pinscar.decision.wanted`.
    pilot : Pilot, optional
        An earlier campaign; its spread is raised to its upper 80 % confidence limit, since a plan made with
        the spread as found falls short about every second time.
    log_sd : float, optional
        Standard deviation of the logarithms, taken as known; one of this and the pilot is needed.
    repeats : int, optional
        Runs of each oil at each load; those that the wanted power takes where not given.
    censored : float, optional
        Share of the reference's runs expected to be still wearing at their end [1]; the pilot's where not
        given.
    duration : float, optional
        Duration of a run [s]; the pilot's where not given.

    Returns
    -------
    Plan
        The plan.

    Raises
    ------
    UsageError
        Where what is asked for is out of range, or takes more than 60 repeats.
    """
    if (pilot is None) == (log_sd is None):
        raise UsageError("give either a pilot or the spread: --pilot DIR or --log-sd 0.12")
    found = pilot.log_sd if pilot else float(log_sd or 0.0)
    if not found > 0.0:
        raise UsageError(f"log_sd must be over 0, not {found:g}")
    spread = upper_sd(pilot.log_sd, pilot.df, SAFE) if pilot else found
    response = _response(wanted.response)
    m, alpha = len(wanted.lubricants) - 1, 1.0 - wanted.confidence
    needed = repeats_for_ratio(wanted.ratio, spread, wanted.power, alpha, comparisons=m, most=MOST)
    n = repeats or needed.repeats
    if n is None:
        raise UsageError(
            f"a ratio of {wanted.ratio:g} with a spread of {100 * spread:.2g} % takes more than {MOST} "
            "repeats; choose a ratio further from 1, less power, or name the repeats: --repeats 5"
        )
    if not 2 <= n <= 200:
        raise UsageError(f"repeats must lie between 2 and 200, not {n}")
    share = censored if censored is not None else (pilot.censored if pilot else None)
    films = _films(wanted, response, spread, n, m, share)
    order = _order(wanted, n)
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
        steps=_steps(wanted, n, spread, found, m),
        censored_share=share,
        censored=films[0],
        censored_needed=films[1],
        looks=look_penalty((n, n + math.ceil(n / 2)), alpha, seed=wanted.seed),
        order=named_runs(order),
        check=check_run_order(order),
        duration=duration if duration is not None else (pilot.duration if pilot else None),
    )


def _response(name: str) -> Response:
    known = {one.name: one for one in STANDARD if one.censored_side is None}
    return known.get(name) or Response(name, name.replace("_", " ").capitalize(), "1", "")


def _films(
    wanted: Wanted, response: Response, spread: float, n: int, m: int, share: float | None
) -> tuple[CensoredPower | None, CensoredPower | None]:
    if share is not None and not 0.0 <= share <= 1.0:
        raise UsageError(f"the share still wearing must lie between 0 and 1, not {share:g}")
    # Film pressure is load over area: a scar of 0.8 times the area is a pressure of 1/0.8, with one spread.
    if share is None or share in (0.0, 1.0) or response.name not in ("scar_area", "scar_pressure"):
        return None, None
    ratio = wanted.ratio if response.better == "higher" else 1.0 / wanted.ratio
    alpha = 1.0 - wanted.confidence
    now = censored_power(
        n, ratio, spread, share, alpha, comparisons=m, n_simulations=SIMULATIONS, seed=wanted.seed
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
    )
    return now, needed


def _steps(wanted: Wanted, n: int, spread: float, found: float, m: int) -> tuple[Step, ...]:
    numbers = sorted({2, 3, 4, 5, 6, 8, 10, 12, 15, 20, n} & set(range(2, max(2 * n, 10) + 1)))
    alpha = 1.0 - wanted.confidence
    powers, as_found = (
        ratio_power(np.array(numbers), wanted.ratio, sd, alpha, comparisons=m) for sd in (spread, found)
    )
    return tuple(
        Step(
            number,
            float(power),
            float(other),
            detectable_ratio(number, spread, wanted.power, alpha, comparisons=m),
        )
        for number, power, other in zip(numbers, powers, as_found, strict=True)
    )


def _order(wanted: Wanted, n: int) -> tuple[PlannedRun, ...]:
    treatments = [f"{oil} at {load!r}" for oil in wanted.lubricants for load in wanted.loads]
    total = n * len(treatments)
    return randomised_run_order(treatments, n, math.ceil(total / wanted.days), wanted.seed)


def named_runs(order: Sequence[PlannedRun]) -> tuple[Run, ...]:
    """Name the runs of an order whose treatments are oils at loads.

    Parameters
    ----------
    order : sequence of PlannedRun
        The runs in order; each treatment is written ``"C-21 at 450.0"``, load [N].

    Returns
    -------
    tuple of Run
        The same runs, called run-01, run-02 and so on.
    """
    digits = max(2, len(str(len(order))))
    sizes = {run.block: 0 for run in order}
    for run in order:
        sizes[run.block] += 1
    runs = []
    for run in order:
        oil, _, load = run.treatment.rpartition(" at ")
        runs.append(
            Run(f"run-{run.position:0{digits}d}", oil, float(load), run.block, run.place, sizes[run.block])
        )
    return tuple(runs)


def treatment_name(lubricant: str, load: float) -> str:
    """Name an oil at a load.

    Parameters
    ----------
    lubricant : str
        The oil.
    load : float
        Load [N].

    Returns
    -------
    str
        Both in words.

    Examples
    --------
    >>> treatment_name("C-21", 450.0)
    'C-21 at 450 N'
    """
    return f"{lubricant} at {load_text(load)}"
