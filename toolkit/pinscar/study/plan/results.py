"""The machine-readable results of a plan."""

from __future__ import annotations

from typing import Any

from pinscar.press.results import SCHEMA
from pinscar.stats.censored_power import CensoredPower
from pinscar.study.plan.study import Plan


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
        "steps": [
            {
                "repeats": step.repeats,
                "power": step.power,
                "power_with_spread_as_found": step.power_as_found,
                "detectable_ratio": step.detectable,
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
                "lubricant": run.lubricant,
                "load_N": run.load,
            }
            for run in plan.order
        ],
        "order_findings": list(plan.check.findings),
    }


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
        "cells": [{"name": one.name, "n": one.n, "log_sd": one.log_sd} for one in pilot.cells],
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
