"""The sections of a report of usual length: what the full report has, with tables of one kind joined."""

from __future__ import annotations

from pinscar.campaign_report import figures, joined, openers, setting, tribology
from pinscar.campaign_report import results as result_tables
from pinscar.campaign_report.experience import experience_parts
from pinscar.campaign_report.results import MAIN, SCAR_NUMBERS, WEAR_NUMBERS, chosen, first, measured_of
from pinscar.campaign_report.runs_table import observation_sentences, runs_table, words_parts
from pinscar.campaign_report.setting import short_provenance_html
from pinscar.contact.chain import LIFTING
from pinscar.decision.record import Analysis
from pinscar.page.markup import Markup, finding, paragraph
from pinscar.seen import cards as fling_cards
from pinscar.seen import micrographs
from pinscar.seen.sound import sound_parts
from pinscar.seen.trace_chart import MOST_RUNS, trace_figure
from pinscar.seen.traces import trace_sentence, traces_drawn
from pinscar.wording import sentence

REVIEW = (
    "The verdicts follow from the runs and the limits as written. Whether these limits, this rig and these "
    "runs are enough for a release is for a qualified person to judge and to sign."
)
NO_PERMISSION = (
    "A supported wording is what the runs can carry, not permission to print it. Public claims follow the "
    "local rules on advertising, and a qualified person reviews them first."
)
SHEET_COLUMNS = 6
"""Pictures in a row of a sheet."""
GROWTH_MM, SOUND_MM, TRACE_SHARE = 42.0, 24.0, 0.6
"""Heights of the charts of growth and of recordings, and what is left of that of traces."""
WIDE_NAME = 14
"""Signs of an oil's name from which runs take a turned page, and contact and wear a table each."""

Parts = list[str]


def limits(analysis: Analysis) -> Parts:
    """Show the release limits with their verdicts."""
    said = finding(openers.verdict_sentence(analysis))
    return [said, setting.criteria_table(analysis), paragraph(REVIEW, "note")]


def tested(analysis: Analysis) -> Parts:
    """Show what was tested and how."""
    said = finding(openers.tested(analysis))
    return [said, setting.lubricants_table(analysis), setting.conditions(analysis)]


def fairness(analysis: Analysis) -> Parts:
    """Show the fairness audit and the warnings of the check."""
    warnings = setting.problems_table(analysis)
    return [
        finding(openers.fairness(analysis)),
        *([setting.findings_table(analysis)] if analysis.audited else []),
        *([] if warnings is None else [warnings]),
    ]


def film(analysis: Analysis) -> Parts:
    """Show film pressure and scar, in numbers; page one and the ratios have the charts."""
    numbers = chosen(analysis, SCAR_NUMBERS)
    parts: Parts = [finding(openers.response_levels(analysis, numbers[0]))]
    parts.append(paragraph(openers.censoring(analysis)))
    main = first(analysis, MAIN)
    if main is not None and not figures.all_on_front(analysis, main):
        parts += figures.response_figures(analysis, main, key="every-oil")
    parts.append(
        result_tables.summary_table(
            analysis, numbers, caption="Film pressure and scar of each oil and load", key="film"
        )
    )
    return parts


def against_reference(analysis: Analysis) -> Parts:
    """Show every oil against the reference, as ratios."""
    parts: Parts = [finding(openers.against_reference(analysis))]
    area = first(analysis, ("scar_area",))
    if area is not None and any(c.response is area and c.result.ratio for c in analysis.comparisons):
        parts.append(figures.ratio_figure(analysis, area, key="ratio", row_mm=figures.FRONT_ROW_MM))
    return [*parts, *joined.comparison_tables(analysis)]


def claims(analysis: Analysis) -> Parts:
    """Show which claims the data support."""
    said = finding(openers.claims(analysis))
    return [said, setting.claims_table(analysis), paragraph(NO_PERMISSION, "note")]


def observed(analysis: Analysis) -> Parts:
    """Show what else was observed, each kind in one table."""
    known = {*SCAR_NUMBERS, *WEAR_NUMBERS}
    wanted = [response for response in analysis.responses if response.name not in known]
    parts: Parts = []
    if wanted:
        said = finding(openers.response_levels(analysis, wanted[0]))
        parts.append(said)
        for place in range(0, len(wanted), joined.MOST):
            key = "observed" if not place else f"observed-{place // joined.MOST + 1}"
            some = wanted[place : place + joined.MOST]
            told = "Other observations of each oil and load"
            parts.append(result_tables.summary_table(analysis, some, caption=told, key=key))
    table = joined.observations_table(analysis)
    if table is not None:
        parts += [paragraph(" ".join(observation_sentences(analysis))), table]
    parts += words_parts(analysis)
    cards = analysis.evidence.cards
    if cards:
        told = fling_cards.seen_html(cards, with_method=False, columns=SHEET_COLUMNS)
        parts += [fling_cards.HEAD, told]
    return parts


def runs(analysis: Analysis) -> Parts:
    """Show every run; an upright page holds the table where names are short."""
    return [finding(openers.runs(analysis)), runs_table(analysis, turned=_long_names(analysis))]


def _long_names(analysis: Analysis) -> bool:
    return max(map(len, analysis.runs["lubricant"].astype(str))) > WIDE_NAME


def scars(analysis: Analysis) -> Parts:
    """Show the scars as read from their micrographs."""
    seen = analysis.evidence.micrographs
    return [micrographs.seen_html(seen, with_method=False, columns=SHEET_COLUMNS)]


def contact(analysis: Analysis) -> Parts:
    """Show the contact before and after wear, wear volume and wear coefficient."""
    wear = chosen(analysis, WEAR_NUMBERS)
    shown = joined.contact_and_wear_table(analysis, wear) if wear else result_tables.contact_table(analysis)
    return [finding(openers.contact(analysis)), shown]


def growth(analysis: Analysis) -> Parts:
    """Show how the scars grew."""
    curves = analysis.context.growth
    said = openers.growth(curves)
    figure = figures.growth_figure(analysis, curves, sentence=said, key="growth", panel_mm=GROWTH_MM)
    return [finding(said), figure, result_tables.growth_table(curves)]


def sound(analysis: Analysis) -> Parts:
    """Show what the recordings tell."""
    return sound_parts(analysis, with_method=False, panel_mm=SOUND_MM)


def surround(analysis: Analysis) -> Parts:
    """Show film, lambda and heat in one table, and the traces in another."""
    context = analysis.context
    said = [tribology.film_sentence(context.film)] if context.film else []
    said += [] if context.film else [f"Film thickness is not computed: {context.no_film}."]
    said += [tribology.heat_sentence(context.heat)] if context.heat else []
    said += [f"Flash temperature is not computed: {context.no_heat}."] if context.no_heat else []
    table = joined.film_and_heat_table(context.film, context.heat)
    parts: Parts = [finding(" ".join(said)), *([] if table is None else [table])]
    drawn = traces_drawn(analysis)
    if drawn:
        told = trace_sentence(drawn)
        shown = drawn[:MOST_RUNS]
        parts += [
            paragraph(told),
            trace_figure(shown, analysis.roles, total=len(drawn), sentence=told, share=TRACE_SHARE),
        ]
    traces = joined.traces_table(analysis)
    return [*parts, *([] if traces is None else [traces])]


def service(analysis: Analysis) -> Parts:
    """Show the bench against the chain joint that the oil is for."""
    stated, joint, bench = analysis.campaign.file.service, analysis.context.joint, analysis.context.bench
    assert stated is not None and joint is not None  # the section is left out without them
    return [
        finding(tribology.duty_sentence(stated, joint, bench)),
        paragraph(LIFTING),
        tribology.joint_facts(stated, joint),
        tribology.duty_table(joint, bench),
    ]


def spread(analysis: Analysis) -> Parts:
    """Show the spread between runs beside the uncertainty of one, and where further runs will lie."""
    response = first(analysis, ("scar_pressure", "scar_area"))
    if response is None:
        return experience_parts(analysis)  # type: ignore[return-value]
    measured = measured_of(analysis, response)
    return [
        finding(openers.spread(analysis, response, measured)),
        joined.spread_and_next_table(analysis, response, measured),
        *experience_parts(analysis),
    ]


def trace(analysis: Analysis) -> Parts:
    """Show from which files and versions the report was made, a line for each folder of evidence."""
    return [short_provenance_html(analysis.campaign.inputs)]


def absent_list(lines: list[tuple[str, str]]) -> Parts:
    """List the sections that have nothing to show, with the reason."""
    items = Markup("").join(
        Markup("<li><strong>{}:</strong> {}</li>").format(title, sentence(reason)) for title, reason in lines
    )
    return [Markup("<ul>{}</ul>").format(items)]
