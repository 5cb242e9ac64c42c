"""What the cells of the comparison sheet call: one page to show outside, with its method and its limits."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from pinscar.decision.analysis import Analysis
from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.ranking import Ranking
from pinscar.decision.results import conclusion, results
from pinscar.decision.wording import counted, load_text, percentage, sentence, with_interval
from pinscar.report import sheet_words
from pinscar.report.cautions import BENCH
from pinscar.report.interval_chart import shown
from pinscar.report.markup import Markup, finding, key_value, table
from pinscar.report.ranked_chart import NO_LETTER, ranked_chart
from pinscar.report.results_file import publish_results
from pinscar.report.setting_tables import condition_facts
from pinscar.report.study_page import as_html, figure_for_both

if TYPE_CHECKING:
    from IPython.display import HTML

UNSHOWN = ("Uncertainty of load", "Uncertainty of a reading", "Operators", "Pins", "Sliding distance")
"""Conditions that the campaign report has and one page has no room for."""
BODIES = MappingProxyType(
    {
        "crossed-cylinders": "a pin crossed on a rotating ring",
        "ball-on-disc": "a ball on a rotating disc",
        "block-on-ring": "a block on a rotating ring",
        "worn-ring": "a pin crossed on a rotating ring with a worn groove",
    }
)
"""The bodies of each geometry, as a limit of the result names them."""
LIMITS = (
    "This is a bench result, not a measure of service life: {bodies}, under far more severe contact than "
    "most machines see.",
    "It holds for the samples, the load, the duration and the rig stated here, and for the days of the runs.",
)
REVIEW = (
    "Before any of this is used in public, a qualified person reviews it; public claims follow the local "
    "rules on advertising."
)


def head(analysis: Analysis, ranking: Ranking) -> HTML:
    """Show what is compared and which oil came out best.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    HTML
        Heading, campaign and finding.
    """
    settings = analysis.campaign.file.campaign
    title = (
        f"{ranking.response.label} of {counted(len(ranking.summaries), 'oil')} at "
        f"{load_text(ranking.load_level)}"
    )
    subject = settings.title or settings.id
    return as_html(
        [
            Markup("<h1>{}</h1>").format(title),
            Markup('<p class="lead">{} <span class="nowrap">({})</span></p>').format(
                subject, sheet_words.when(analysis, ranking)
            ),
            finding(sheet_words.best(analysis, ranking)),
        ]
    )


def ranked(analysis: Analysis, ranking: Ranking) -> HTML:
    """Show the ranked chart and the table that goes with it.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    HTML
        Figure and table.
    """
    roles = {s.cell.lubricant: analysis.campaign.file.role_of(s.cell.lubricant) for s in ranking.summaries}
    figure = figure_for_both(
        lambda width: ranked_chart(ranking, roles, width_mm=width),
        alt=sheet_words.best(analysis, ranking),
        caption=sheet_words.caption(analysis, ranking),
        key="ranked",
    )
    return as_html([figure, _table(analysis, ranking)])


def method_and_limits(analysis: Analysis, ranking: Ranking) -> HTML:
    """Show method, conditions, limits and the reminder of review.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    HTML
        Two boxes side by side.
    """
    facts = {
        name: value
        for name, value in condition_facts(analysis, sheet_words.runs_of(analysis, ranking)).items()
        if name not in UNSHOWN
    }
    left = Markup("<div><p><strong>Method</strong></p>{}</div>").format(
        key_value({**facts, "Statistics": sentence(sheet_words.statistics(ranking))})
    )
    bodies = BODIES[analysis.campaign.file.rig.geometry]
    said = [text.format(bodies=bodies) for text in LIMITS]
    limits = [*said, *sheet_words.audit_sentences(analysis, ranking), REVIEW]
    items = Markup("").join(Markup("<li>{}</li>").format(text) for text in limits)
    right = Markup(
        '<div><p><strong>Conditions and limits</strong></p><ul class="small">{}</ul></div>'
    ).format(items)
    bench = Markup('<p class="caution"><strong>At the bench.</strong> {}</p>').format(BENCH)
    return as_html([Markup('<div class="two sheet">{}{}</div>').format(left, right), bench])


def publish(analysis: Analysis, ranking: Ranking) -> None:
    """Hand the machine-readable results over, with the ranking beside them.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    ranking : Ranking
        The oils at one load.
    """
    entry = {
        "response": ranking.response.name,
        "load_N": ranking.load_level,
        "order": [s.cell.lubricant for s in ranking.summaries],
        "letters": dict(ranking.letters),
        "left_out": dict(ranking.left_out),
        "method": ranking.method,
    }
    publish_results({**results(analysis), "ranking": entry})


def _table(analysis: Analysis, ranking: Ranking) -> Markup:
    lettered = bool(ranking.letters)
    rows, classes = [], []
    for summary in ranking.summaries:
        name, e = summary.cell.lubricant, summary.estimate
        numbers = with_interval(*(shown(ranking.response, value) for value in (e.estimate, e.low, e.high)))
        rows.append(
            [
                name,
                numbers if e.n > 1 else f"{numbers} single run",
                str(e.n),
                *([ranking.letters.get(name, NO_LETTER)] if lettered else []),
                _against(analysis, name, ranking.comparisons.get(name)),
            ]
        )
        classes.append("reference" if name == analysis.reference else "")
    return table(
        [
            "Oil",
            (ranking.response.label, ranking.response.shown_unit),
            "Runs",
            *(["Group"] if lettered else []),
            f"Against {analysis.reference}",
        ],
        rows,
        caption=f"The same in numbers, with {percentage(analysis.confidence)} intervals",
        key="ranked",
        number_columns=[1, 2],
        row_classes=classes,
        note=sheet_words.left_out(ranking),
    )


def _against(analysis: Analysis, name: str, comparison: LoadComparison | None) -> str:
    if name == analysis.reference:
        return "The reference."
    return "Not compared." if comparison is None else sentence(conclusion(comparison))
