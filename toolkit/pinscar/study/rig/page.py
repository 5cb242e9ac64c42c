"""What the cells of the rig control report call: one function per section, with its tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pinscar.campaign_report.setting import inputs_html
from pinscar.decision.rig_control import (
    ControlChart,
    ControlOptions,
    FalseAlarms,
    RigControlStudy,
    false_alarms,
    study_rig_control,
)
from pinscar.page.markup import Markup, bullet_list, callout, finding, paragraph, table, tag
from pinscar.page.outline import as_html, figure_for_both
from pinscar.press.results import publish_results
from pinscar.stats.control import RULES, seen
from pinscar.study import page
from pinscar.study.page import campaign_entries, campaigns_table, inputs_of, read_folders
from pinscar.study.rig import chart as charts
from pinscar.study.rig import words
from pinscar.study.rig.words import (
    day_of,
    period_days,
    rig_control_results,
    rule_counts,
    rules_at,
    shift_words,
    shown_value,
    spread_shown,
)
from pinscar.wording import counted, listing, load_text, sentence, significant

if TYPE_CHECKING:
    from IPython.display import HTML


def periods_table(study: RigControlStudy) -> Markup:
    """Tabulate the periods out of control."""
    rows = [
        [
            period_days(period),
            load_text(chart.load_level),
            sentence(listing(seen(period.found.rules))),
            shift_words(study.response, period.ratio),
            day_of(period.found.last_good_before) or "none before",
            day_of(period.found.first_good_after) or tag("caution", "still open"),
        ]
        for chart, period in study.periods
    ]
    return table(
        [
            "Out of control",
            "Load",
            "What was seen",
            f"{study.response.label}, against usual",
            "Last good before",
            "First good after",
        ],
        rows,
        caption="Periods out of control",
        key="periods",
        note=(
            "Good: a run at which no rule was triggered. The time of change between two checks is unknown. "
            "The moving average remembers earlier points and returns late: its last points are not counted "
            "among the days out of control, nor as good."
        ),
    )


def limits_table(study: RigControlStudy, alarms: Mapping[float, FalseAlarms]) -> Markup:
    """Tabulate centre and limits of each chart."""
    response, rows = study.response, []
    logarithmic = response.scale == "log"
    for chart in study.charts:
        limits = chart.control.individuals
        ends = [
            significant(shown_value(study, end) * response.shown_factor)
            for end in (limits.lower, limits.centre, limits.upper)
        ]
        spread = [
            significant(spread_shown(study, width), 2) for width in (limits.sigma, limits.moving_range_upper)
        ]
        share = alarms[chart.load_level].share
        rows.append(
            [
                load_text(chart.load_level),
                str(len(chart.points)),
                str(chart.n_baseline),
                *ends,
                *spread,
                f"{100.0 * share:.0f}",
            ]
        )
    unit = response.shown_unit
    apart = "%" if logarithmic else unit
    return table(
        [
            "Load",
            "Points",
            "In baseline",
            ("Lower limit", unit),
            ("Centre", unit),
            ("Upper limit", unit),
            ("Sigma", apart),
            ("Moving-range limit", apart),
            ("False-alarm rate per series", "%"),
        ],
        rows,
        caption=f"{response.label} of {study.lubricant}: centre and limits",
        key="limits",
        number_columns=range(1, 9),
    )


def rules_table(study: RigControlStudy) -> Markup:
    """Tabulate the rules applied with the number of times each was triggered."""
    rows = [[sentence(RULES[rule]), str(times)] for rule, times in rule_counts(study)]
    return table(
        ["Triggered by", "Times"],
        rows,
        caption="Run rules applied",
        key="rules",
        number_columns=(1,),
    )


def points_table(study: RigControlStudy) -> Markup:
    """Tabulate every point."""
    rows, classes = [], []
    factor = study.response.shown_factor
    for chart in study.charts:
        for place, point in enumerate(chart.points.to_dict("records")):
            rules = rules_at(chart, place)
            average = shown_value(study, float(chart.control.ewma.averages[place])) * factor
            rows.append(
                [
                    point["run_id"],
                    point["campaign"],
                    point["time"].strftime("%Y-%m-%d %H:%M") if study.points == "runs" else point["day"],
                    load_text(chart.load_level),
                    significant(float(point["value"]) * factor),
                    significant(average),
                    _remark(seen(rules)) if rules else "–",
                ]
            )
            classes.append("flagged" if rules else "")
    unit = study.response.shown_unit
    return table(
        ["Run", "Campaign", "When", "Load", (study.response.label, unit), ("Moving average", unit), "Remark"],
        rows,
        caption=Markup('Every point<span class="file-order">, in order of time</span>'),
        key="points",
        number_columns=(4, 5),
        row_classes=classes,
        long=True,
        sortable=True,
    )


def _remark(found: Sequence[str]) -> Markup:
    """Mark the first thing seen, and let the others wrap behind it."""
    return Markup("{}{}").format(tag("caution", found[0]), "".join(f", {one}" for one in found[1:]))


@dataclass(frozen=True, slots=True)
class RigControlReport:
    """A rig control study with what its report needs beside.

    Attributes
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


def load(folders: Sequence[str], asked: ControlOptions) -> RigControlReport:
    """Read campaigns and chart their reference oil."""
    campaigns = read_folders(folders)
    study = study_rig_control(campaigns, asked)
    alarms = {
        chart.load_level: false_alarms(len(chart.points), chart.n_baseline, study.rules, study.weight)
        for chart in study.charts
    }
    return RigControlReport(study, alarms, inputs_of(campaigns))


def front(report: RigControlReport) -> HTML:
    """Show whether and when the rig was out of control, and the first chart."""
    study = report.study
    lead = paragraph(f"Did the rig stay the same, judged by its reference oil {study.lubricant}?", "lead")
    answer = Markup('<p class="answer">{} {}</p>').format(
        words.now_sentence(study), words.size_sentence(study)
    )
    chart = _individuals(study, study.charts[0])
    return as_html([lead, finding(words.state_sentence(study)), answer, chart])


def periods(report: RigControlReport) -> HTML:
    """Show the periods out of control, and what to do."""
    study = report.study
    parts: list[str] = [finding(words.doubt_sentence(study))]
    if study.periods:
        parts.append(periods_table(study))
    if any(period.in_baseline for _, period in study.periods):
        parts.append(
            callout(
                "caution",
                "a signal among the points that set the limits",
                "Centre and limits rest in part on points that stand out themselves. Find the cause, mark "
                "those runs as excluded with the reason, or choose another baseline, and chart again.",
            )
        )
    parts += [Markup("<h3>What to do</h3>"), bullet_list(words.what_to_do(study))]
    return as_html(parts)


def averages(report: RigControlReport) -> HTML:
    """Show the charts of the moving average, and the value charts of further load levels."""
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
    return as_html(parts)


def limits(report: RigControlReport) -> HTML:
    """Show centre, limits and rules, and how far they can be trusted."""
    study = report.study
    parts: list[str] = [finding(words.limits_sentence(study)), limits_table(study, report.alarms)]
    said = [words.alarms_sentence(chart, report.alarms[chart.load_level]) for chart in study.charts]
    said += [text for chart in study.charts if (text := words.days_sentence(chart))]
    said += [
        f"At {load_text(chart.load_level)}: {chart.control.individuals.note}"
        for chart in study.charts
        if chart.control.individuals.note
    ]
    return as_html([*parts, bullet_list(said), rules_table(study)])


def made(report: RigControlReport) -> HTML:
    """Show the campaigns charted, and what was left out."""
    study = report.study
    return as_html(
        [
            finding(words.size_sentence(study)),
            campaigns_table(study.campaigns, study.lubricant, "Campaigns, in order of time"),
            *page.left_out_parts(study.left_out),
        ]
    )


def every_point(report: RigControlReport) -> HTML:
    """Show every point."""
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
    return as_html([said, points_table(study)])


def provenance(report: RigControlReport) -> HTML:
    """Show from which files and with which versions the report was made."""
    return as_html([inputs_html(report.inputs)])


def publish(report: RigControlReport) -> None:
    """Hand the machine-readable results to the report, without showing them."""
    campaigns = campaign_entries(report.study.campaigns, report.study.lubricant)
    publish_results(rig_control_results(report.study, report.alarms) | {"campaigns": campaigns})


def _individuals(study: RigControlStudy, chart: ControlChart) -> str:
    what = "run" if study.points == "runs" else "daily mean"
    return figure_for_both(
        lambda width: charts.individuals_figure(study, chart, width_mm=width),
        alt=words.state_sentence(study),
        caption=(
            f"{study.response.label} of {study.lubricant} at {load_text(chart.load_level)}, every {what} "
            "in order of time; below, the moving range (difference from the point before), whose limit "
            "is a guide: beyond it is no signal by itself. Dashed: limits at three sigma. Shaded, diamonds: "
            "out of control; above, the first rule triggered. Points are evenly spaced, whatever the time "
            "between them."
        ),
        key=f"individuals-{study.charts.index(chart) + 1}",
    )


def _average(study: RigControlStudy, chart: ControlChart) -> str:
    return figure_for_both(
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
