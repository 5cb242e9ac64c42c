"""Tables of a rig control report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from pinscar.decision.control_alarms import FalseAlarms
from pinscar.decision.rig_control import RigControlStudy
from pinscar.decision.rig_control_results import rules_at, shown_value
from pinscar.decision.wording import listing, load_text, sentence, significant
from pinscar.report.control_words import day_of, period_days, shift_words
from pinscar.report.markup import Markup, table, tag
from pinscar.stats.run_rules import RULES, seen


def periods_table(study: RigControlStudy) -> Markup:
    """Tabulate the periods out of control.

    Parameters
    ----------
    study : RigControlStudy
        The study; it has at least one.

    Returns
    -------
    Markup
        The table.
    """
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
            "among the days out of control, but not as good either."
        ),
    )


def limits_table(study: RigControlStudy, alarms: Mapping[float, FalseAlarms]) -> Markup:
    """Tabulate centre and limits of each chart.

    Parameters
    ----------
    study : RigControlStudy
        The study.
    alarms : mapping of float to FalseAlarms
        False alarms of each load level's chart.

    Returns
    -------
    Markup
        The table.
    """
    response, rows = study.response, []
    logarithmic = response.scale == "log"
    for chart in study.charts:
        limits = chart.control.individuals
        ends = [
            significant(shown_value(study, end) * response.shown_factor)
            for end in (limits.lower, limits.centre, limits.upper)
        ]
        spread = [
            significant(100.0 * float(np.expm1(width)) if logarithmic else width * response.shown_factor, 2)
            for width in (limits.sigma, limits.moving_range_upper)
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
    """Tabulate the rules applied with the number of times each was triggered.

    Parameters
    ----------
    study : RigControlStudy
        The study.

    Returns
    -------
    Markup
        The table.
    """
    found = [signal.rule for chart in study.charts for signal in chart.control.signals]
    rows = [[sentence(RULES[rule]), str(found.count(rule))] for rule in (*study.rules, 9)]
    return table(
        ["Triggered by", "Times"],
        rows,
        caption="Run rules applied",
        key="rules",
        number_columns=(1,),
    )


def points_table(study: RigControlStudy) -> Markup:
    """Tabulate every point.

    Parameters
    ----------
    study : RigControlStudy
        The study.

    Returns
    -------
    Markup
        The table.
    """
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
