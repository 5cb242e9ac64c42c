"""What a rig control study says: plain sentences, and its machine-readable results."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from pinscar.decision.responses import Response
from pinscar.decision.rig_control import ControlChart, FalseAlarms, Period, RigControlStudy
from pinscar.press.results import SCHEMA
from pinscar.stats.control import RULES, seen
from pinscar.wording import counted, date_range, fixed, listing, load_text, p_value, significant


def rig_control_results(study: RigControlStudy, alarms: Mapping[float, FalseAlarms]) -> dict[str, Any]:
    """Collect a rig control study into the dictionary that results.json holds."""
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
        "rule_counts": [
            {"rule": rule, "seen": RULES[rule], "times": times} for rule, times in rule_counts(study)
        ],
        "charts": [_chart(study, chart, alarms[chart.load_level]) for chart in study.charts],
        "out_of_control": [
            _period(chart, period, linear=study.response.scale == "linear") for chart, period in study.periods
        ],
    }


def shown_value(study: RigControlStudy, value: float) -> float:
    """Turn a value on the scale of the chart into the response's unit."""
    return float(np.exp(value)) if study.response.scale == "log" else float(value)


def rule_counts(study: RigControlStudy) -> list[tuple[int, int]]:
    """Count how often each rule that was applied was triggered, that of the moving average last."""
    found = [signal.rule for chart in study.charts for signal in chart.control.signals]
    return [(rule, found.count(rule)) for rule in (*study.rules, 9)]


def rules_at(chart: ControlChart, position: int) -> tuple[int, ...]:
    """List the rules that point at a point."""
    return tuple(sorted({s.rule for s in chart.control.signals if s.first <= position <= s.last}))


def _chart(study: RigControlStudy, chart: ControlChart, alarms: FalseAlarms) -> dict[str, Any]:
    limits, average = chart.control.individuals, chart.control.ewma
    return {
        "load_N": chart.load_level,
        "unit": study.response.unit,
        "n": len(chart.points),
        "n_baseline": chart.n_baseline,
        "centre": shown_value(study, limits.centre),
        "lower": shown_value(study, limits.lower),
        "upper": shown_value(study, limits.upper),
        "sigma": limits.sigma,
        **_in_percent(study, limits.sigma, limits.moving_range_upper),
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


def _in_percent(study: RigControlStudy, sigma: float, moving_range: float) -> dict[str, float | None]:
    log = study.response.scale == "log"
    return {
        "sigma_percent": spread_shown(study, sigma) if log else None,
        "moving_range_upper_percent": spread_shown(study, moving_range) if log else None,
    }


def spread_shown(study: RigControlStudy, width: float) -> float:
    """Give a width on the scale of the chart in percent where that is logarithmic, else in the shown unit."""
    log = study.response.scale == "log"
    return 100.0 * float(np.expm1(width)) if log else width * study.response.shown_factor


def _period(chart: ControlChart, period: Period, *, linear: bool) -> dict[str, Any]:
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
        "shift_percent": None if linear else 100.0 * (period.ratio - 1.0),
        "campaigns": list(period.campaigns),
        "run_ids": list(period.run_ids),
        "in_baseline": period.in_baseline,
    }


def _moment(time: np.datetime64 | None) -> str | None:
    return None if time is None else str(np.datetime_as_string(time, unit="s"))


DAY_P = 0.05
"""Level of the test for days that differ."""


def day_of(time: np.datetime64 | None) -> str | None:
    """Write the day of a time."""
    return None if time is None else date_range([str(np.datetime_as_string(time, unit="D"))])


def period_days(period: Period) -> str:
    """Write from when to when a period reaches."""
    return date_range([period.first_day, period.last_day])


def shift_words(response: Response, ratio: float) -> str:
    """Say how a period's values lie against the centre."""
    if response.scale == "linear":
        way = response.larger if ratio > 0.0 else response.smaller
        return f"{way} by {significant(abs(ratio) * response.shown_factor, 2)} {response.shown_unit}"
    way = response.larger if ratio > 1.0 else response.smaller
    return f"{fixed(100.0 * abs(ratio - 1.0), 0)} % {way}"


def state_sentence(study: RigControlStudy) -> str:
    """Say whether and when the rig was out of control."""
    if not study.periods:
        return (
            f"The rig was in control throughout: no rule was triggered by any run of {study.lubricant} "
            f"({span(study)})."
        )
    times = {1: "once", 2: "twice"}.get(len(study.periods), f"{len(study.periods)} times")
    said = [
        f"{period_days(period)} at {load_text(chart.load_level)}, {study.response.label.lower()} "
        f"{shift_words(study.response, period.ratio)} than usual"
        for chart, period in study.periods
    ]
    return f"The rig was out of control {times}: {'; '.join(said)}."


def now_sentence(study: RigControlStudy) -> str:
    """Say how the rig stands at the newest point."""
    newest = max(chart.control.times[-1] for chart in study.charts)
    still = [chart for chart, period in study.periods if period.found.first_good_after is None]
    when = day_of(newest)
    if not still:
        return f"At the newest check, {when}, it was in control."
    where = listing([load_text(chart.load_level) for chart in still])
    return f"At the newest check, {when}, it was still out of control at {where}."


def span(study: RigControlStudy) -> str:
    """Write from when to when the points reach."""
    days = [str(day) for chart in study.charts for day in chart.points["day"]]
    return date_range(days)


def size_sentence(study: RigControlStudy) -> str:
    """Say on how much the charts rest."""
    noun = "run" if study.points == "runs" else "daily mean"
    parts = [
        f"{counted(len(chart.points), noun)} at {load_text(chart.load_level)}, the limits from "
        + ("all of them" if chart.n_baseline == len(chart.points) else f"the first {chart.n_baseline}")
        for chart in study.charts
    ]
    n = len({name for chart in study.charts for name in chart.points["campaign"]})
    return f"{study.lubricant} in {counted(n, 'campaign')} ({span(study)}): {'; '.join(parts)}."


def limits_sentence(study: RigControlStudy) -> str:
    """Say between which limits a single point of a rig in order lies."""
    response, parts = study.response, []
    for chart in study.charts:
        limits = chart.control.individuals
        low, centre, high = (
            significant(shown_value(study, end) * response.shown_factor)
            for end in (limits.lower, limits.centre, limits.upper)
        )
        parts.append(
            f"{low} to {high} {response.shown_unit} at {load_text(chart.load_level)} (centre {centre})"
        )
    return (
        f"While nothing changes, a {response.label.lower()} of {study.lubricant} lies from "
        f"{'; '.join(parts)}."
    )


def alarms_sentence(chart: ControlChart, alarms: FalseAlarms) -> str:
    """Say how often a rig in order gives a false alarm."""
    share = f"{100.0 * alarms.share:.0f} of 100"
    return (
        f"At {load_text(chart.load_level)}, about {share} series of {len(chart.points)} points from an "
        "unchanged rig would give a false alarm. One signal is a reason to run a check; several rules at "
        "once are a reason to stop."
    )


def days_sentence(chart: ControlChart) -> str | None:
    """Say whether runs of one day lie closer together than runs of different days."""
    found = chart.days
    if found is None or found.p is None:
        return None
    where = f"At {load_text(chart.load_level)}, days of the baseline"
    if found.p >= DAY_P:
        return (
            f"{where} do not differ beyond the spread within a day (F test, p = {p_value(found.p)}), so "
            "neighbouring runs give a fair sigma."
        )
    return (
        f"{where} differ more than runs within a day (F test, p = {p_value(found.p)}). Limits from "
        "neighbouring runs are then too narrow and false alarms too frequent; chart daily means instead (-p "
        "points=days)."
    )


def doubt_sentence(study: RigControlStudy) -> str:
    """Say which runs are in doubt."""
    if not study.periods:
        return f"No run made on this rig is in doubt because of its reference oil ({span(study)})."
    parts = []
    for _, period in study.periods:
        before, after = day_of(period.found.last_good_before), day_of(period.found.first_good_after)
        ends = f"after the good check of {before}" if before else "from the first check on"
        parts.append(ends + (f" and before that of {after}" if after else ", up to now"))
    return f"All runs made on this rig {'; and '.join(dict.fromkeys(parts))} are in doubt."


def what_to_do(study: RigControlStudy) -> list[str]:
    """List what to do about what was found."""
    if not study.periods:
        return ["Nothing now. Run the reference oil again at the next check, and before every campaign."]
    items = []
    open_ = [period for _, period in study.periods if period.found.first_good_after is None]
    if open_:
        items.append(
            "Release no result from this rig until a check of the reference oil lies inside the limits again."
        )
    items.append("Mark the runs in doubt, of whatever oil: compare oils within one day only, or repeat them.")
    items += _causes(study)
    items.append(
        "Write down the cause and what was done. Take a new baseline only after a change that is meant "
        "to stay, such as a new lot of rings."
    )
    return items


def _causes(study: RigControlStudy) -> list[str]:
    severe = _severe(study)
    items = []
    if any(severe):
        items.append(
            "A film that fails earlier than usual: look at the ring first (glazed, scored, out of round, "
            "another lot), then at the reference oil (age, water, mixed-up bottle), the load (weights, "
            "lever that rubs), the speed, and the scale of the microscope."
        )
    if not all(severe):
        items.append(
            "A film that seems to carry more than usual: look for load that doesn't arrive (lever that "
            "binds, a missing weight), a slower ring, a shorter run, another pin lot, and the scale of "
            "the microscope."
        )
    return items


def _severe(study: RigControlStudy) -> list[bool]:
    middle = 1.0 if study.response.scale == "log" else 0.0
    higher_is_worse = study.response.better != "higher"
    return [(period.ratio > middle) == higher_is_worse for _, period in study.periods]
