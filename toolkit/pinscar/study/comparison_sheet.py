"""What the cells of the comparison sheet call: one page to show outside, with its method and its limits."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

import pandas as pd

from pinscar.campaign_report.interval_chart import interval_chart, shown
from pinscar.campaign_report.setting import condition_facts
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.judgements import LoadComparison, Summary
from pinscar.decision.ranking import Ranking
from pinscar.decision.record import Analysis
from pinscar.decision.results import results
from pinscar.decision.runs import when_run
from pinscar.decision.words import conclusion
from pinscar.page import style
from pinscar.page.cautions import BENCH
from pinscar.page.markup import Markup, finding, key_value, table
from pinscar.page.outline import as_html, figure_for_both
from pinscar.page.style import margin_note
from pinscar.press.results import publish_results
from pinscar.wording import (
    counted,
    listing,
    load_text,
    lower_first,
    percentage,
    sentence,
    with_interval,
    with_unit,
)

if TYPE_CHECKING:
    from IPython.display import HTML
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


TOPICS: Mapping[str, str] = MappingProxyType(
    {
        "blind-not-recorded": "no record of blind reading",
        "few-repeats": "too few repeats",
        "label-in-doubt": "runs that may be of another oil",
        "load-history": "load raised while running",
        "load-in-doubt": "runs that may have had another load",
        "load-not-shared": "loads that not all oils ran at",
        "note-on-label": "a note on the label",
        "note-on-load": "a note on the load",
        "note-on-timer": "a note on the timer",
        "odd-duration": "unequal durations",
        "odd-ring-speed": "unequal speeds",
        "dose": "unequal doses",
        "order-confounded": "order of the runs mixed up with the oil",
        "order-unknown": "unknown order of the runs",
        "outlier": "outliers",
        "quiet-contradicts": "quiet times that contradict the notes on wear",
        "read-knowing": "scars read by someone who knew the oil",
        "reference-drift": "drift of the reference oil",
        "rig-control-unknown": "no check of the rig",
        "rig-out-of-control": "a rig out of control",
        "scar-apart": "scars that lie apart",
        "shaken": "shaking of the samples",
        "timer-gap": "gaps in the times of the runs",
        "wear-not-judged": "runs not judged for wear at their end",
        "wear-running": "runs that ended while wear continued",
        "width-implied": "widths that were not measured",
        "width-off-geometry": "a scar width that does not fit its length",
    }
)
"""What a finding of the audit is about, where its identifier alone is no plain English."""


def runs_of(analysis: Analysis, ranking: Ranking) -> pd.DataFrame:
    """Give the runs that the sheet shows."""
    ids = {run for s in ranking.summaries for run in s.cell.run_ids}
    return analysis.included[analysis.included["run_id"].isin(ids)]


def when(analysis: Analysis, ranking: Ranking) -> str:
    """Say when the runs were made."""
    return when_run(runs_of(analysis, ranking))


def best(analysis: Analysis, ranking: Ranking) -> str:
    """Say which oil came out best, with numbers."""
    label = ranking.response.label.lower()
    top = next((s for s in ranking.summaries if s.estimate.estimate is not None), None)
    if top is None:
        return f"No oil has more than a bound on its {label} at this load."
    text = f"{top.cell.lubricant} has the {_best_word(ranking)} {label}, {_numbers(ranking, top)}"
    against = ranking.comparisons.get(top.cell.lubricant)
    if against is not None and against.separated:
        return f"{text}: {conclusion(against)}."
    base = next((s for s in ranking.summaries if s.cell.lubricant == analysis.reference), None)
    if base is None or base is top:
        return f"{text}."
    return f"{text}, against {_numbers(ranking, base)} for {analysis.reference}."


def caption(analysis: Analysis, ranking: Ranking) -> str:
    """Say what the chart shows."""
    sure = percentage(analysis.confidence)
    parts = [
        f"{ranking.response.label} at {load_text(ranking.load_level)}: estimate and {sure} interval (bar), "
        "every run (dots), best at the top"
    ]
    if ranking.letters:
        parts.append(
            f"oils that share a letter are not separated ({sure} confidence over all pairs together)"
        )
    if any(s.estimate.n_censored for s in ranking.summaries):
        parts.append("an open arrow is a run that gives only a bound")
    return "; ".join(parts) + "."


def other_loads(analysis: Analysis, ranking: Ranking) -> str | None:
    """Say at which loads the same oils ran too, which the sheet does not show."""
    levels = sorted({s.cell.load_level for s in analysis.summaries} - {ranking.load_level})
    if not levels:
        return None
    where = listing([load_text(level) for level in levels])
    return (
        f"This sheet shows {load_text(ranking.load_level)} only. The runs at {where} are left out here: the "
        "order of the oils may be another one there."
    )


def left_out(ranking: Ranking) -> str | None:
    """Say which oils carry no letter, and why."""
    if not ranking.left_out:
        return None
    verb = "carries no letter" if ranking.letters else "is left out"
    said = [f"{name} {verb}: {reason}." for name, reason in ranking.left_out.items()]
    head = [] if ranking.letters else ["No letters are given, because fewer than two oils can be compared."]
    return " ".join([*head, *said])


def statistics(ranking: Ranking) -> str:
    """Say how the oils were compared."""
    # The numbers in brackets stand in results.json; here they would crowd out the method.
    methods = (c.result.method for c in ranking.comparisons.values() if c.unlike is None)
    tests = sorted({re.sub(r" \([^)]*\)", "", method) for method in methods})
    parts = [f"against the reference: {listing(tests)}"] if tests else []
    parts.append(f"letters: {ranking.method}" if ranking.letters else ranking.method)
    return "; ".join(parts)


def audit_sentences(analysis: Analysis, ranking: Ranking) -> list[str]:
    """Say what the fairness audit has against the runs shown."""
    ids = set(runs_of(analysis, ranking)["run_id"])
    concerned = [f for f in analysis.findings if not f.runs or ids & set(f.runs)]
    parts = []
    blocked = [f for f in concerned if f.severity is Weight.BLOCKS]
    parts += [f"Not like for like: {lower_first(f.message)} {f.effect}" for f in blocked]
    cautions = _names([f for f in concerned if f.severity is Weight.CAUTION])
    if cautions:
        parts.append(f"The fairness audit asks for caution: {listing(cautions)}.")
    return parts or ["The fairness audit found nothing against these runs."]


def _best_word(ranking: Ranking) -> str:
    if ranking.response.better == "higher":
        return "highest"
    return "smallest" if ranking.response.smaller == "smaller" else "lowest"


def _numbers(ranking: Ranking, summary: Summary) -> str:
    e = summary.estimate
    numbers = (shown(ranking.response, value) for value in (e.estimate, e.low, e.high))
    return with_unit(with_interval(*numbers), ranking.response.shown_unit)


def _names(findings: list[Finding]) -> list[str]:
    return list(dict.fromkeys(TOPICS.get(f.id, f.id.replace("-", " ")) for f in findings))


LETTERS_AT = {True: 78.0, False: 38.0}
"""Distance of the letters from the axes [pt], beside a wide count with its bounds and a narrow one."""
NO_LETTER = "–"


def ranked_chart(
    ranking: Ranking, roles: Mapping[str, str], *, width_mm: float = style.PRINT_WIDTH_MM
) -> Figure:
    """Draw the ranking with every run and, at the right, the letters."""
    figure = interval_chart(ranking.response, ranking.summaries, roles, width_mm=width_mm, numbers=False)
    if ranking.letters:
        with style.report_style():
            _add_letters(figure.axes[0], ranking, list(reversed(list(roles))), wide=width_mm >= 120)
    return figure


def _add_letters(axes: Axes, ranking: Ranking, names: Sequence[str], *, wide: bool) -> None:
    for row, name in enumerate(names):
        letter = ranking.letters.get(name, NO_LETTER)
        bold = {"fontweight": "bold", "fontsize": style.TEXT_SIZE + 1.5, "color": style.INK}
        margin_note(axes, letter, row, LETTERS_AT[wide], **bold)
    margin_note(axes, "group", len(names) - 0.42, LETTERS_AT[wide], va="bottom", color=style.MUTED)


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
    """Show what is compared and which oil came out best."""
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
                subject, when(analysis, ranking)
            ),
            finding(best(analysis, ranking)),
        ]
    )


def ranked(analysis: Analysis, ranking: Ranking) -> HTML:
    """Show the ranked chart and the table that goes with it."""
    roles = {s.cell.lubricant: analysis.campaign.file.role_of(s.cell.lubricant) for s in ranking.summaries}
    figure = figure_for_both(
        lambda width: ranked_chart(ranking, roles, width_mm=width),
        alt=best(analysis, ranking),
        caption=caption(analysis, ranking),
        key="ranked",
    )
    return as_html([figure, _table(analysis, ranking)])


def method_and_limits(analysis: Analysis, ranking: Ranking) -> HTML:
    """Show method, conditions, limits and the reminder of review."""
    facts = {
        name: value
        for name, value in condition_facts(analysis, runs_of(analysis, ranking)).items()
        if name not in UNSHOWN
    }
    left = Markup("<div><p><strong>Method</strong></p>{}</div>").format(
        key_value({**facts, "Statistics": sentence(statistics(ranking))})
    )
    bodies = BODIES[analysis.campaign.file.rig.geometry]
    said = [text.format(bodies=bodies) for text in LIMITS]
    elsewhere = other_loads(analysis, ranking)
    beside = [] if elsewhere is None else [elsewhere]
    limits = [*beside, *said, *audit_sentences(analysis, ranking), REVIEW]
    items = Markup("").join(Markup("<li>{}</li>").format(text) for text in limits)
    right = Markup(
        '<div><p><strong>Conditions and limits</strong></p><ul class="small">{}</ul></div>'
    ).format(items)
    bench = Markup('<p class="caution"><strong>At the bench.</strong> {}</p>').format(BENCH)
    return as_html([Markup('<div class="two sheet">{}{}</div>').format(left, right), bench])


def publish(analysis: Analysis, ranking: Ranking) -> None:
    """Hand the machine-readable results over, with the ranking beside them."""
    entry = {
        "response": ranking.response.name,
        "load_N": ranking.load_level,
        "order": [s.cell.lubricant for s in ranking.summaries],
        "letters": dict(ranking.letters),
        "left_out": dict(ranking.left_out),
        "method": ranking.method,
    }
    publish_results({**results(analysis, files=False), "ranking": entry})


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
        note=left_out(ranking),
    )


def _against(analysis: Analysis, name: str, comparison: LoadComparison | None) -> str:
    if name == analysis.reference:
        return "The reference."
    return "Not compared." if comparison is None else sentence(conclusion(comparison))
