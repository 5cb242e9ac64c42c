"""The report's figures: each drawn for print and for a phone, with caption and text alternative."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pinscar.decision.analysis import Analysis
from pinscar.decision.duty import BenchDuty, JointDuty
from pinscar.decision.growth import Growth
from pinscar.decision.responses import Response
from pinscar.decision.wording import counted, limit_number, percentage
from pinscar.report import openers, ratio_chart, style
from pinscar.report.contact_chart import contact_chart as draw_contact
from pinscar.report.duty_chart import duty_chart
from pinscar.report.growth_chart import growth_chart
from pinscar.report.interval_chart import Limit, interval_chart

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

NARROW_MM = 92.0


def response_figure(analysis: Analysis, response: Response, *, key: str) -> str:
    """Draw the estimates of a response with every run.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    response : Response
        The response.
    key : str
        Name for references.

    Returns
    -------
    str
        A ``<figure>`` element.
    """
    found = [s for s in analysis.summaries if s.response.name == response.name]
    roles = {s.cell.lubricant: analysis.campaign.file.role_of(s.cell.lubricant) for s in found}
    limits = limits_of(analysis, response)
    return _both(
        lambda width: interval_chart(response, found, roles, limits, width_mm=width),
        alt=openers.response_levels(analysis, response),
        caption=_interval_caption(analysis, response, limits),
        key=key,
    )


def ratio_figure(analysis: Analysis, response: Response, *, key: str) -> str:
    """Draw every oil's ratio to the reference.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    response : Response
        A response on the log scale.
    key : str
        Name for references.

    Returns
    -------
    str
        A ``<figure>`` element.
    """
    found = [
        c for c in analysis.comparisons if c.response.name == response.name and c.result.ratio is not None
    ]
    roles = {c.result.subject: analysis.campaign.file.role_of(c.result.subject) for c in found}
    return _both(
        lambda width: ratio_chart.ratio_chart(found, roles, analysis.reference, width_mm=width),
        alt=openers.against_reference(analysis),
        caption=(
            f"{response.label} as a ratio to {analysis.reference}, with {percentage(analysis.confidence)} "
            "intervals. A bar that "
            f"excludes 1 shows a difference. n: runs of the oil and of {analysis.reference}."
        ),
        key=key,
    )


def contact_figure(analysis: Analysis, *, key: str) -> str:
    """Draw the fall of the contact pressure from first touch to final scar.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    key : str
        Name for references.

    Returns
    -------
    str
        A ``<figure>`` element.
    """
    file = analysis.campaign.file
    roles = {name: file.role_of(name) for name in dict.fromkeys(analysis.included["lubricant"])}
    return _both(
        lambda width: draw_contact(analysis.included, roles, width_mm=width),
        alt=openers.contact(analysis),
        caption=(
            "Peak pressure of the elastic contact before wear (open ring) and mean pressure of the final "
            "scar of every "
            "run (dots), logarithmic scale."
        ),
        key=key,
    )


def growth_figure(analysis: Analysis, curves: Sequence[Growth], *, sentence: str, key: str) -> str:
    """Draw how the scars grew, from the quiet times.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    curves : sequence of Growth
        At least one.
    sentence : str
        The finding, for those who can't see the picture.
    key : str
        Name for references.

    Returns
    -------
    str
        A ``<figure>`` element.
    """
    roles = {curve.lubricant: analysis.campaign.file.role_of(curve.lubricant) for curve in curves}
    return _both(
        lambda width: growth_chart(curves, roles, width_mm=width),
        alt=sentence,
        caption=(
            "Scar length against time by the wear-arrest model, through the median quiet time (open "
            "ring) and the "
            "final scars (filled marks: every run). Between its ends a curve is the model's, not measured."
        ),
        key=key,
    )


def duty_figure(joint: JointDuty, bench: Sequence[BenchDuty], *, sentence: str, key: str) -> str:
    """Draw bench and chain joint as points of pressure and sliding speed.

    Parameters
    ----------
    joint : JointDuty
        The joint.
    bench : sequence of BenchDuty
        The bench at each load level.
    sentence : str
        The finding, for those who can't see the picture.
    key : str
        Name for references.

    Returns
    -------
    str
        A ``<figure>`` element.
    """
    return _both(
        lambda width: duty_chart(joint, bench, width_mm=width),
        alt=sentence,
        caption=(
            "Range of the final scar pressures and sliding speed of the bench, beside the mean "
            "pressure and sliding "
            "speed of the chain joint. Thin lines: equal pressure times speed."
        ),
        key=key,
    )


def _both(draw: Callable[[float], Figure], *, alt: str, caption: str, key: str) -> str:
    return style.figure_html(
        draw(style.PRINT_WIDTH_MM), alt=alt, caption=caption, key=key, narrow=draw(NARROW_MM)
    )


def limits_of(analysis: Analysis, response: Response) -> list[Limit]:
    """Collect the release limits that a chart of a response marks.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    response : Response
        The response.

    Returns
    -------
    list of Limit
        One for each limit on its values and load level.
    """
    limits = []
    for result in analysis.criteria:
        criterion = result.criterion
        if criterion.response != response.name or criterion.is_relative:
            continue
        levels = {s.cell.load_level for s in analysis.summaries if s.response.name == response.name}
        for level in levels:
            if criterion.load is None or abs(criterion.load - level) <= 0.005 * level:
                value = result.limit * response.shown_factor
                label = f"{criterion.lubricant} {criterion.rule} {limit_number(value)} {response.shown_unit}"
                limits.append(Limit(level, value, label))
    return limits


def _interval_caption(analysis: Analysis, response: Response, limits: list[Limit]) -> str:
    parts = [
        f"{response.label} of each oil: estimate and {percentage(analysis.confidence)} interval (bar), "
        "every run (dots below the bar)",
        f"the band is the interval of {analysis.reference}",
    ]
    if response.censored_side and any(
        s.estimate.n_censored for s in analysis.summaries if s.response.name == response.name
    ):
        parts.append("an open arrow is a run that gives only a bound and points to where its true value lies")
    if any(s.estimate.estimate is None for s in analysis.summaries if s.response.name == response.name):
        parts.append("a dashed line is a bound on the median, where every run is a bound")
    if limits:
        parts.append(f"the dashed upright line is a release limit ({counted(len(limits), 'limit')})")
    parts.append("best at the top")
    return "; ".join(parts) + "."
