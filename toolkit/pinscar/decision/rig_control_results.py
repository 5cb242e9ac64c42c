"""The machine-readable results of a rig control study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from pinscar.decision.control_alarms import FalseAlarms
from pinscar.decision.results import SCHEMA
from pinscar.decision.rig_control import ControlChart, Period, RigControlStudy
from pinscar.stats.run_rules import seen


def rig_control_results(study: RigControlStudy, alarms: Mapping[float, FalseAlarms]) -> dict[str, Any]:
    """Collect a rig control study into the dictionary that results.json holds.

    Parameters
    ----------
    study : RigControlStudy
        The study.
    alarms : mapping of float to FalseAlarms
        False alarms of the chart of each load level.

    Returns
    -------
    dict
        Plain JSON types; values and limits are in the unit of the response.
    """
    return {
        "schema": SCHEMA,
        "campaigns": [
            {"id": one.file.campaign.id, "title": one.file.campaign.title} for one in study.campaigns
        ],
        "overall": None,
        "study": {
            "kind": "rig control",
            "lubricant": study.lubricant,
            "response": study.response.name,
            "unit": study.response.unit,
            "scale": study.response.scale,
            "points": study.points,
            "rules": [*study.rules, 9],
            "weight": study.weight,
            "in_control": not study.periods,
            "left_out": list(study.left_out),
        },
        "charts": [_chart(study, chart, alarms[chart.load_level]) for chart in study.charts],
        "out_of_control": [_period(chart, period) for chart, period in study.periods],
    }


def shown_value(study: RigControlStudy, value: float) -> float:
    """Turn a value on the scale of the chart into the response's unit.

    Parameters
    ----------
    study : RigControlStudy
        The study.
    value : float
        On the scale of the chart.

    Returns
    -------
    float
        In the unit of the response.
    """
    return float(np.exp(value)) if study.response.scale == "log" else float(value)


def rules_at(chart: ControlChart, position: int) -> tuple[int, ...]:
    """List the rules that point at a point.

    Parameters
    ----------
    chart : ControlChart
        The chart.
    position : int
        Position of the point, in order of time.

    Returns
    -------
    tuple of int
        Numbers of the rules, ascending.
    """
    return tuple(sorted({s.rule for s in chart.control.signals if s.first <= position <= s.last}))


def _chart(study: RigControlStudy, chart: ControlChart, alarms: FalseAlarms) -> dict[str, Any]:
    limits, average = chart.control.individuals, chart.control.ewma
    return {
        "load_N": chart.load_level,
        "n": len(chart.points),
        "n_baseline": chart.n_baseline,
        "centre": shown_value(study, limits.centre),
        "lower": shown_value(study, limits.lower),
        "upper": shown_value(study, limits.upper),
        "sigma": limits.sigma,
        "moving_range_mean": limits.mean_moving_range,
        "moving_range_upper": limits.moving_range_upper,
        "days_p": None if chart.days is None else chart.days.p,
        "false_alarm_share": alarms.share,
        "false_alarm_simulations": alarms.n_simulations,
        "false_alarm_seed": alarms.seed,
        "points": [
            {
                "time": row["time"].isoformat(),
                "campaign": row["campaign"],
                "run_id": row["run_id"],
                "value": float(row["value"]),
                "average": shown_value(study, average.averages[position]),
                "average_lower": shown_value(study, average.lower[position]),
                "average_upper": shown_value(study, average.upper[position]),
                "rules": list(rules_at(chart, position)),
                "seen": seen(rules_at(chart, position)),
            }
            for position, row in enumerate(chart.points.to_dict("records"))
        ],
    }


def _period(chart: ControlChart, period: Period) -> dict[str, Any]:
    found = period.found
    return {
        "load_N": chart.load_level,
        "first_day": period.first_day,
        "last_day": period.last_day,
        "start": _moment(found.start),
        "end": _moment(found.end),
        "last_good_before": _moment(found.last_good_before),
        "first_good_after": _moment(found.first_good_after),
        "rules": list(found.rules),
        "seen": seen(found.rules),
        "ratio_or_difference": period.ratio,
        "campaigns": list(period.campaigns),
        "run_ids": list(period.run_ids),
        "in_baseline": period.in_baseline,
    }


def _moment(time: np.datetime64 | None) -> str | None:
    return None if time is None else str(np.datetime_as_string(time, unit="s"))
