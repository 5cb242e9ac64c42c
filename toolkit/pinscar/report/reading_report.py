"""What the cells of the reading study call: one function a section, each giving ready HTML."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pinscar.campaign.campaign import read_campaign
from pinscar.decision.reading_results import reading_results
from pinscar.decision.reading_study import ScarReadings, study_readings
from pinscar.report import reading_charts as charts
from pinscar.report import reading_meaning, reading_tables
from pinscar.report import reading_words as words
from pinscar.report import study_page as page
from pinscar.report.markup import Markup, callout, finding, method_note
from pinscar.report.results_file import publish_results
from pinscar.report.trace import trace_html

if TYPE_CHECKING:
    from IPython.display import HTML


def load(
    folder: str, axis: str = "scar_length", confidence: float | None = None, pool_above: float = 0.25
) -> ScarReadings:
    """Read a campaign and evaluate its repeated readings.

    Parameters
    ----------
    folder : str
        The campaign folder.
    axis : str
        ``scar_length``, ``scar_width`` or ``scar_area``.
    confidence : float, optional
        Confidence of the intervals; the campaign's own where not given.
    pool_above : float
        The interaction is pooled when its F test gives a larger probability.

    Returns
    -------
    ScarReadings
        The study.
    """
    return study_readings(read_campaign(Path(folder)), axis, confidence, pool_above)


def front(study: ScarReadings) -> HTML:
    """Show the question, the reading error in words and every reading.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    HTML
        Everything above the first section.
    """
    sentences = [words.size_sentence(study), reading_meaning.meaning_sentence(study)]
    parts = page.front_parts(study.analysis, words.difference_sentence(study), sentences)
    figure = page.figure_for_both(
        lambda width: charts.deviations_chart(study, width_mm=width),
        alt=words.readers_sentence(study),
        caption=(
            f"{study.axis.label}: every reading (rings) and the mean of its repeats (line), less the mean "
            "of the scar "
            "over all readers. Dashed: the reader's mean. A line that rises, falls or jumps means that the "
            "reader "
            "treats scars unlike the others do."
        ),
        key="deviations",
    )
    return page.as_html([*parts, figure])


def sources(study: ScarReadings) -> HTML:
    """Show the variance components and the share of reading in the whole.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    HTML
        The section.
    """
    figure = page.figure_for_both(
        lambda width: charts.components_chart(study, width_mm=width),
        alt=words.largest_sentence(study),
        caption=(
            f"{study.axis.label}: standard deviation of each source of reading error (dot) with its "
            f"{words.confidence_words(study)} interval (bar; with an arrow it is longer than drawn)."
        ),
        key="sources",
    )
    parts: list[str] = [
        finding(words.largest_sentence(study)),
        figure,
        Markup("<p>{}</p>").format(words.share_sentence(study)),
        reading_tables.component_table(study),
    ]
    if study.study.note:
        parts.append(callout("caution", "how far these numbers reach", study.study.note))
    return page.as_html(parts)


def readers(study: ScarReadings) -> HTML:
    """Show the readers against each other, and the analysis of variance.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    HTML
        The section.
    """
    return page.as_html(
        [
            finding(words.readers_sentence(study)),
            Markup("<p>{}</p>").format(words.interaction_sentence(study)),
            reading_tables.reader_table(study),
            reading_tables.anova_table(study),
            method_note(study.study.method),
        ]
    )


def bias(study: ScarReadings) -> HTML:
    """Show the readings of a certified length, or how to get them.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    HTML
        The section.
    """
    parts: list[str] = [finding(words.bias_sentence(study))]
    if study.biases:
        return page.as_html([*parts, reading_tables.bias_table(study)])
    how = (
        "Let every reader read a certified length, such as a graticule, several times under the same "
        "microscope, and "
        "write the readings into graticule.csv: reader, reading, certified [mm], read [mm]."
    )
    return page.as_html([*parts, Markup("<p>{}</p>").format(how)])


def meaning(study: ScarReadings) -> HTML:
    """Say what the reading error means for comparing oils.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    HTML
        The section.
    """
    stated = reading_meaning.stated_sentence(study)
    return page.as_html(
        [
            finding(reading_meaning.meaning_sentence(study)),
            reading_meaning.scheme_table(study),
            *([Markup("<p>{}</p>").format(stated)] if stated else []),
        ]
    )


def made(study: ScarReadings) -> HTML:
    """Show what was read and what was left out.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    HTML
        The section.
    """
    return page.as_html(
        [
            finding(words.size_sentence(study)),
            *page.left_out_parts(study.left_out),
            *page.warning_parts(study.analysis),
        ]
    )


def trace(study: ScarReadings) -> HTML:
    """Show from which files and with which versions the report was made.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    HTML
        The section.
    """
    return page.as_html([trace_html(study.analysis)])


def publish(study: ScarReadings) -> None:
    """Hand the machine-readable results to the report, without showing them.

    Parameters
    ----------
    study : ScarReadings
        The study.
    """
    publish_results(reading_results(study))
