"""What the cells of the product range report call: a function per section, with tables and sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pinscar.campaign_report.setting import inputs_html
from pinscar.contact.chain import LIFTING
from pinscar.page.markup import Markup, finding, paragraph, table
from pinscar.page.outline import as_html, figure_for_both
from pinscar.press.results import publish_results
from pinscar.study import page
from pinscar.study.page import campaign_entries, campaigns_table, inputs_of, read_folders
from pinscar.study.range.chart import range_chart
from pinscar.study.range.study import RangeLevel, RangeLine, RangeStudy, range_results, size_of, study_range
from pinscar.wording import (
    change_range,
    compared,
    counted,
    date_range,
    fixed,
    listing,
    load_text,
    p_value,
    percentage,
    rounded,
    significant,
    with_interval,
)

if TYPE_CHECKING:
    from IPython.display import HTML


APART = "not separated"
FAR = math.log(2.0)
"""Spread of logarithms from which a percentage says nothing any more."""
FEW_DF = 4
"""Degrees of freedom of the spread between campaigns under which its interval says little."""


def line_words(study: RangeStudy, line: RangeLine) -> str:
    """Say how an oil compares with the reference, in the campaigns as run."""
    if line.estimate is None or line.low is None or line.high is None:
        return "the reference"
    response = study.response
    if line.low <= 1.0 <= line.high:
        return f"not separated from {study.reference} ({change_range(line.estimate, line.low, line.high)})"
    words = compared(line.estimate, response.smaller, response.larger, study.reference)
    return f"{words} ({change_range(line.estimate, line.low, line.high)})"


def rank_sentence(study: RangeStudy, level: RangeLevel) -> str:
    """Say which oil ranks first and how far its lead is sure."""
    tied = [line for line in level.lines if line.best == 1]
    where = f"At {load_text(level.load_level)}"
    best = tied[0]
    if len(tied) == 1:
        name = best.ranked.lubricant
        if best.estimate is None:
            return f"{where}, no oil comes before the reference {name}."
        return f"{where}, {name} ranks first: {study.response.label.lower()} {line_words(study, best)}."
    names = listing([line.ranked.lubricant for line in tied])
    said = [
        f"{line.ranked.lubricant} {line_words(study, line)}" for line in tied if line.estimate is not None
    ]
    return f"{where}, {names} share the first place: {study.response.label.lower()} of {'; of '.join(said)}."


def split_sentence(study: RangeStudy, level: RangeLevel) -> str:
    """Say which oils lie on which side of the reference."""
    sides = {
        word: [line.ranked.lubricant for line in level.lines if side_word(study, line) == word]
        for word in (study.response.smaller, study.response.larger, APART)
    }
    parts = [f"{word} with {listing(names)}" for word, names in sides.items() if names and word != APART]
    if sides[APART]:
        parts.append(f"not separated for {listing(sides[APART])}")
    where = load_text(level.load_level)
    return f"Against {study.reference} at {where}, the {study.response.label.lower()} is {'; '.join(parts)}."


def side_word(study: RangeStudy, line: RangeLine) -> str:
    """Say on which side of the reference an oil lies, in the campaigns as run."""
    if line.low is None or line.high is None:
        return "the reference"
    if line.low <= 1.0 <= line.high:
        return APART
    return study.response.smaller if line.high < 1.0 else study.response.larger


def size_sentence(study: RangeStudy) -> str:
    """Say what was joined."""
    loads = listing([load_text(level.load_level) for level in study.levels])
    left = f"; {counted(len(study.left_out), 'item')} left out, with the reason" if study.left_out else ""
    return f"{size_of(study)}, joined through {study.reference} at {loads}{left}."


def further_sentence(level: RangeLevel) -> str:
    """Say what the ranking is worth beyond the campaigns as run."""
    twice = sorted(
        {r.lubricant for r in level.ratios if sum(o.lubricant == r.lubricant for o in level.ratios) > 1}
    )
    if level.between_sd is None or level.between_interval is None:
        return (
            "No oil but the reference ran in two campaigns, so it is unknown how far a ratio moves from "
            "campaign to campaign: the ranking holds for these campaigns."
        )
    high = level.between_interval[1]
    spread = percent(level.between_sd)
    pairs = f"{counted(level.between_df, 'difference')} ({listing(twice)})"
    said = (
        f"From campaign to campaign a ratio moves by about {spread} (one standard deviation), known from "
        f"{pairs}"
    )
    if level.between_df < FEW_DF:
        reach = f"it may be nothing, or as much as {percent(high)}; " if high < FAR else ""
        return (
            f"{said}. That is too few to pin this down: {reach}the thin lines are wide for that reason, and "
            "the ranking holds for these campaigns. Run one or two oils of the range again in the next "
            "campaigns."
        )
    return f"{said}; the thin lines include it."


def agreement_sentence(study: RangeStudy, level: RangeLevel) -> str:
    """Say how far the reference itself moved between the campaigns."""
    means = [one.mean * study.response.shown_factor for one in level.references]
    where = load_text(level.load_level)
    if len(means) < 2:
        return f"At {where} only one campaign could be used."
    apart = fixed(100.0 * (max(means) / min(means) - 1.0), 0)
    return (
        f"At {where} the {study.response.label.lower()} of {study.reference} itself ranged from "
        f"{significant(min(means))} to {significant(max(means))} {study.response.shown_unit} between "
        f"campaigns ({apart} %); the ratios take that out."
    )


def percent(log_sd: float) -> str:
    """Write a standard deviation of logarithms as a percentage.

    Examples
    --------
    >>> percent(0.0786).replace(chr(160), " ")
    '8.2 %'
    """
    return percentage(rounded(math.expm1(log_sd), 2))


def ranked_table(study: RangeStudy, level: RangeLevel) -> Markup:
    """Tabulate the range of one load, best first."""
    rows = [
        [
            _places(line.best, line.worst),
            line.ranked.lubricant,
            line.role,
            str(len(line.ranked.campaigns)),
            str(line.n) if line.n else str(sum(one.n for one in level.references)),
            with_interval(line.estimate, line.low, line.high) if line.estimate is not None else "1",
            _beyond(line),
            side_word(study, line).capitalize(),
        ]
        for line in level.lines
    ]
    sure = percentage(study.confidence)
    return table(
        [
            "Place",
            "Oil",
            "Role",
            "Campaigns",
            "Runs",
            "Ratio as run",
            "With spread between campaigns",
            f"Against {study.reference}",
        ],
        rows,
        caption=(
            f"{study.response.label} at {load_text(level.load_level)}: ranked by ratio to {study.reference}"
        ),
        key=f"range-{study.levels.index(level) + 1}",
        number_columns=(3, 4, 5, 6),
        row_heads=False,
        row_classes=["reference" if line.role == "reference" else "" for line in level.lines],
        note=(
            f"Ratios with {sure} intervals, each for itself. Place: ranks compatible with the "
            "intervals. As run: the runs of these campaigns, weighted by variance. With spread: what these "
            "and other campaigns may give."
        ),
    )


def ratios_table(study: RangeStudy, level: RangeLevel) -> Markup:
    """Tabulate every ratio of every campaign."""
    agreement = {line.ranked.lubricant: line.ranked.combination for line in level.lines}
    rows = []
    for ratio in sorted(level.ratios, key=lambda one: (_rank(level, one.lubricant), one.campaign)):
        combined = agreement[ratio.lubricant]
        p = combined.q_p if combined is not None else None
        rows.append(
            [
                ratio.lubricant,
                ratio.campaign,
                str(ratio.n),
                str(ratio.n_reference),
                significant(math.exp(ratio.log_ratio)),
                significant(100.0 * math.expm1(ratio.standard_error), 2),
                "one campaign" if p is None else p_value(p),
            ]
        )
    return table(
        [
            "Oil",
            "Campaign",
            "Runs",
            f"Runs of {study.reference}",
            "Ratio",
            ("Standard error", "%"),
            "p that its campaigns agree",
        ],
        rows,
        caption=f"Every ratio of every campaign at {load_text(level.load_level)}",
        key=f"ratios-{study.levels.index(level) + 1}",
        number_columns=range(2, 7),
        long=len(rows) > 20,
    )


def references_table(study: RangeStudy, level: RangeLevel) -> Markup:
    """Tabulate the reference in each campaign."""
    rows = [
        [
            one.campaign,
            date_range([one.first_day]) if one.first_day else "not recorded",
            str(one.n),
            significant(one.mean * study.response.shown_factor),
        ]
        for one in level.references
    ]
    return table(
        ["Campaign", "From", "Runs", (f"Geometric mean of {study.reference}", study.response.shown_unit)],
        rows,
        caption=f"The reference in each campaign at {load_text(level.load_level)}",
        key=f"references-{study.levels.index(level) + 1}",
        number_columns=(2, 3),
    )


def _places(best: int, worst: int) -> str:
    return str(best) if best == worst else f"{best} to {worst}"


def _beyond(line: RangeLine) -> str:
    one = line.ranked
    if one.combination is None:
        return "1"
    if one.combination.between_sd is None:
        return "spread unknown"
    return with_interval(one.ratio, one.low, one.high, equal=1.0)


def _rank(level: RangeLevel, lubricant: str) -> int:
    return next(line.ranked.rank for line in level.lines if line.ranked.lubricant == lubricant)


def campaigns_of(level: RangeLevel) -> str:
    """Name the campaigns joined at a load."""
    return listing([one.campaign for one in level.references])


@dataclass(frozen=True, slots=True)
class RangeReport:
    """A product range with what its report needs beside.

    Attributes
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
    """Read campaigns and rank their oils."""
    campaigns = read_folders(folders)
    return RangeReport(study_range(campaigns, response, reference, confidence), inputs_of(campaigns))


def front(report: RangeReport) -> HTML:
    """Show which oil ranks first, what that is worth, and the first chart."""
    study = report.study
    lead = paragraph(
        f"How do the oils of several campaigns rank, each against the reference {study.reference} of its own "
        "campaign?",
        "lead",
    )
    level = study.levels[0]
    answer = Markup('<p class="answer">{} {}</p>').format(size_sentence(study), further_sentence(level))
    return as_html([lead, finding(rank_sentence(study, level)), answer, _chart(study, level)])


def ranking(report: RangeReport) -> HTML:
    """Show the ranked tables, and the charts of further loads."""
    study = report.study
    parts: list[str] = []
    for level in study.levels:
        parts.append(finding(split_sentence(study, level)))
        parts += [] if level is study.levels[0] else [_chart(study, level)]
        parts.append(ranked_table(study, level))
    parts.append(paragraph(LIFTING))
    return as_html(parts)


def agreement(report: RangeReport) -> HTML:
    """Show how far the campaigns agree."""
    study = report.study
    parts: list[str] = []
    for level in study.levels:
        parts += [
            finding(agreement_sentence(study, level)),
            paragraph(further_sentence(level)),
            references_table(study, level),
            ratios_table(study, level),
        ]
    return as_html(parts)


def made(report: RangeReport) -> HTML:
    """Show the campaigns, and what was left out with the reason."""
    study = report.study
    return as_html(
        [
            finding(size_sentence(study)),
            campaigns_table(study.campaigns, study.reference, "Campaigns given"),
            *page.left_out_parts(study.left_out),
        ]
    )


def provenance(report: RangeReport) -> HTML:
    """Show from which files and with which versions the report was made."""
    return as_html([inputs_html(report.inputs)])


def publish(report: RangeReport) -> None:
    """Hand the machine-readable results to the report, without showing them."""
    campaigns = campaign_entries(report.study.campaigns, report.study.reference)
    publish_results(range_results(report.study) | {"campaigns": campaigns})


def _chart(study: RangeStudy, level: RangeLevel) -> str:
    thin = "" if level.between_sd is None else "; thin line: with the spread between campaigns"
    beyond = "" if level.between_sd is None else ", an arrow where it goes beyond the axis"
    return figure_for_both(
        lambda width: range_chart(study, level, width_mm=width),
        alt=rank_sentence(study, level),
        caption=(
            f"{study.response.label} at {load_text(level.load_level)} as a ratio to {study.reference}, "
            f"best at the top. Thick bar: {percentage(study.confidence)} interval in the campaigns as "
            f"run{thin}{beyond}. Dots: single campaigns of an oil that ran in several. Joined: "
            f"{campaigns_of(level)}."
        ),
        key=f"range-{study.levels.index(level) + 1}",
    )
