"""Tables of a plan, and the run sheet for the bench."""

from __future__ import annotations

from collections.abc import Sequence

from pinscar.decision.plan import Plan, Run, treatment_name
from pinscar.decision.plan_table import weights_for
from pinscar.decision.wording import load_text, percentage, significant
from pinscar.report.markup import Markup, table
from pinscar.report.plan_words import chance, spread

BOX = Markup(
    '<span style="display:inline-block;width:{}mm;height:{}mm;border:0.2mm solid #8a929a">&#160;</span>'
)
"""A box to write in; its width and height in millimetres are filled in."""
ONE_PAGE = 22
"""Runs that one turned page holds."""
ROOMY = 18
ROOMY_MM, TIGHT_MM = 5.2, 4.2
"""Up to so many runs on a page the boxes are so high [mm], beyond that lower."""


def steps_table(plan: Plan) -> Markup:
    """Tabulate numbers of repeats with what they give.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Markup
        The table.
    """
    rows = [
        [
            str(step.repeats),
            str(step.repeats * len(plan.wanted.lubricants) * len(plan.wanted.loads)),
            chance(step.power),
            *([chance(step.power_as_found)] if plan.pilot else []),
            f"{significant(1.0 / step.detectable)} or {significant(step.detectable)}",
            "this plan" if step.repeats == plan.repeats else "–",
        ]
        for step in plan.steps
    ]
    found = ["With the spread as found"] if plan.pilot else []
    return table(
        [
            "Repeats",
            "Runs in all",
            f"Chance to show {plan.wanted.ratio:g}",
            *found,
            f"Shown with {percentage(plan.wanted.power)}: ratio",
            "Remark",
        ],
        rows,
        caption="What more or fewer repeats give",
        key="steps",
        number_columns=range(2),
        row_classes=["total" if step.repeats == plan.repeats else "" for step in plan.steps],
    )


def pilot_table(plan: Plan) -> Markup | None:
    """Tabulate the spread of the pilot's repeats.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Markup or None
        The table; None without a pilot.
    """
    if plan.pilot is None:
        return None
    rows = [[cell.name, str(cell.n), spread(cell.log_sd)] for cell in plan.pilot.cells]
    return table(
        ["Oil and load", "Runs", "Spread"],
        rows,
        caption=f"{plan.response.label} in {plan.pilot.id}: spread of repeats, as a share of the mean",
        key="pilot",
        number_columns=(1,),
    )


def days_table(plan: Plan) -> Markup:
    """Tabulate how often each oil and load is run on each day.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Markup
        The table.
    """
    days = sorted({run.day for run in plan.order})
    rows = []
    for oil in plan.wanted.lubricants:
        for load in plan.wanted.loads:
            own = [run.day for run in plan.order if run.lubricant == oil and run.load == load]
            rows.append([treatment_name(oil, load), *[str(own.count(day)) for day in days], str(len(own))])
    return table(
        ["Oil and load", *[f"Day {day}" for day in days], "In all"],
        rows,
        caption="Runs of each day",
        key="days",
        number_columns=range(1, len(days) + 2),
        long=len(rows) > 20,
    )


def run_sheet(plan: Plan) -> list[Markup]:
    """Tabulate the runs in order, with boxes to write in, on turned pages of their own.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Markup
        One table where it fits a page, else one a day.
    """
    name = plan.file.campaign.id
    if len(plan.order) <= ONE_PAGE:
        return [_sheet(plan, plan.order, f"Run sheet of {name}", "sheet")]
    days = sorted({run.day for run in plan.order})
    return [
        _sheet(
            plan,
            [run for run in plan.order if run.day == day],
            f"Run sheet of {name}, day {day} of {len(days)}",
            f"sheet-{day}",
        )
        for day in days
    ]


def _sheet(plan: Plan, runs: Sequence[Run], caption: str, key: str) -> Markup:
    lever = plan.file.rig.lever_ratio != 1.0
    height = ROOMY_MM if len(runs) <= ROOMY else TIGHT_MM
    rows = []
    for run in runs:
        mass = weights_for(plan.file.rig, run.load)
        plates = ["not possible" if mass is None else f"{mass:.2f}"] if lever else []
        boxes = [Markup(BOX).format(width, height) for width in (17, 11, 13, 13, 14, 15, 15, 34)]
        place = f"day {run.day}, {run.place} of {run.of_day}"
        rows.append([run.run_id, place, run.lubricant, load_text(run.load), *plates, *boxes])
    return table(
        [
            "Run",
            "When",
            "Oil",
            "Load",
            *([("Weights", "kg")] if lever else []),
            "Date, time",
            "Ring",
            "Stopped, y/n",
            ("Quiet at", "s"),
            ("Hottest", "°C"),
            ("Scar length", "mm"),
            ("Scar width", "mm"),
            "Smoke, drips, remarks",
        ],
        rows,
        caption=(
            f"{caption}: in this order, each with a new pin, the same dose and duration; then copy into "
            "runs.csv"
        ),
        key=key,
        number_columns=(4,) if lever else (),
        long=True,
        landscape=True,
    )
