"""What the cells of the plan call: one function per section, with its tables, run sheet and chart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from pinscar.campaign.campaign import read_settings
from pinscar.campaign_report.setting import inputs_html
from pinscar.page import style
from pinscar.page.cautions import BENCH
from pinscar.page.markup import Markup, finding, paragraph, table
from pinscar.page.outline import as_html, figure_for_both
from pinscar.press.handover import handed_over
from pinscar.press.inputs import input_hashes
from pinscar.press.results import publish_results
from pinscar.press.subject import read_several
from pinscar.study.plan import words
from pinscar.study.plan.chances import powers_at
from pinscar.study.plan.study import (
    Plan,
    PlanOptions,
    judged_in_days,
    make_plan,
    read_pilot,
    treatment_name,
    wanted_of,
)
from pinscar.study.plan.table import SheetRun, weights_for
from pinscar.study.plan.words import chance, plan_results, runs_of_each_day, spread
from pinscar.wording import load_text, percentage, significant

if TYPE_CHECKING:
    from IPython.display import HTML
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


BOX = Markup(
    '<span style="display:inline-block;width:{}mm;height:{}mm;border:0.2mm solid #8a929a">&#160;</span>'
)
"""A box to write in; its width and height in millimetres are filled in."""
CLEAR = MappingProxyType({"facecolor": style.PAPER, "edgecolor": "none", "pad": 1.0})
"""Ground of a label in the figure, so that no line strikes it through."""
ROOMY = 14
ROOMY_MM, TIGHT_MM = 5.2, 4.2
"""Up to so many runs on a page the boxes are so high [mm], beyond that lower."""


def steps_table(plan: Plan) -> Markup:
    """Tabulate numbers of repeats with what they give."""
    rows = [
        [
            str(step.repeats),
            str(step.repeats * len(plan.wanted.lubricants) * len(plan.wanted.loads)),
            chance(step.power),
            *([chance(step.power_as_found)] if plan.pilot else []),
            "–"
            if step.detectable is None
            else f"{significant(1.0 / step.detectable)} or {significant(step.detectable)}",
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
    """Tabulate the spread of the pilot's repeats."""
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
    """Tabulate how often each oil and load is run on each day."""
    days = sorted({run.day for run in plan.order})
    rows = [
        [treatment_name(one["lubricant"], one["load_N"]), *map(str, one["runs"]), str(one["in_all"])]
        for one in runs_of_each_day(plan)
    ]
    return table(
        ["Oil and load", *[f"Day {day}" for day in days], "In all"],
        rows,
        caption="Runs of each day",
        key="days",
        number_columns=range(1, len(days) + 2),
        long=len(rows) > 20,
    )


def run_sheet(plan: Plan) -> list[Markup]:
    """Tabulate the runs in order, with boxes to write in, each day on a turned page of its own."""
    name = plan.file.campaign.id
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


def _sheet(plan: Plan, runs: Sequence[SheetRun], caption: str, key: str) -> Markup:
    lever = plan.file.rig.lever_ratio != 1.0
    height = ROOMY_MM if len(runs) <= ROOMY else TIGHT_MM
    rows = []
    for run in runs:
        mass = weights_for(plan.file.rig, run.load)
        plates = ["not possible" if mass is None else f"{mass:.2f}"] if lever else []
        boxes = [Markup(BOX).format(width, height) for width in (13, 11, 9, 10, 9, 9, 9, 9, 9, 12, 12, 22)]
        place = f"{run.place} of {run.of_day}"
        rows.append([run.run_id, place, run.lubricant, load_text(run.load), *plates, *boxes])
    return table(
        [
            "Run",
            "Place",
            "Oil",
            "Load",
            *([("Weights", "kg")] if lever else []),
            "Time",
            "Operator",
            "Ring",
            "Pin lot",
            ("Dose", "mL"),
            ("Room", "°C"),
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


WIDE_MM = 120.0


def power_chart(plan: Plan, *, width_mm: float = style.PRINT_WIDTH_MM) -> Figure:
    """Draw the power against the repeats, with the spread planned with and as the pilot found it."""
    most = max(10, 2 * plan.repeats)
    numbers = np.arange(2, most + 1)
    wide = width_mm >= WIDE_MM
    with style.report_style():
        figure = style.new_figure(66.0, width_mm=width_mm)
        axes = figure.subplots()
        _curve(axes, plan, numbers, plan.log_sd, "candidate", "spread planned with" if wide else "planned")
        if plan.pilot is not None:
            _curve(
                axes, plan, numbers, plan.log_sd_found, "reference", "spread as found" if wide else "found"
            )
        axes.axhline(plan.wanted.power, color=style.LIMIT, linewidth=1.0, linestyle=(0, (4, 2)))
        axes.annotate(
            f"wanted {100 * plan.wanted.power:.3g} %",
            (most, plan.wanted.power),
            (0, -3),
            textcoords="offset points",
            ha="right",
            va="top",
            fontsize=style.TEXT_SIZE - 1.0,
            color=style.LIMIT,
        )
        _mark(axes, plan)
        axes.set_ylim(0.0, 1.04)
        axes.set_xlim(1.5, most + 0.5)
        ticks = np.linspace(0.0, 1.0, 6)
        axes.set_yticks(ticks, [f"{100 * tick:.0f}" for tick in ticks])
        step = 1 if most <= 20 else 2 if most <= 40 else 10
        axes.set_xticks(range(2, most + 1, step * (1 if wide else 2)))
        axes.set_xlabel("Repeats of each oil at each load")
        axes.set_ylabel(f"Chance to show {plan.wanted.ratio:g} [%]")
        axes.grid(axis="y", which="major")
    return figure


def _curve(
    axes: Axes,
    plan: Plan,
    numbers: np.ndarray[tuple[int, ...], np.dtype[np.int_]],
    sd: float,
    role: str,
    label: str,
) -> None:
    wanted, look = plan.wanted, style.ROLES[role]
    powers = powers_at(wanted, plan.spread, judged_in_days(plan.file), numbers, sd)
    axes.plot(numbers, powers, marker=look.marker, markersize=3.6, color=look.colour, linewidth=1.2)
    # Where the curve has risen halfway there is room beside it: left of the higher curve, right of the lower.
    place = int(np.argmax(powers >= 0.45)) if bool(np.any(powers >= 0.45)) else powers.size - 1
    left = role == "reference"
    axes.annotate(
        label,
        (numbers[place], powers[place]),
        (-6 if left else 6, 4 if left else -8),
        textcoords="offset points",
        ha="right" if left else "left",
        fontsize=style.TEXT_SIZE - 0.5,
        color=look.colour,
        bbox=dict(CLEAR),
        zorder=5,
    )


def _mark(axes: Axes, plan: Plan) -> None:
    axes.axvline(plan.repeats, color=style.INK, linewidth=0.8, linestyle=(0, (1, 1.5)))
    axes.annotate(
        f"this plan: {plan.repeats}",
        (plan.repeats, 0.0),
        (4, 4),
        textcoords="offset points",
        fontsize=style.TEXT_SIZE - 0.5,
        bbox=dict(CLEAR),
        zorder=5,
    )


@dataclass(frozen=True, slots=True)
class PlanReport:
    """A plan with what its report needs beside.

    Attributes
    ----------
    plan : Plan
        The plan.
    inputs : mapping of str to str
        SHA-256 of each file read.
    """

    plan: Plan
    inputs: Mapping[str, str]


def load(folder: str, asked: PlanOptions) -> PlanReport:
    """Plan a campaign."""
    file, pilot = read_settings(folder), asked.pilot
    earlier = read_pilot(read_several(Path(folder), [pilot])[0], asked.response) if pilot else None
    plan = make_plan(file, wanted_of(file, asked), asked, pilot=earlier)
    handed = handed_over()
    known = (
        input_hashes(Path(folder), {"folder": folder, "pilot": pilot}) if handed is None else handed.inputs
    )
    return PlanReport(plan, known)


def front(report: PlanReport) -> HTML:
    """Show the question, the number of repeats and what it rests on."""
    plan = report.plan
    question = plan.file.campaign.question
    lead = [paragraph(question, "lead")] if question else []
    answer = Markup('<p class="answer">{} {}</p>').format(
        words.size_sentence(plan), words.spread_sentence(plan)
    )
    return as_html([*lead, finding(words.answer_sentence(plan)), answer, _chart(plan)])


def repeats(report: PlanReport) -> HTML:
    """Show what more or fewer repeats give, and the spread of the pilot."""
    plan = report.plan
    pilot = pilot_table(plan)
    return as_html(
        [
            finding(words.detectable_sentence(plan)),
            steps_table(plan),
            *([] if pilot is None else [pilot]),
        ]
    )


def censoring(report: PlanReport) -> HTML:
    """Show what runs still wearing cost."""
    detail = words.censored_detail(report.plan)
    more = [paragraph(detail)] if detail else []
    return as_html([finding(words.censored_sentence(report.plan)), *more])


def looking(report: PlanReport) -> HTML:
    """Show what it costs to look and add repeats."""
    return as_html([finding(words.look_sentence(report.plan))])


def order(report: PlanReport) -> HTML:
    """Show how the runs are spread over the days."""
    plan = report.plan
    return as_html([finding(words.order_sentence(plan)), days_table(plan)])


def sheet(report: PlanReport, blind: bool = False) -> HTML:
    """Show the run sheet."""
    caution = _caution("caution")
    if blind:
        said = Markup(
            "<p>The run sheet is a file of its own, <code>run_sheet.pdf</code> beside the table of runs: "
            "codes on the bottles stand in place of the oils, and <code>blind_key.csv</code> is the key. "
            "Keep it away from the bench until all scars are read.</p>"
        )
        return as_html([caution, said])
    first, *others = run_sheet(report.plan)
    # on paper each day is a page of its own, which begins with the caution
    later = [part for one in others for part in (_caution("caution page-break"), one)]
    return as_html([caution, first, *later])


def _caution(kind: str) -> Markup:
    return Markup('<p class="{}"><strong>At the bench.</strong> {}</p>').format(kind, BENCH)


def provenance(report: PlanReport) -> HTML:
    """Show from which files and with which versions the plan was made."""
    return as_html([inputs_html(report.inputs)])


def publish(report: PlanReport) -> None:
    """Hand the machine-readable results to the report, without showing them."""
    publish_results(plan_results(report.plan))


def _chart(plan: Plan) -> str:
    grey = " Grey: with the spread as the pilot found it." if plan.pilot else ""
    return figure_for_both(
        lambda width: power_chart(plan, width_mm=width),
        alt=words.answer_sentence(plan),
        caption=(
            f"Chance to show a {words.aim(plan)} at one load, against the repeats. Blue: with the spread "
            f"planned with.{grey}"
        ),
        key="power",
    )
