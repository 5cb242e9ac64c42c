"""A rig under control, or not: the reference oil of several campaigns over time.

How often a rig in order raises a signal all the same is found by seeded simulation.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import Campaign
from pinscar.decision.joined_campaigns import combined_runs, unbounded_response, unlike_rig
from pinscar.decision.responses import Response
from pinscar.decision.runs import by_level
from pinscar.errors import InputError, Problem, Severity, UsageError
from pinscar.stats.control import (
    USUAL_RULES,
    OneWayAnova,
    OutOfControlPeriod,
    RigControl,
    one_way_anova,
    rig_control,
)
from pinscar.units import to_unit
from pinscar.wording import counted, listing, load_text

BASELINE = 20
"""Points that the limits rest on unless told otherwise: the usual minimum for individuals charts."""
FEWEST = 8
"""Points under which a chart says nothing: most run rules need eight or nine."""
WEIGHT = 0.3
LIKE = 0.02
"""Relative difference of duration and speed from the level's median that still counts as the same test."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """A stretch of time out of control at one load level.

    Attributes
    ----------
    found : OutOfControlPeriod
        Times, rules and positions.
    first_day, last_day : str
        First and last day on which a rule other than the moving average's points at a point: the average
        remembers earlier points and returns late. Where only the average points, its own days.
    ratio : float
        Typical value on these days over the centre line (on the linear scale: minus the centre).
    campaigns, run_ids : tuple of str
        What was run in it.
    in_baseline : bool
        Whether any of its points is among those that the limits rest on.
    """

    found: OutOfControlPeriod
    first_day: str
    last_day: str
    ratio: float
    campaigns: tuple[str, ...]
    run_ids: tuple[str, ...]
    in_baseline: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlChart:
    """The chart of one load level.

    Attributes
    ----------
    load_level : float
        Load level [N].
    points : DataFrame
        One row a point in order of time: ``time``, ``day``, ``campaign``, ``run_id``, and ``value`` in
        the response's unit.
    control : RigControl
        Charts and signals, on the scale of analysis.
    n_baseline : int
        Points that the limits rest on, the first ones.
    periods : tuple of Period
        Stretches out of control.
    days : OneWayAnova or None
        Runs of the baseline by day, where days have repeats; None else.
    """

    load_level: float
    points: pd.DataFrame
    control: RigControl
    n_baseline: int
    periods: tuple[Period, ...]
    days: OneWayAnova | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RigControlStudy:
    """Control of one rig on its reference oil.

    Attributes
    ----------
    campaigns : tuple of Campaign
        The campaigns, in the order of their first dated run.
    lubricant : str
        The reference oil.
    response : Response
        What is charted.
    points : {"runs", "days"}
        Whether a point is a run or the mean of a day.
    rules : tuple of int
        Run rules applied; the moving average, rule 9, always is.
    weight : float
        Weight of the newest value in the moving average.
    charts : tuple of ControlChart
        By load level; at least one.
    left_out : tuple of str
        A plain sentence for all that had to stay out.
    """

    campaigns: tuple[Campaign, ...]
    lubricant: str
    response: Response
    points: str
    rules: tuple[int, ...]
    weight: float
    charts: tuple[ControlChart, ...]
    left_out: tuple[str, ...]

    @property
    def periods(self) -> tuple[tuple[ControlChart, Period], ...]:
        """All stretches out of control, each with its chart, in order of time."""
        found = [(chart, period) for chart in self.charts for period in chart.periods]
        return tuple(sorted(found, key=lambda pair: pair[1].found.start))


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlOptions:
    """How a reference oil is charted.

    Attributes
    ----------
    response : str
        What to chart: a response that is never a bound.
    baseline : int or None
        Points that the limits rest on, the first ones at each load; None takes all. Where there are fewer,
        all are taken.
    lubricant : str, optional
        The oil charted; the campaigns' own reference where not given.
    points : {"runs", "days"}
        Whether a point is a run or the mean of a day.
    rules : sequence of int, optional
        Run rules, from 1 to 8; the usual ones where not given.
    weight : float
        Weight of the newest value in the moving average.
    judged : str, optional
        The campaign whose runs are held against limits that rest on the earlier ones alone.
    """

    response: str = "scar_area"
    baseline: int | None = BASELINE
    lubricant: str | None = None
    points: str = "runs"
    rules: Sequence[int] | None = None
    weight: float = WEIGHT
    judged: str | None = None


def study_rig_control(campaigns: Sequence[Campaign], asked: ControlOptions | None = None) -> RigControlStudy:
    """Chart the reference oil of several campaigns over time."""
    asked = asked or ControlOptions()
    baseline, points, weight = asked.baseline, asked.points, asked.weight
    rules = asked.rules or USUAL_RULES
    _check_parameters(baseline, points, rules, weight)
    oil = asked.lubricant or _common_reference(campaigns)
    chosen = unbounded_response(campaigns, asked.response)
    runs, left_out = _runs(campaigns, oil, chosen)
    if bool((runs[chosen.name] <= 0.0).any()):
        chosen = replace(chosen, scale="linear")
    charts: list[ControlChart] = []
    for level, own in by_level(runs):
        like, out = _alike(own, level)
        left_out += out
        made = _chart(like, chosen, points, baseline, rules, weight, asked.judged)
        if isinstance(made, ControlChart):
            charts.append(made)
        else:
            left_out.append(made)
    if not charts:
        raise InputError(_nothing(left_out, oil))
    order = sorted(campaigns, key=_first_day)
    return RigControlStudy(
        campaigns=tuple(order),
        lubricant=oil,
        response=chosen,
        points=points,
        rules=tuple(rules),
        weight=weight,
        charts=tuple(charts),
        left_out=tuple(left_out),
    )


def _check_parameters(baseline: int | None, points: str, rules: Sequence[int], weight: float) -> None:
    if points not in ("runs", "days"):
        raise UsageError(f"points must be 'runs' or 'days', not {points!r}")
    if baseline is not None and baseline < FEWEST:
        raise UsageError(f"baseline must be {FEWEST} points or more, or None for all, not {baseline}")
    if not rules or any(rule not in range(1, 9) for rule in rules):
        raise UsageError("rules must be numbers from 1 to 8; rule 9, the moving average, always applies")
    if not 0.0 < weight <= 1.0:
        raise UsageError(f"weight must lie over 0 and up to 1, not {weight:g}")


def _common_reference(campaigns: Sequence[Campaign]) -> str:
    names = list(dict.fromkeys(one.file.campaign.reference for one in campaigns))
    if len(names) > 1:
        message = f"the campaigns have different references: {listing(names)}"
        mend = f"name the oil to chart, such as -p lubricant={names[0]}"
        raise InputError(
            [
                Problem(
                    code="reference-not-shared",
                    severity=Severity.ERROR,
                    file="campaign.toml",
                    message=message,
                    mend=mend,
                )
            ]
        )
    return names[0]


def _runs(campaigns: Sequence[Campaign], oil: str, response: Response) -> tuple[pd.DataFrame, list[str]]:
    """Give the runs that can be charted, and say what cannot."""
    left_out: list[str] = []
    kept: list[Campaign] = []
    for one in campaigns:
        reason = unlike_rig(one.file.rig, campaigns[0].file.rig)
        if reason is None:
            kept.append(one)
        else:
            base = campaigns[0].file.campaign.id
            left_out.append(
                f"Campaign {one.file.campaign.id}: {reason} as in {base}, so its scars are not compared."
            )
    runs = combined_runs(kept, [response.name])
    runs = runs[runs["lubricant"] == oil]
    without = [one.file.campaign.id for one in kept if one.file.campaign.id not in set(runs["campaign"])]
    left_out += [f"Campaign {name}: no run of {oil}." for name in without]
    excluded = runs[runs["excluded"] != ""]
    left_out += [
        f"Run {r.run_id} of {r.campaign}: excluded by the operator ({r.excluded})."
        for r in excluded.itertuples()
    ]
    runs = runs[runs["excluded"] == ""]
    for name, own in runs[runs["time"].isna()].groupby("campaign"):
        left_out.append(f"{counted(len(own), 'run')} of {name}: no date, so no place in time.")
    blank = runs[runs[response.name].isna() & runs["time"].notna()]
    left_out += [
        f"Run {r.run_id} of {r.campaign}: no value of {response.label.lower()}." for r in blank.itertuples()
    ]
    return runs.dropna(subset=["time", "load_level", response.name]), left_out


def _alike(own: pd.DataFrame, level: float) -> tuple[pd.DataFrame, list[str]]:
    odd = pd.Series(False, index=own.index)
    for column in ("duration", "ring_speed"):
        middle = own[column].median()
        odd |= (own[column] - middle).abs() > LIKE * middle
    n = int(odd.sum())
    words = f"{counted(n, 'run')} at {load_text(level)}: duration or speed more than 2 % off the others."
    return own[~odd], [words] if n else []


def _chart(
    own: pd.DataFrame,
    response: Response,
    points: str,
    baseline: int | None,
    rules: Sequence[int],
    weight: float,
    judged: str | None,
) -> ControlChart | str:
    level = float(own["load_level"].iloc[0])
    values = to_unit(own[response.name].to_numpy(dtype=float), response.unit)
    table = own.assign(value=values, day=own["time"].dt.strftime("%Y-%m-%d")).sort_values(
        "time", kind="stable"
    )
    shown = (
        table[["time", "day", "campaign", "run_id", "value"]]
        if points == "runs"
        else _by_day(table, response)
    )
    shown = shown.reset_index(drop=True)
    if len(shown) < FEWEST:
        return f"Load {load_text(level)}: only {counted(len(shown), 'point')}, and a chart needs {FEWEST}."
    n = len(shown) if baseline is None else min(baseline, len(shown))
    if judged is not None:
        n = int((shown["campaign"] != judged).sum())
        if n < FEWEST:
            earlier = counted(n, "earlier point")
            return f"Load {load_text(level)}: {earlier}, and limits need {FEWEST}."
    scaled = on_scale(shown["value"].to_numpy(dtype=float), response)
    first = np.arange(len(shown)) < n
    try:
        control = rig_control(shown["time"].to_numpy(), scaled, first, rules, weight)
    except ValueError:
        return f"Load {load_text(level)}: the values of the baseline do not vary, so no limits follow."
    periods = tuple(_period(found, shown, scaled, control, response, n) for found in control.periods)
    days = _days(table.iloc[:n], response) if points == "runs" else None
    return ControlChart(
        load_level=level, points=shown, control=control, n_baseline=n, periods=periods, days=days
    )


def on_scale(values: NDArray[np.float64], response: Response) -> NDArray[np.float64]:
    """Give values on the scale on which a response is charted."""
    return np.log(values) if response.scale == "log" else values


def _by_day(table: pd.DataFrame, response: Response) -> pd.DataFrame:
    rows = []
    for (day, campaign), own in table.groupby(["day", "campaign"], sort=False):
        mean = float(np.mean(on_scale(own["value"].to_numpy(dtype=float), response)))
        value = float(np.exp(mean)) if response.scale == "log" else mean
        runs = ", ".join(own["run_id"])
        rows.append(
            {"time": own["time"].iloc[0], "day": day, "campaign": campaign, "run_id": runs, "value": value}
        )
    return pd.DataFrame(rows)


def _period(
    found: OutOfControlPeriod,
    points: pd.DataFrame,
    scaled: NDArray[np.float64],
    control: RigControl,
    response: Response,
    n_baseline: int,
) -> Period:
    own = points.iloc[found.first : found.last + 1]
    within = [s for s in control.signals if found.first <= s.first and s.last <= found.last]
    plain = [s for s in within if s.rule != 9] or within
    first, last = min(s.first for s in plain), max(s.last for s in plain)
    away = float(np.mean(scaled[first : last + 1])) - control.individuals.centre
    return Period(
        found=found,
        first_day=str(points["day"].iloc[first]),
        last_day=str(points["day"].iloc[last]),
        ratio=float(np.exp(away)) if response.scale == "log" else away,
        campaigns=tuple(dict.fromkeys(own["campaign"])),
        run_ids=tuple(own["run_id"]),
        in_baseline=found.first < n_baseline,
    )


def _days(baseline: pd.DataFrame, response: Response) -> OneWayAnova | None:
    groups = [on_scale(own["value"].to_numpy(dtype=float), response) for _, own in baseline.groupby("day")]
    if len(groups) < 2 or sum(map(len, groups)) - len(groups) < 3:
        return None
    return one_way_anova(groups)


def _nothing(left_out: Sequence[str], oil: str) -> list[Problem]:
    mend = f"a control chart needs {FEWEST} dated runs of {oil} at one load, on one rig"
    reasons = left_out or [f"there is no run of {oil}"]
    return [
        Problem(
            code="control-too-few",
            severity=Severity.ERROR,
            file="runs.csv",
            message=reason.rstrip("."),
            mend=mend,
        )
        for reason in reasons
    ]


def _first_day(campaign: Campaign) -> str:
    days = [day for day in campaign.runs["run_day"] if day]
    return min(days) if days else "9999"


SIMULATIONS = 1000
SEED = 0


@dataclass(frozen=True, slots=True)
class FalseAlarms:
    """Signals of series that have no cause to give any.

    Attributes
    ----------
    share : float
        Share of simulated series with at least one signal.
    standard_error : float
        Simulation error of that share.
    n_simulations, seed : int
        Size and seed of the simulation.
    """

    share: float
    standard_error: float
    n_simulations: int
    seed: int


def false_alarms(
    n: int,
    n_baseline: int,
    rules: Sequence[int],
    weight: float,
    n_simulations: int = SIMULATIONS,
    seed: int = SEED,
) -> FalseAlarms:
    """Simulate series of independent normal values and count those with a signal.

    Limits are set anew in each series from its own baseline, as in the chart, so the uncertainty of limits
    from few points is in the number.

    Examples
    --------
    >>> 0.1 < false_alarms(20, 20, (1, 2, 5, 6), 0.3, 200).share < 0.3
    True
    """
    rng = np.random.default_rng(seed)
    times = np.arange(n).astype("datetime64[D]")
    first = np.arange(n) < n_baseline
    raised = sum(
        bool(rig_control(times, rng.standard_normal(n), first, rules, weight).signals)
        for _ in range(n_simulations)
    )
    share = raised / n_simulations
    return FalseAlarms(share, math.sqrt(share * (1.0 - share) / n_simulations), n_simulations, seed)
