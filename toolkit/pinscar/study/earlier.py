"""What the campaign report shows of earlier campaigns: the reference's control chart, oils tested before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pinscar.decision.earlier import Beside, Earlier, look_back
from pinscar.decision.record import Analysis
from pinscar.decision.rig_control import ControlChart, RigControlStudy
from pinscar.page.markup import Markup, finding, method_note, table, tag
from pinscar.page.outline import as_html, figure_for_both
from pinscar.study.page import left_out_parts
from pinscar.study.rig import chart as charts
from pinscar.study.rig.words import rules_at, shown_value
from pinscar.wording import (
    counted,
    date_range,
    listing,
    load_text,
    percentage,
    sentence,
    significant,
    with_interval,
)

if TYPE_CHECKING:
    from IPython.display import HTML

METHOD = (
    "Limits at three sigma from the moving ranges of the earlier runs of the reference alone, on the "
    "logarithm (individuals chart, ISO 7870-2, from memory); the runs of this campaign are held against "
    "them. Oils are joined through the reference: each ratio is to the reference runs of its own campaign, "
    "with the interval that its own report gives. An interval holds within its campaign; how far a ratio "
    "moves between campaigns is not in it, so no test is made across campaigns."
)


def of(analysis: Analysis) -> Earlier | None:
    """Look at the earlier campaigns that campaign.toml names."""
    return look_back(analysis.campaign, analysis.comparisons, analysis.confidence)


def shown(analysis: Analysis, found: Earlier | None, detail: str = "standard") -> HTML:
    """Show the reference oil over time and oils tested before; nothing where none are named, or in brief."""
    if found is None or detail == "brief":
        return as_html([])
    parts: list[str] = [Markup("<h2>Beside earlier campaigns</h2>")]
    name = analysis.campaign.file.campaign.id
    if found.study is None:
        parts.append(finding(f"The reference oil is not charted: {sentence(found.no_chart)}"))
    else:
        parts.append(finding(" ".join(_state(found.study, chart, name) for chart in found.study.charts)))
        parts += [_figure(found.study, chart, name) for chart in found.study.charts]
    if any(one.is_earlier for one in found.oils):
        parts.append(_table(analysis, found))
    parts.append(method_note(METHOD))
    return as_html([*parts, *(left_out_parts(found.left_out) if found.left_out else [])])


def _now(chart: ControlChart, name: str) -> list[int]:
    return [place for place, one in enumerate(chart.points["campaign"]) if one == name]


def _signalled(chart: ControlChart, name: str) -> list[str]:
    return [str(chart.points["run_id"].iloc[p]) for p in _now(chart, name) if rules_at(chart, p)]


def _state(study: RigControlStudy, chart: ControlChart, name: str) -> str:
    """Say whether the reference of this campaign lies where it did before."""
    now, at = _now(chart, name), load_text(chart.load_level)
    if not now:
        return f"At {at} {study.lubricant} was not run in this campaign."
    earlier = counted(chart.n_baseline, "earlier run")
    runs = _signalled(chart, name)
    if not runs:
        return (
            f"At {at} all {counted(len(now), 'run')} of {study.lubricant} lie within the limits of "
            f"{earlier}, and no rule is triggered."
        )
    named = listing(runs) if len(runs) <= 4 else f"{listing(runs[:4])} and more"
    return (
        f"At {at} a rule is triggered at {len(runs)} of {counted(len(now), 'run')} of {study.lubricant} "
        f"({named}), by the limits of {earlier}: the rig, the pins or the reader may have changed."
    )


def _figure(study: RigControlStudy, chart: ControlChart, name: str) -> str:
    marks = " Shaded, diamonds: a rule is triggered." if chart.control.signals else ""
    return figure_for_both(
        lambda width: charts.individuals_figure(study, chart, width_mm=width),
        alt=_state(study, chart, name),
        caption=(
            f"{study.response.label} of {study.lubricant} at {load_text(chart.load_level)}, every run in "
            f"order of time: the first {chart.n_baseline} are of earlier campaigns, the last "
            f"{len(_now(chart, name))} of this one. Below, the moving range. Dashed: limits at three sigma, "
            f"from the earlier runs.{marks} Points are evenly spaced."
        ),
        key=f"reference-{study.charts.index(chart) + 1}",
    )


def _table(analysis: Analysis, found: Earlier) -> Markup:
    rows = [
        [
            one.comparison.result.subject,
            load_text(one.comparison.load_level),
            Markup("<em>earlier</em>: {}").format(one.campaign) if one.is_earlier else "this campaign",
            date_range(one.days) if one.days else "not recorded",
            str(one.comparison.result.n),
            str(one.comparison.result.n_reference),
            _ratio(one),
        ]
        for one in found.oils
    ]
    return table(
        [
            "Oil",
            "Load",
            "Campaign",
            "Days",
            "n",
            f"n of {analysis.reference}",
            f"Scar area over {analysis.reference}",
        ],
        rows,
        caption=(
            f"Oils of this and of earlier campaigns, each over {analysis.reference} of its own campaign, "
            f"with {percentage(analysis.confidence)} intervals"
        ),
        key="earlier",
        number_columns=[4, 5],
        long=len(rows) > 14,
    )


def _ratio(one: Beside) -> str | Markup:
    result = one.comparison.result
    if one.comparison.blocked is not None or one.comparison.unlike is not None:
        return tag("blocks", "not compared like for like")
    if result.ratio is None:
        return "not known"
    if result.low is None or result.high is None:
        return f"{significant(result.ratio)}, no interval"
    return with_interval(result.ratio, result.low, result.high)


def entries(analysis: Analysis, found: Earlier | None) -> dict[str, Any]:
    """Give the same as results.json holds it; nothing where no earlier campaign is named."""
    if found is None:
        return {}
    name = analysis.campaign.file.campaign.id
    told = {
        "campaigns": list(found.campaigns),
        "charts": [_chart(found.study, one, name) for one in found.study.charts] if found.study else [],
        "no_chart": found.no_chart or None,
        "oils": [_oil(one) for one in found.oils],
        "left_out": list(found.left_out),
    }
    return {"reference_history": told}


def _chart(study: RigControlStudy, chart: ControlChart, name: str) -> dict[str, Any]:
    limits = chart.control.individuals
    return {
        "lubricant": study.lubricant,
        "load_N": chart.load_level,
        "response": study.response.name,
        "unit": study.response.unit,
        "n_earlier": chart.n_baseline,
        "n": len(_now(chart, name)),
        "lower": shown_value(study, limits.lower),
        "centre": shown_value(study, limits.centre),
        "upper": shown_value(study, limits.upper),
        "triggered": _signalled(chart, name),
    }


def _oil(one: Beside) -> dict[str, Any]:
    result = one.comparison.result
    return {
        "lubricant": result.subject,
        "reference": result.reference,
        "campaign": one.campaign,
        "earlier": one.is_earlier,
        "days": list(one.days),
        "load_N": one.comparison.load_level,
        "response": one.comparison.response.name,
        "n": result.n,
        "n_reference": result.n_reference,
        "ratio": result.ratio,
        "ci_low": result.low,
        "ci_high": result.high,
        "unlike": one.comparison.unlike,
        "blocked": one.comparison.blocked,
    }
