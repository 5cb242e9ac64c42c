"""Audit of the rig: whether it was under control on the campaign's days, by its reference-oil checks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pinscar.campaign.record import Campaign
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.rig_control import ControlChart, Period, RigControlStudy, study_rig_control
from pinscar.errors import PinscarError
from pinscar.stats.control import periods_touching, seen
from pinscar.wording import date_range, listing, load_text

NEAR = np.timedelta64(45, "D")
"""A check further away than this tells nothing of the campaign's days: monthly checks lie nearer."""


def control_findings(campaign: Campaign) -> tuple[Finding, ...]:
    """Find that the rig was out of control on the campaign's days, or that it is unknown.

    Parameters
    ----------
    campaign : Campaign
        A checked campaign.

    Returns
    -------
    tuple of Finding
        A caution for each period out of control that the campaign's days touch; a note where the checks
        can't be charted or lie too far away. None where campaign.toml names no checks.
    """
    return tuple(_findings(campaign)) if campaign.control else ()


def _findings(campaign: Campaign) -> Iterator[Finding]:
    times = _times(campaign.runs)
    if not times.size:
        yield _untold("the runs of this campaign have no dates.")
        return
    try:
        study = study_rig_control(campaign.control)
    except PinscarError as error:
        yield _untold(f"its reference-oil checks cannot be charted ({error}).")
        return
    first, last = times.min(), times.max()
    for chart in study.charts:
        touching = periods_touching([period.found for period in chart.periods], first, last)
        for period in chart.periods:
            if period.found in touching:
                yield _out_of_control(study, chart, period)
    checks = np.concatenate([chart.control.times for chart in study.charts])
    if min(_nearest(checks, first), _nearest(checks, last)) > NEAR:
        yield _untold(f"the nearest check of {study.lubricant} lies more than 45 days from its runs.")


def _times(runs: pd.DataFrame) -> np.ndarray[tuple[int, ...], np.dtype[np.datetime64]]:
    counted = runs[runs["excluded"] == ""]
    days = pd.to_datetime(counted["run_day"].where(counted["run_day"] != ""), errors="coerce")
    return pd.to_datetime(counted["run_at"]).fillna(days).dropna().to_numpy(dtype="datetime64[ns]")


def _nearest(
    checks: np.ndarray[tuple[int, ...], np.dtype[np.datetime64]], time: np.datetime64
) -> np.timedelta64:
    return np.timedelta64(np.min(np.abs(checks - time)))


def _out_of_control(study: RigControlStudy, chart: ControlChart, period: Period) -> Finding:
    days = date_range([period.first_day, period.last_day])
    found = listing(seen(period.found.rules))
    return Finding(
        "rig-out-of-control",
        Weight.CAUTION,
        f"the rig was out of control on {days}{_between(period)}: {study.lubricant} at "
        f"{load_text(chart.load_level)}, {found} of its control chart.",
        "The campaign's days fall into that time. Ratios to the reference run on the same days still hold "
        "where both oils met the same rig; absolute values and limits on them are in doubt.",
    )


def _between(period: Period) -> str:
    before, after = (
        None if time is None else date_range([str(time)[:10]])
        for time in (period.found.last_good_before, period.found.first_good_after)
    )
    if before and after:
        return f", after the good check of {before} and before that of {after}"
    return (
        f", after the good check of {before}"
        if before
        else f", before the good check of {after}"
        if after
        else ""
    )


def _untold(reason: str) -> Finding:
    return Finding(
        "rig-control-unknown",
        Weight.NOTE,
        f"it is unknown whether the rig was under control on the campaign's days: {reason}",
        "A change of the rig would pass for a change of the oils' absolute values.",
    )
