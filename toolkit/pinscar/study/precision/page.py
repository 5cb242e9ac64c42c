"""What the cells of the precision study call: one function per section, with its tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pinscar.campaign_report.setting import conditions, provenance_html
from pinscar.decision.responses import Response
from pinscar.page.markup import Markup, bullet_list, callout, finding, paragraph, table, tag
from pinscar.page.outline import as_html, figure_for_both
from pinscar.press.results import publish_results
from pinscar.press.subject import read_one
from pinscar.stats.outliers import GrubbsResult
from pinscar.stats.precision import CochranResult, LaboratoryCell, critical_difference
from pinscar.study import page
from pinscar.study.page import sd_with_interval
from pinscar.study.precision import chart as charts
from pinscar.study.precision import words
from pinscar.study.precision.study import (
    MEAN_SIZES,
    OUTLIER_P,
    PrecisionStudy,
    StudyMaterial,
    between_share,
    percent,
    study_precision,
)
from pinscar.study.precision.words import precision_results
from pinscar.wording import p_value, percentage, significant

if TYPE_CHECKING:
    from IPython.display import HTML


WHOLE_ROWS = 24
"""Longest table that stays whole on a printed page."""


def precision_table(study: PrecisionStudy, response: Response) -> Markup:
    """Tabulate mean, s_r, s_R, r and R in the unit of the response."""
    unit, factor = response.shown_unit, response.shown_factor
    rows = []
    for material in study.of(response):
        found = material.precision
        inner, outer = material.repeatability_interval, material.reproducibility_interval
        rows.append(
            [
                material.name,
                str(len(found.cells)),
                str(material.n),
                significant(found.general_mean * factor),
                sd_with_interval(*(v * factor for v in (found.repeatability_sd, *inner))),
                sd_with_interval(*(v * factor for v in (found.reproducibility_sd, *outer))),
                significant(found.repeatability_limit * factor),
                significant(found.reproducibility_limit * factor),
            ]
        )
    heads = ("Mean", "s_r", "s_R", "r", "R")
    return table(
        [
            "Oil and load",
            study.grouping.plural.capitalize(),
            "Runs",
            *[(_symbol(head), unit) for head in heads],
        ],
        rows,
        caption=f"{response.label}: repeatability and reproducibility",
        key=f"precision-{_key(study, response)}",
        number_columns=range(1, 8),
        note=Markup(
            "Standard deviations with {} intervals. <i>r</i> = 2.8 <i>s</i><sub>r</sub> and <i>R</i> = 2.8 "
            "<i>s</i><sub>R</sub>: what two single runs may differ by in 19 cases of 20."
        ).format(percentage(study.analysis.confidence)),
    )


def percent_table(study: PrecisionStudy, response: Response) -> Markup | None:
    """Tabulate the same as percentages of the mean, and how much of the variance lies between groups."""
    found = [material for material in study.of(response) if material.relative]
    if not found:
        return None
    rows = [[material.name, *_percentages(material)] for material in found]
    heads = ("s_r", "s_L", "s_R", "r", "R")
    between = (f"Between {study.grouping.plural}", "% of variance")
    return table(
        ["Oil and load", *[(_symbol(head), "%") for head in heads], between],
        rows,
        caption=f"{response.label}: the same in percent of the mean",
        key=f"percent-{_key(study, response)}",
        number_columns=range(1, 7),
    )


def difference_table(study: PrecisionStudy, response: Response) -> Markup:
    """Tabulate by how much two means may differ through scatter alone."""
    factor, noun, plural = response.shown_factor, study.grouping.noun, study.grouping.plural
    rows = [
        [
            material.name,
            *[
                significant(critical_difference(material.precision, n, one_laboratory=one) * factor)
                for one in (True, False)
                for n in MEAN_SIZES
            ],
        ]
        for material in study.of(response)
    ]
    heads = [
        (f"{n} {'run' if n == 1 else 'runs'} each, {who}", response.shown_unit)
        for who in (f"one {noun}", f"two {plural}")
        for n in MEAN_SIZES
    ]
    return table(
        ["Oil and load", *heads],
        rows,
        caption=f"{response.label}: what two means of one oil may differ by in 19 cases of 20",
        key=f"differences-{_key(study, response)}",
        number_columns=range(1, 1 + len(heads)),
    )


def tests_table(study: PrecisionStudy, response: Response) -> Markup:
    """Tabulate the tests of Cochran and Grubbs."""
    rows = []
    for material in study.of(response):
        spread, far = material.cochran, material.grubbs
        where = None if far.index is None else material.precision.cells[far.index].laboratory
        rows.append(_test_row(material, "Cochran, spread", spread.group, spread, spread.p))
        rows.append(_test_row(material, "Grubbs, mean", where, far, far.p))
    return table(
        [
            "Oil and load",
            "Test",
            study.grouping.noun.capitalize(),
            "Statistic",
            "Critical, 5 %",
            "p",
            "Finding",
        ],
        rows,
        caption=f"{response.label}: tests for a {study.grouping.noun} that stands out most",
        key=f"tests-{_key(study, response)}",
        number_columns=(3, 4, 5),
        row_classes=["flagged" if "flag" in str(row[-1]) else "" for row in rows],
        note="Straggler: p between 1 and 5 %. Outlier: p under 1 %. Both are flagged and kept.",
    )


def cell_table(study: PrecisionStudy, response: Response) -> Markup:
    """Tabulate every group on every material."""
    found = [(m, cell) for m in study.of(response) for cell in m.precision.cells]
    rows = [[m.name, *_cell_row(cell, response)] for m, cell in found]
    unit = response.shown_unit
    return table(
        [
            "Oil and load",
            study.grouping.noun.capitalize(),
            "Runs",
            ("Mean", unit),
            ("sd", unit),
            "h",
            "k",
            "Remark",
        ],
        rows,
        caption=f"{response.label}: mean and standard deviation of every {study.grouping.noun}",
        key=f"cells-{_key(study, response)}",
        number_columns=range(2, 7),
        row_classes=["flagged" if cell.flagged else "" for _, cell in found],
        long=len(rows) > WHOLE_ROWS,
    )


def _cell_row(cell: LaboratoryCell, response: Response) -> list[object]:
    factor = response.shown_factor
    flagged = ", ".join(f"{name} over its limit" for name in cell.flagged)
    return [
        cell.laboratory,
        str(cell.n),
        significant(cell.mean * factor),
        "one run" if cell.sd is None else significant(cell.sd * factor, 2),
        *["none" if value is None else f"{value:.2f}" for value in (cell.h, cell.k)],
        tag("caution", flagged) if flagged else "–",
    ]


def _test_row(
    material: StudyMaterial,
    name: str,
    group: str | None,
    result: CochranResult | GrubbsResult,
    p: float | None,
) -> list[object]:
    if group is None or result.statistic is None or result.critical is None:
        return [material.name, name, "–", "–", "–", "–", result.note or "no test possible"]
    outcome: object = "nothing stands out"
    if result.flagged:
        outcome = tag(
            "caution", "outlier, flagged" if p is not None and p <= OUTLIER_P else "straggler, flagged"
        )
    return [
        material.name,
        name,
        group,
        significant(result.statistic),
        significant(result.critical),
        p_value(p),
        outcome,
    ]


def _percentages(material: StudyMaterial) -> list[str]:
    found = material.precision
    values = (
        found.repeatability_sd,
        found.between_sd,
        found.reproducibility_sd,
        found.repeatability_limit,
        found.reproducibility_limit,
    )
    shares = [significant(percent(material, value)) for value in values]
    return [*shares, f"{between_share(material):.0f}"]


def _symbol(head: str) -> str:
    letter, _, index = head.partition("_")
    if len(letter) > 1:
        return head
    lower_first = Markup("<sub>{}</sub>").format(index) if index else ""
    return Markup("<i>{}</i>{}").format(letter, lower_first)


def _key(study: PrecisionStudy, response: Response) -> str:
    return str(study.responses.index(response) + 1)


def load(
    folder: str,
    group: str | None = None,
    responses: Sequence[str] | None = None,
    confidence: float | None = None,
) -> PrecisionStudy:
    """Read a campaign and evaluate it as a precision study."""
    return study_precision(read_one(Path(folder)), group, responses, confidence)


def front(study: PrecisionStudy) -> HTML:
    """Show the question, the limits in words, what stands out and every result."""
    main = study.responses[0]
    sentences = [words.size_sentence(study), words.flags_sentence(study, main)]
    parts = page.front_parts(study.analysis, words.limits_sentence(study, main), sentences)
    return as_html([*parts, _results_figure(study, main)])


def limits(study: PrecisionStudy) -> HTML:
    """Show repeatability and reproducibility of every response."""
    parts: list[str] = []
    for response in study.responses:
        parts += [
            finding(words.components_sentence(study, response)),
            precision_table(study, response),
        ]
        shares = percent_table(study, response)
        parts += [] if shares is None else [shares]
    notes = words.notes(study)
    parts += [callout("caution", "how far these numbers reach", " ".join(notes))] if notes else []
    return as_html(parts)


def meaning(study: PrecisionStudy) -> HTML:
    """Say what the limits mean for someone who compares two results or two means."""
    parts: list[str] = [
        finding(words.meaning_sentence(study)),
        bullet_list(words.meanings(study)),
    ]
    parts += [difference_table(study, response) for response in study.responses]
    return as_html(parts)


def consistency(study: PrecisionStudy) -> HTML:
    """Show h, k and the tests for groups that stand out."""
    parts: list[str] = []
    for response in study.responses:
        parts += [finding(words.flags_sentence(study, response)), _consistency_figure(study, response)]
        without = words.without_sentence(study, response)
        parts += [paragraph(without)] if without else []
        parts.append(tests_table(study, response))
    return as_html(parts)


def cells(study: PrecisionStudy) -> HTML:
    """Show mean and spread of every group."""
    parts: list[str] = []
    for response in study.responses:
        parts.append(finding(words.range_sentence(study, response)))
        parts += [] if response == study.responses[0] else [_results_figure(study, response)]
        parts.append(cell_table(study, response))
    return as_html(parts)


def made(study: PrecisionStudy) -> HTML:
    """Show how the runs were made, and what was left out."""
    return as_html(
        [
            finding(words.size_sentence(study)),
            conditions(study.analysis),
            *_sizes(study),
            *page.left_out_parts(study.left_out),
            *page.warning_parts(study.analysis),
        ]
    )


def provenance(study: PrecisionStudy) -> HTML:
    """Show from which files and with which versions the report was made."""
    return as_html([provenance_html(study.analysis)])


def publish(study: PrecisionStudy) -> None:
    """Hand the machine-readable results to the report, without showing them."""
    publish_results(precision_results(study))


def _sizes(study: PrecisionStudy) -> list[str]:
    unequal = any(len({values.size for values in m.values.values()}) > 1 for m in study.materials)
    said = f"The {study.grouping.plural} did not make equally many runs; the formulas allow for that."
    return [paragraph(said)] if unequal else []


def _results_figure(study: PrecisionStudy, response: Response) -> str:
    noun = study.grouping.noun
    return figure_for_both(
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
    return figure_for_both(
        lambda width: charts.consistency_chart(study.of(response), width_mm=width),
        alt=words.flags_sentence(study, response),
        caption=(
            f"{response.label}, consistency of each {noun}: h for its mean, k for its spread. Dashed or "
            f"short lines: critical values at 0.5 % for one {noun}; a marked bar exceeds its own."
        ),
        key=f"consistency-{study.responses.index(response) + 1}",
    )
