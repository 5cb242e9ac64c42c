"""The second and last page of a brief report: limits, main numbers, what the audit blocks, cautions."""

from __future__ import annotations

import textwrap

from pinscar.campaign_report import cautions, openers, setting
from pinscar.campaign_report import results as result_tables
from pinscar.campaign_report.experience import short_sentence
from pinscar.campaign_report.provenance import one_line
from pinscar.campaign_report.results import chosen
from pinscar.decision.finding import Weight
from pinscar.decision.record import Analysis
from pinscar.page.markup import Markup, bullet_list, paragraph
from pinscar.wording import counted

MAIN = ("film_pressure", "scar_area")
MOST_ROWS, MOST_LIMITS = 8, 5
"""Most rows of a table on the second page."""
MOST_FINDINGS, FINDINGS_OF_A_TEST_REPORT, MOST_SIGNS = 5, 2, 95


def second_page(analysis: Analysis) -> list[str]:
    """Give the parts of the second page."""
    parts: list[str] = [Markup("<h2>In numbers</h2>")]
    if analysis.criteria:
        parts.append(setting.criteria_table(analysis, most=MOST_LIMITS))
    responses = chosen(analysis, MAIN)
    if responses:
        told = "Film pressure and scar of each oil and load"
        parts.append(
            result_tables.summary_table(analysis, responses, caption=told, key="film", most=MOST_ROWS)
        )
    parts += [Markup("<h2>How far it carries</h2>"), paragraph(openers.fairness(analysis))]
    grave = [f for f in analysis.audited if f.severity is not Weight.NOTE]
    # A test report has its statements on this page, too.
    most = MOST_FINDINGS if analysis.campaign.file.report is None else FINDINGS_OF_A_TEST_REPORT
    shown = [
        textwrap.shorten(f"{one.severity.capitalize()}: {one.message}", MOST_SIGNS, placeholder=" …")
        for one in grave[:most]
    ]
    if len(grave) > most:
        more = counted(len(grave) - most, "further finding")
        shown.append(f"{more.capitalize()}: see the standard report.")
    parts += [bullet_list(shown)] if shown else []
    said = short_sentence(analysis)
    parts += [] if said is None else [paragraph(said)]
    parts += [
        paragraph(f"{cautions.SEVERE} {cautions.LIMITS[-1]}"),
        Markup("<p><strong>Safety at the bench.</strong> {}</p>").format(cautions.BENCH),
        paragraph(f"{one_line(analysis)} Everything else stands in the report of standard length.", "note"),
    ]
    return parts
