"""What the cells of the rig control report call: one function a section, each giving ready HTML."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pinscar.decision.control_alarms import FalseAlarms, false_alarms
from pinscar.decision.rig_control import ControlChart, RigControlStudy, study_rig_control
from pinscar.decision.rig_control_results import rig_control_results
from pinscar.decision.wording import counted, load_text
from pinscar.report import control_charts as charts
from pinscar.report import control_tables as tables
from pinscar.report import control_words as words
from pinscar.report import study_page as page
from pinscar.report.markup import Markup, callout, finding
from pinscar.report.results_file import publish_results
from pinscar.report.together import campaigns_table, inputs_of, read_folders
from pinscar.report.trace import trace_of
from pinscar.stats.run_rules import USUAL_RULES

if TYPE_CHECKING:
    from IPython.display import HTML


@dataclass(frozen=True, slots=True)
class RigControlReport:
    """A rig control study with what its report needs beside.

    Parameters
    ----------
    study : RigControlStudy
        The study.
    alarms : mapping of float to FalseAlarms
        False alarms of the chart of each load level.
    inputs : mapping of str to str
        SHA-256 of each file read.
    """

    study: RigControlStudy
    alarms: Mapping[float, FalseAlarms]
    inputs: Mapping[str, str]


def load(
    folders: Sequence[str],
    response: str = "scar_area",
    baseline: int | None = 20,
    lubricant: str | None = None,
    points: str = "runs",
    rules: Sequence[int] | None = None,
    weight: float = 0.3,
) -> RigControlReport:
    """Read campaigns and chart their reference oil.

    Parameters
    ----------
    folders : sequence of str
        The campaign folders.
    response : str
        What to chart.
    baseline : int or None
        Points that the limits rest on; None takes all.
    lubricant : str, optional
        The oil charted; the campaigns' reference where not given.
    points : {"runs", "days"}
        Whether a point is a run or the mean of a day.
    rules : sequence of int, optional
        Run rules; the usual ones where not given.
    weight : float
        Weight of the newest value in the moving average.

    Returns
    -------
    RigControlReport
        The study.
    """
    campaigns = read_folders(folders)
    study = study_rig_control(campaigns, response, baseline, lubricant, points, rules or USUAL_RULES, weight)
    alarms = {
        chart.load_level: false_alarms(len(chart.points), chart.n_baseline, study.rules, study.weight)
        for chart in study.charts
    }
    return RigControlReport(study, alarms, inputs_of(campaigns))


def front(report: RigControlReport) -> HTML:
    """Show whether and when the rig was out of control, and the first chart.

    Parameters
    ----------
    report : RigControlReport
        The study.

    Returns
    -------
    HTML
        Everything above the first section.
    """
    study = report.study
    lead = Markup('<p class="lead">{}</p>').format(
        f"Did the rig stay the same, judged by its reference oil {study.lubricant}?"
    )
    answer = Markup('<p class="answer">{} {}</p>').format(
        words.now_sentence(study), words.size_sentence(study)
    )
    chart = _individuals(study, study.charts[0])
    return page.as_html([lead, finding(words.state_sentence(study)), answer, chart])


def periods(report: RigControlReport) -> HTML:
    """Show the periods out of control, and what to do.

    Parameters
    ----------
    report : RigControlReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    study = report.study
    parts: list[str] = [finding(words.doubt_sentence(study))]
    if study.periods:
        parts.append(tables.periods_table(study))
    if any(period.in_baseline for _, period in study.periods):
        parts.append(
            callout(
                "caution",
                "a signal among the points that set the limits",
                "Centre and limits rest in part on points that stand out themselves. Find the cause, "
                "mark those runs as excluded with the reason, or choose another baseline, and chart "
                "again.",
            )
        )
    parts += [Markup("<h3>What to do</h3>"), page.bullet_list(words.what_to_do(study))]
    return page.as_html(parts)


def averages(report: RigControlReport) -> HTML:
    """Show the charts of the moving average, and the value charts of further load levels.

    Parameters
    ----------
    report : RigControlReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    study = report.study
    parts: list[str] = []
    for chart in study.charts:
        beyond = int(chart.control.ewma.beyond.sum())
        parts.append(
            finding(
                f"At {load_text(chart.load_level)} the moving average was beyond its limits at "
                f"{counted(beyond, 'point')} of {len(chart.points)}."
            )
        )
        parts += [] if chart is study.charts[0] else [_individuals(study, chart)]
        parts.append(_average(study, chart))
    return page.as_html(parts)


def limits(report: RigControlReport) -> HTML:
    """Show centre, limits and rules, and how far they can be trusted.

    Parameters
    ----------
    report : RigControlReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    study = report.study
    parts: list[str] = [finding(words.limits_sentence(study)), tables.limits_table(study, report.alarms)]
    said = [words.alarms_sentence(chart, report.alarms[chart.load_level]) for chart in study.charts]
    said += [text for chart in study.charts if (text := words.days_sentence(chart))]
    said += [
        f"At {load_text(chart.load_level)}: {chart.control.individuals.note}"
        for chart in study.charts
        if chart.control.individuals.note
    ]
    return page.as_html([*parts, page.bullet_list(said), tables.rules_table(study)])


def made(report: RigControlReport) -> HTML:
    """Show the campaigns charted, and what was left out.

    Parameters
    ----------
    report : RigControlReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    study = report.study
    return page.as_html(
        [
            finding(words.size_sentence(study)),
            campaigns_table(study.campaigns, study.lubricant, "Campaigns, in order of time"),
            *page.left_out_parts(study.left_out),
        ]
    )


def every_point(report: RigControlReport) -> HTML:
    """Show every point.

    Parameters
    ----------
    report : RigControlReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    study = report.study
    n = sum(len(chart.points) for chart in study.charts)
    flagged = len(
        {
            (c.load_level, i)
            for c in study.charts
            for s in c.control.signals
            for i in range(s.first, s.last + 1)
        }
    )
    said = finding(f"A rule was triggered at {flagged} of {counted(n, 'point')}.")
    return page.as_html([said, tables.points_table(study)])


def trace(report: RigControlReport) -> HTML:
    """Show from which files and with which versions the report was made.

    Parameters
    ----------
    report : RigControlReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    return page.as_html([trace_of(report.inputs)])


def publish(report: RigControlReport) -> None:
    """Hand the machine-readable results to the report, without showing them.

    Parameters
    ----------
    report : RigControlReport
        The study.
    """
    publish_results(rig_control_results(report.study, report.alarms))


def _individuals(study: RigControlStudy, chart: ControlChart) -> str:
    what = "run" if study.points == "runs" else "daily mean"
    return page.figure_for_both(
        lambda width: charts.individuals_figure(study, chart, width_mm=width),
        alt=words.state_sentence(study),
        caption=(
            f"{study.response.label} of {study.lubricant} at {load_text(chart.load_level)}, every {what} "
            "in order of time; below, the moving range (difference from the point before). Dashed: limits at "
            "three sigma. Shaded, diamonds: out of control; above, the first rule triggered. Points are "
            "evenly spaced, whatever the time between them."
        ),
        key=f"individuals-{study.charts.index(chart) + 1}",
    )


def _average(study: RigControlStudy, chart: ControlChart) -> str:
    return page.figure_for_both(
        lambda width: charts.average_figure(study, chart, width_mm=width),
        alt=(
            f"The moving average at {load_text(chart.load_level)}: beyond its limits at "
            f"{counted(int(chart.control.ewma.beyond.sum()), 'point')} of {len(chart.points)}."
        ),
        caption=(
            f"Exponentially weighted moving average at {load_text(chart.load_level)}, weight "
            f"{study.weight:g} for the newest point. Dashed: its limits at three sigma. Diamonds: beyond "
            "them."
        ),
        key=f"average-{study.charts.index(chart) + 1}",
    )
