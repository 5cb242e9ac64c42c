"""What the cells of the product range report call: one function a section, each giving ready HTML."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pinscar.contact.chain import LIFTING
from pinscar.decision.product_range import RangeLevel, RangeStudy, study_range
from pinscar.decision.range_results import range_results
from pinscar.decision.wording import load_text, percentage
from pinscar.report import range_tables as tables
from pinscar.report import range_words as words
from pinscar.report import study_page as page
from pinscar.report.markup import Markup, finding
from pinscar.report.range_chart import range_chart
from pinscar.report.results_file import publish_results
from pinscar.report.together import campaigns_table, inputs_of, read_folders
from pinscar.report.trace import trace_of

if TYPE_CHECKING:
    from IPython.display import HTML


@dataclass(frozen=True, slots=True)
class RangeReport:
    """A product range with what its report needs beside.

    Parameters
    ----------
    study : RangeStudy
        The study.
    inputs : mapping of str to str
        SHA-256 of each file read.
    """

    study: RangeStudy
    inputs: Mapping[str, str]


def load(
    folders: Sequence[str],
    response: str = "scar_area",
    reference: str | None = None,
    confidence: float | None = None,
) -> RangeReport:
    """Read campaigns and rank their oils.

    Parameters
    ----------
    folders : sequence of str
        The campaign folders.
    response : str
        What to compare.
    reference : str, optional
        The oil that joins them; the one that most campaigns name where not given.
    confidence : float, optional
        Confidence of each interval; the largest of the campaigns' own where not given.

    Returns
    -------
    RangeReport
        The study.
    """
    campaigns = read_folders(folders)
    return RangeReport(study_range(campaigns, response, reference, confidence), inputs_of(campaigns))


def front(report: RangeReport) -> HTML:
    """Show which oil ranks first, what that is worth, and the first chart.

    Parameters
    ----------
    report : RangeReport
        The study.

    Returns
    -------
    HTML
        Everything above the first section.
    """
    study = report.study
    lead = Markup('<p class="lead">{}</p>').format(
        f"How do the oils of several campaigns rank, each against the reference {study.reference} of its own "
        "campaign?"
    )
    level = study.levels[0]
    answer = Markup('<p class="answer">{} {}</p>').format(
        words.size_sentence(study), words.further_sentence(level)
    )
    return page.as_html([lead, finding(words.rank_sentence(study, level)), answer, _chart(study, level)])


def ranking(report: RangeReport) -> HTML:
    """Show the ranked tables, and the charts of further loads.

    Parameters
    ----------
    report : RangeReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    study = report.study
    parts: list[str] = []
    for level in study.levels:
        parts.append(finding(words.split_sentence(study, level)))
        parts += [] if level is study.levels[0] else [_chart(study, level)]
        parts.append(tables.ranked_table(study, level))
    parts.append(Markup("<p>{}</p>").format(LIFTING))
    return page.as_html(parts)


def agreement(report: RangeReport) -> HTML:
    """Show how far the campaigns agree.

    Parameters
    ----------
    report : RangeReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    study = report.study
    parts: list[str] = []
    for level in study.levels:
        parts += [
            finding(words.agreement_sentence(study, level)),
            Markup("<p>{}</p>").format(words.further_sentence(level)),
            tables.references_table(study, level),
            tables.ratios_table(study, level),
        ]
    return page.as_html(parts)


def made(report: RangeReport) -> HTML:
    """Show the campaigns, and what was left out with the reason.

    Parameters
    ----------
    report : RangeReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    study = report.study
    return page.as_html(
        [
            finding(words.size_sentence(study)),
            campaigns_table(study.campaigns, study.reference, "Campaigns given"),
            *page.left_out_parts(study.left_out),
        ]
    )


def trace(report: RangeReport) -> HTML:
    """Show from which files and with which versions the report was made.

    Parameters
    ----------
    report : RangeReport
        The study.

    Returns
    -------
    HTML
        The section.
    """
    return page.as_html([trace_of(report.inputs)])


def publish(report: RangeReport) -> None:
    """Hand the machine-readable results to the report, without showing them.

    Parameters
    ----------
    report : RangeReport
        The study.
    """
    publish_results(range_results(report.study))


def _chart(study: RangeStudy, level: RangeLevel) -> str:
    thin = "" if level.between_sd is None else "; thin line: with the spread between campaigns"
    beyond = "" if level.between_sd is None else ", an arrow where it goes beyond the axis"
    return page.figure_for_both(
        lambda width: range_chart(study, level, width_mm=width),
        alt=words.rank_sentence(study, level),
        caption=(
            f"{study.response.label} at {load_text(level.load_level)} as a ratio to {study.reference}, "
            f"best at the top. Thick bar: {percentage(study.confidence)} interval in the campaigns as "
            f"run{thin}{beyond}. Dots: single campaigns of an oil that ran in several. Joined: "
            f"{tables.campaigns_of(level)}."
        ),
        key=f"range-{study.levels.index(level) + 1}",
    )
