"""What a plan says: plain sentences, and its machine-readable results."""

from __future__ import annotations

import math
from typing import Any

from pinscar.press.results import SCHEMA
from pinscar.stats.censored_power import CensoredPower
from pinscar.study.plan.study import Plan, Step, judged_in_days
from pinscar.study.plan.table import weights_for
from pinscar.wording import counted, listing, load_text, percent_change, percentage, rounded, significant

WITHIN_DAYS = (
    " The chances are those of comparisons within the days of this plan, since campaign.toml declares days "
    "as blocks."
)

OTHER_BLOCKS = (
    " The chances leave out {block}, which campaign.toml declares as blocks, since the plan does not know "
    "which run will be in which: each block after the first costs the comparison one degree of freedom."
)
FILMS_WITHOUT_BLOCKS = (
    " This simulation leaves out {block}, which campaign.toml declares as blocks: the report will compare "
    "film pressures within them, with a smaller chance than this."
)


def aim(plan: Plan) -> str:
    """Say what is to be shown."""
    change = percent_change(plan.wanted.ratio, plan.response.smaller, plan.response.larger)
    change = change.removeprefix("about ")
    word = "as" if plan.wanted.ratio >= 2.0 else "than"
    return f"{plan.response.label.lower()} {change} {word} {plan.file.campaign.reference}"


def answer_sentence(plan: Plan) -> str:
    """Say how many repeats it takes, or what the repeats asked for give."""
    step = own_step(plan)
    if plan.chosen:
        needed = plan.needed.repeats
        takes = "more than 60" if needed is None else str(needed)
        return (
            f"{_repeats(plan)} of each oil at each load {_show(plan)} a {aim(plan)} with a chance of "
            f"{chance(step.power)}; the wanted {percentage(plan.wanted.power)} takes {takes}."
        )
    return (
        f"{_repeats(plan)} of each oil at each load {_show(plan)} a {aim(plan)} with a chance of "
        f"{chance(step.power)} (wanted: {percentage(plan.wanted.power)})."
    )


def size_sentence(plan: Plan) -> str:
    """Say how many runs that makes."""
    loads = listing([load_text(load) for load in plan.wanted.loads])
    days = max(run.day for run in plan.order)
    most = max(run.of_day for run in plan.order)
    return (
        f"{counted(len(plan.wanted.lubricants), 'oil')} at {loads}: {counted(len(plan.order), 'run')} on "
        f"{counted(days, 'day')}, up to {most} per day."
    )


def spread_sentence(plan: Plan) -> str:
    """Say which spread was planned with, and where it comes from."""
    block = plan.file.campaign.block
    days = WITHIN_DAYS if judged_in_days(plan.file) else OTHER_BLOCKS.format(block=block) if block else ""
    if plan.pilot is None:
        return (
            f"The spread between repeats was given as {spread(plan.log_sd)} and is taken as known: if it is "
            f"larger, the chance is smaller.{days}"
        )
    return (
        f"Repeats of {plan.pilot.id} spread by {spread(plan.log_sd_found)} ({plan.pilot.df} degrees of "
        f"freedom). Planned with {spread(plan.log_sd)}, its upper 80 % confidence limit: a plan made "
        f"with the spread as found is too small in about half of all cases.{days}"
    )


def spread(log_sd: float) -> str:
    """Write a standard deviation of logarithms as a relative spread.

    Examples
    --------
    >>> spread(0.12).replace(chr(160), " ")
    '12 %'
    """
    return f"{significant(spread_percent(log_sd), 2)} %"


def spread_percent(log_sd: float) -> float:
    """Give the relative standard deviation that one of logarithms stands for, in percent."""
    return 100.0 * math.sqrt(math.expm1(log_sd**2))


def chance(power: float) -> str:
    """Write a power as a percentage, never as certainty.

    Examples
    --------
    >>> chance(0.8432).replace(chr(160), " "), chance(0.9996).replace(chr(160), " ")
    ('84 %', 'over 99 %')
    """
    return "over 99 %" if power > 0.99 else f"{100.0 * power:.0f} %"


def own_step(plan: Plan) -> Step:
    """Give what the plan's own repeats give."""
    return next(step for step in plan.steps if step.repeats == plan.repeats)


def detectable_sentence(plan: Plan) -> str:
    """Say what the plan can show at all."""
    ratio = own_step(plan).detectable
    if ratio is None:
        return (
            f"With {plan.repeats} repeats on these days no difference can be shown: within days no runs are "
            "left that tell the spread. Plan more repeats, or fewer days."
        )
    return (
        f"With {plan.repeats} repeats the smallest difference shown with a chance of "
        f"{percentage(plan.wanted.power)} is a ratio of {significant(1.0 / ratio)} or "
        f"{significant(ratio)}: ratios nearer to 1 may stay undecided."
    )


def censored_sentence(plan: Plan) -> str:
    """Say what runs that are still wearing cost the comparison of film pressures."""
    share, now, needed = plan.censored_share, plan.censored, plan.censored_needed
    if share is None:
        return (
            "Not computed: the share of runs still wearing at their end is not given (by a pilot, or "
            "--censored 0.3)."
        )
    if share == 0.0:
        return (
            "No run of the reference is expected to be still wearing at its end, so no film pressure is "
            "a bound."
        )
    if share == 1.0:
        return (
            "All runs of the reference are expected to be still wearing at their end: film pressures would "
            "be bounds only and no number of repeats compares them. Run longer, or compare scar areas."
        )
    if now is None or needed is None:
        return "Not computed: only film pressures are bounds, and this plan is not about scars."
    power = 0.0 if now.power is None else now.power
    takes = "more than 60 repeats" if needed.repeats is None else f"{needed.repeats} repeats"
    return (
        f"With {percentage(rounded(share, 2))} of the reference's runs still wearing, "
        f"{plan.repeats} repeats show the same difference in film pressure with a chance of "
        f"{chance(power)}; {percentage(plan.wanted.power)} takes {takes}."
    )


def censored_detail(plan: Plan) -> str | None:
    """Say what the simulation of censoring assumed."""
    now = plan.censored
    if now is None:
        return None
    where = f"from {plan.pilot.id}" if plan.pilot else "as given"
    undecidable = now.undecidable or 0.0
    rest = (
        f" In {100.0 * undecidable:.2g} % of them too few film pressures were seen for any comparison."
        if undecidable
        else ""
    )
    candidate = 100.0 * now.censored_candidate
    few = "under 1 %" if candidate < 1.0 else f"{candidate:.0f} %"
    return (
        f"The share is {where}; of a candidate with the wanted ratio, {few} would then still be wearing. "
        f"{now.n_simulations} simulated campaigns, seed {now.seed}; the simulation error of the chance is "
        f"{100.0 * (now.standard_error or 0.0):.1f} percentage points.{rest} Runs that last "
        f"until the noise has stopped avoid this cost.{_left_out_of_films(plan)}"
    )


def _left_out_of_films(plan: Plan) -> str:
    block = plan.file.campaign.block
    return "" if block is None else FILMS_WITHOUT_BLOCKS.format(block=block)


def look_sentence(plan: Plan) -> str:
    """Say what it costs to look and add repeats."""
    first, second = plan.looks.looks
    alpha, actual, each = (
        f"{100.0 * value:.2g} %"
        for value in (plan.looks.alpha, plan.looks.actual_alpha, plan.looks.alpha_per_look)
    )
    return (
        f"Looking at {first} repeats and, if no difference shows, again at {second}, each time at {alpha}, "
        f"finds a difference that is not there in {actual} of campaigns. To keep it at {alpha}, decide "
        f"before the first run and judge at {each} at both looks (confidence = "
        f"{1.0 - plan.looks.alpha_per_look:.3f} in campaign.toml)."
    )


def order_sentence(plan: Plan) -> str:
    """Say how well the order is balanced."""
    check = plan.check
    if check.findings:
        return f"The order is not fully balanced: {' '.join(check.findings)}"
    if check.largest_difference == 0:
        return (
            f"Each of the {counted(check.blocks, 'day')} has every oil and load equally often, in "
            "random order."
        )
    return (
        "On each day the numbers of runs of any two oils and loads differ by one at most, and the order "
        f"within each of the {counted(check.blocks, 'day')} is random."
    )


def _repeats(plan: Plan) -> str:
    return counted(plan.repeats, "repeat")


def _show(plan: Plan) -> str:
    return "shows" if plan.repeats == 1 else "show"


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
