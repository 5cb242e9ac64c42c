"""What the cells of the precision study call: one function a section, each giving ready HTML."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pinscar.campaign.campaign import read_campaign
from pinscar.decision.precision_results import precision_results
from pinscar.decision.precision_study import PrecisionStudy, study_precision
from pinscar.decision.responses import Response
from pinscar.report import precision_charts as charts
from pinscar.report import precision_meaning
from pinscar.report import precision_tables as tables
from pinscar.report import precision_words as words
from pinscar.report import study_page as page
from pinscar.report.markup import Markup, callout, finding
from pinscar.report.results_file import publish_results
from pinscar.report.setting_tables import conditions
from pinscar.report.trace import trace_html

if TYPE_CHECKING:
    from IPython.display import HTML


def load(
    folder: str,
    group: str | None = None,
    responses: Sequence[str] | None = None,
    confidence: float | None = None,
) -> PrecisionStudy:
    """Read a campaign and evaluate it as a precision study.

    Parameters
    ----------
    folder : str
        The campaign folder.
    group : str, optional
        Column that tells the groups; the first of laboratory, operator and ring_id that holds two names.
    responses : sequence of str, optional
        Responses to evaluate; the scar area and the campaign's own columns where not given.
    confidence : float, optional
        Confidence of the intervals; the campaign's own where not given.

    Returns
    -------
    PrecisionStudy
        The study.
    """
    return study_precision(read_campaign(Path(folder)), group, responses, confidence)


def front(study: PrecisionStudy) -> HTML:
    """Show the question, the limits in words, what stands out and every result.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    HTML
        Everything above the first section.
    """
    main = study.responses[0]
    sentences = [words.size_sentence(study), words.flags_sentence(study, main)]
    parts = page.front_parts(study.analysis, words.limits_sentence(study, main), sentences)
    return page.as_html([*parts, _results_figure(study, main)])


def limits(study: PrecisionStudy) -> HTML:
    """Show repeatability and reproducibility of every response.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    HTML
        The section.
    """
    parts: list[str] = []
    for response in study.responses:
        parts += [
            finding(words.components_sentence(study, response)),
            tables.precision_table(study, response),
        ]
        shares = tables.percent_table(study, response)
        parts += [] if shares is None else [shares]
    notes = precision_meaning.notes(study)
    parts += [callout("caution", "how far these numbers reach", " ".join(notes))] if notes else []
    return page.as_html(parts)


def meaning(study: PrecisionStudy) -> HTML:
    """Say what the limits mean for someone who compares two results or two means.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    HTML
        The section.
    """
    parts: list[str] = [
        finding(precision_meaning.meaning_sentence(study)),
        page.bullet_list(precision_meaning.meanings(study)),
    ]
    parts += [tables.difference_table(study, response) for response in study.responses]
    return page.as_html(parts)


def consistency(study: PrecisionStudy) -> HTML:
    """Show h, k and the tests for groups that stand out.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    HTML
        The section.
    """
    parts: list[str] = []
    for response in study.responses:
        parts += [finding(words.flags_sentence(study, response)), _consistency_figure(study, response)]
        without = words.without_sentence(study, response)
        parts += [Markup("<p>{}</p>").format(without)] if without else []
        parts.append(tables.tests_table(study, response))
    return page.as_html(parts)


def cells(study: PrecisionStudy) -> HTML:
    """Show mean and spread of every group.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    HTML
        The section.
    """
    parts: list[str] = []
    for response in study.responses:
        parts.append(finding(words.range_sentence(study, response)))
        parts += [] if response == study.responses[0] else [_results_figure(study, response)]
        parts.append(tables.cell_table(study, response))
    return page.as_html(parts)


def made(study: PrecisionStudy) -> HTML:
    """Show how the runs were made, and what was left out.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    HTML
        The section.
    """
    return page.as_html(
        [
            finding(words.size_sentence(study)),
            conditions(study.analysis),
            *_sizes(study),
            *page.left_out_parts(study.left_out),
            *page.warning_parts(study.analysis),
        ]
    )


def trace(study: PrecisionStudy) -> HTML:
    """Show from which files and with which versions the report was made.

    Parameters
    ----------
    study : PrecisionStudy
        The study.

    Returns
    -------
    HTML
        The section.
    """
    return page.as_html([trace_html(study.analysis)])


def publish(study: PrecisionStudy) -> None:
    """Hand the machine-readable results to the report, without showing them.

    Parameters
    ----------
    study : PrecisionStudy
        The study.
    """
    publish_results(precision_results(study))


def _sizes(study: PrecisionStudy) -> list[str]:
    unequal = any(len({values.size for values in m.values.values()}) > 1 for m in study.materials)
    said = f"The {study.grouping.plural} did not make equally many runs; the formulas allow for that."
    return [Markup("<p>{}</p>").format(said)] if unequal else []


def _results_figure(study: PrecisionStudy, response: Response) -> str:
    noun = study.grouping.noun
    return page.figure_for_both(
        lambda width: charts.results_chart(study.of(response), width_mm=width),
        alt=f"{words.limits_sentence(study, response)} {words.flags_sentence(study, response)}",
        caption=(
            f"{response.label} of every run (dots), mean (upright stroke) of each {noun}; the grey line is "
            f"the mean of all. The lengths r and R show how far two runs of one {noun}, and of two "
            f"{study.grouping.plural}, may lie apart in 19 cases of 20. Diamonds: flagged by h, k, Cochran's "
            "or Grubbs's test."
        ),
        key=f"results-{study.responses.index(response) + 1}",
    )


def _consistency_figure(study: PrecisionStudy, response: Response) -> str:
    noun = study.grouping.noun
    return page.figure_for_both(
        lambda width: charts.consistency_chart(study.of(response), width_mm=width),
        alt=words.flags_sentence(study, response),
        caption=(
            f"{response.label}, consistency of each {noun}: h for its mean, k for its spread. Dashed or "
            f"short lines: critical values at 0.5 % for one {noun}; a marked bar exceeds its own."
        ),
        key=f"consistency-{study.responses.index(response) + 1}",
    )
