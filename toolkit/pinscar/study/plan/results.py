"""The machine-readable results of a plan."""

from __future__ import annotations

from typing import Any

from pinscar.press.results import SCHEMA
from pinscar.stats.censored_power import CensoredPower
from pinscar.study.plan.study import Plan, judged_in_days
from pinscar.study.plan.table import weights_for
from pinscar.study.plan.words import spread_percent


def plan_results(plan: Plan) -> dict[str, Any]:
    """Collect a plan into the dictionary that results.json holds."""
    section = plan.file.campaign
    return {
        "schema": SCHEMA,
        "campaign": {
            "id": section.id,
            "title": section.title,
            "question": section.question,
            "reference": section.reference,
            "confidence": plan.wanted.confidence,
        },
        "overall": None,
        "study": _study(plan),
        "pilot": _pilot(plan),
        "repeats": plan.repeats,
        "repeats_needed": plan.needed.repeats,
        "method": plan.needed.method,
        "blocks_left_out": _left_out(plan),
        "steps": [
            {
                "repeats": step.repeats,
                "runs": step.repeats * len(plan.wanted.lubricants) * len(plan.wanted.loads),
                "power": step.power,
                "power_with_spread_as_found": step.power_as_found,
                "detectable_ratio": step.detectable,
                "detectable_ratio_below_1": None if step.detectable is None else 1.0 / step.detectable,
            }
            for step in plan.steps
        ],
        "censored": {
            "share": plan.censored_share,
            "this_plan": _censored(plan.censored),
            "needed": _censored(plan.censored_needed),
        },
        "looks": {
            "runs": list(plan.looks.looks),
            "alpha": plan.looks.alpha,
            "actual_alpha": plan.looks.actual_alpha,
            "alpha_per_look": plan.looks.alpha_per_look,
        },
        "order": [
            {
                "run_id": run.run_id,
                "day": run.day,
                "place": run.place,
                "of_day": run.of_day,
                "lubricant": run.lubricant,
                "load_N": run.load,
                "weights_kg": weights_for(plan.file.rig, run.load),
            }
            for run in plan.order
        ],
        "runs_of_each_day": runs_of_each_day(plan),
        "order_findings": list(plan.check.findings),
    }


def _left_out(plan: Plan) -> dict[str, str | None]:
    """Name the declared block where chances leave it out."""
    block = plan.file.campaign.block
    return {
        "steps": None if judged_in_days(plan.file) else block,
        "censored": None if plan.censored is None else block,
    }


def runs_of_each_day(plan: Plan) -> list[dict[str, Any]]:
    """Count the runs of each oil and load on each day of a plan."""
    days = sorted({run.day for run in plan.order})
    found = []
    for oil in plan.wanted.lubricants:
        for load in plan.wanted.loads:
            own = [run.day for run in plan.order if run.lubricant == oil and run.load == load]
            counts = [own.count(day) for day in days]
            found.append({"lubricant": oil, "load_N": load, "runs": counts, "in_all": len(own)})
    return found


def _study(plan: Plan) -> dict[str, Any]:
    wanted = plan.wanted
    return {
        "kind": "plan",
        "response": wanted.response,
        "ratio": wanted.ratio,
        "power": wanted.power,
        "lubricants": list(wanted.lubricants),
        "loads_N": list(wanted.loads),
        "days": wanted.days,
        "seed": wanted.seed,
        "comparisons": plan.comparisons,
        "log_sd": plan.log_sd,
        "log_sd_found": plan.log_sd_found,
        "duration_s": plan.duration,
    }


def _pilot(plan: Plan) -> dict[str, Any] | None:
    pilot = plan.pilot
    if pilot is None:
        return None
    return {
        "id": pilot.id,
        "log_sd": pilot.log_sd,
        "df": pilot.df,
        "censored": pilot.censored,
        "cells": [
            {"name": one.name, "n": one.n, "log_sd": one.log_sd, "spread_percent": spread_percent(one.log_sd)}
            for one in pilot.cells
        ],
    }


def _censored(found: CensoredPower | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "repeats": found.repeats,
        "power": found.power,
        "standard_error": found.standard_error,
        "censored_reference": found.censored_reference,
        "censored_candidate": found.censored_candidate,
        "undecidable": found.undecidable,
        "simulations": found.n_simulations,
        "seed": found.seed,
    }
