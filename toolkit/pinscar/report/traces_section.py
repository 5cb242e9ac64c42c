"""The part of the report on traces: finding, figure, table and method, where a campaign has any."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Any

from pinscar.decision.analysis import Analysis
from pinscar.decision.evaluate import rig_geometry
from pinscar.decision.measurement import relative_uncertainty
from pinscar.decision.trace_summary import RunTrace, run_traces, stop_told
from pinscar.evidence.sound import QuietHeard
from pinscar.report import recordings, trace_words
from pinscar.report.markup import finding
from pinscar.report.trace_chart import MOST_RUNS, TraceDrawn, trace_figure


def traces_parts(analysis: Analysis) -> list[str]:
    """Show what the traces tell of temperature and friction.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    list of str
        HTML; empty where the campaign has no traces.
    """
    runs = traces_drawn(analysis)
    if not runs:
        return []
    roles = {one.told.lubricant: analysis.campaign.file.role_of(one.told.lubricant) for one in runs}
    sentence = trace_words.trace_sentence(runs)
    shown = runs[:MOST_RUNS]
    tables = (
        trace_words.warming_table(runs),
        trace_words.energy_table(runs, _volume_uncertainty(analysis, runs)),
    )
    return [
        finding(sentence),
        trace_figure(shown, roles, total=len(runs), sentence=sentence),
        *(one for one in tables if one is not None),
        trace_words.trace_method(analysis.confidence),
    ]


def traces_drawn(analysis: Analysis, only: Collection[str] | None = None) -> list[TraceDrawn]:
    """Read the traces of the runs that count, and what their recordings say of the first of them.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    only : collection of str, optional
        The runs; all where not given.

    Returns
    -------
    list of TraceDrawn
        Of the runs that have a trace, in the order of the runs table.
    """
    campaign, runs = analysis.campaign, analysis.included
    runs = runs if only is None else runs[runs["run_id"].isin(only)]
    told = run_traces(runs, campaign.runs, campaign.traces)
    shown = [one.run_id for one in told[:MOST_RUNS]]
    heard = {one.run_id: one.heard for one in recordings.listen(campaign, analysis.confidence, shown)}
    records = {run["run_id"]: run for run in analysis.included.to_dict("records")}
    return [_one(analysis, one, records[one.run_id], heard.get(one.run_id)) for one in told]


def _one(analysis: Analysis, told: RunTrace, run: Mapping[Any, Any], heard: QuietHeard | None) -> TraceDrawn:
    steps = analysis.campaign.load_steps
    own = steps[steps["run_id"] == told.run_id]
    loads = tuple(zip(own["start"].tolist(), own["load"].tolist(), strict=True)) or ((0.0, told.load),)
    stop = stop_told(told.trace, steps, run, analysis.confidence)
    return TraceDrawn(told, loads, float(run["quiet_time"]), heard, stop)


def _volume_uncertainty(analysis: Analysis, runs: list[TraceDrawn]) -> list[float]:
    rig = analysis.campaign.file.rig
    relative = relative_uncertainty(analysis.included, rig, rig_geometry(rig), "wear_volume")
    if relative is None:
        return [math.nan] * len(runs)
    by_run = dict(zip(analysis.included["run_id"], relative.tolist(), strict=True))
    return [by_run[one.told.run_id] for one in runs]
