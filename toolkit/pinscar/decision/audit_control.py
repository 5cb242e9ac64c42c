"""Audit of the rig: whether it was under control on the campaign's days, by its reference-oil checks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pinscar.campaign.model import Campaign
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.rig_control import ControlChart, Period, RigControlStudy, study_rig_control
from pinscar.errors import PinscarError
from pinscar.stats.control import periods_touching, seen

NEAR = np.timedelta64(45, "D")
"""A check further away than this tells nothing of the campaign's days: monthly checks lie nearer."""


def control_findings(campaign: Campaign) -> tuple[Finding, ...]:
    """Find that the rig was out of control on the campaign's days, or that it is unknown."""
    return tuple(_findings(campaign)) if campaign.control else ()


def _findings(campaign: Campaign) -> Iterator[Finding]:
    times = _times(campaign.runs)
    if not times.size:
        yield _untold("rig-without-dates")
        return
    try:
        study = study_rig_control(campaign.control)
    except PinscarError as error:
        yield _untold("rig-not-charted", error=str(error))
        return
    first, last = times.min(), times.max()
    for chart in study.charts:
        touching = periods_touching([period.found for period in chart.periods], first, last)
        for period in chart.periods:
            if period.found in touching:
                yield _out_of_control(study, chart, period)
    checks = np.concatenate([chart.control.times for chart in study.charts])
    if min(_nearest(checks, first), _nearest(checks, last)) > NEAR:
        yield _untold("rig-checked-far-off", oil=study.lubricant)


def _times(runs: pd.DataFrame) -> np.ndarray[tuple[int, ...], np.dtype[np.datetime64]]:
    counted = runs[runs["excluded"] == ""]
    days = pd.to_datetime(counted["run_day"].where(counted["run_day"] != ""), errors="coerce")
    return pd.to_datetime(counted["run_at"]).fillna(days).dropna().to_numpy(dtype="datetime64[ns]")


def _nearest(
    checks: np.ndarray[tuple[int, ...], np.dtype[np.datetime64]], time: np.datetime64
) -> np.timedelta64:
    return np.timedelta64(np.min(np.abs(checks - time)))


def _out_of_control(study: RigControlStudy, chart: ControlChart, period: Period) -> Finding:
    return Finding(
        id="rig-out-of-control",
        severity=Weight.CAUTION,
        values={
            "days": [period.first_day, period.last_day],
            "checks": [
                None if time is None else str(time)[:10]
                for time in (period.found.last_good_before, period.found.first_good_after)
            ],
            "oil": study.lubricant,
            "load": chart.load_level,
            "seen": list(seen(period.found.rules)),
        },
    )


def _untold(text: str, **values: str) -> Finding:
    return Finding(id="rig-control-unknown", severity=Weight.NOTE, values=values, text=text)
