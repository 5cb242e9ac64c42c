"""What the cells of the reading study call: one function per section, with its tables."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

from pinscar.campaign_report.setting import provenance_html
from pinscar.page.markup import Markup, callout, finding, method_note, paragraph, table, tag
from pinscar.page.outline import as_html, figure_for_both
from pinscar.press.results import publish_results
from pinscar.press.subject import read_one
from pinscar.shown import to_shown
from pinscar.study import page
from pinscar.study.page import sd_with_interval
from pinscar.study.reading import chart as charts
from pinscar.study.reading import words
from pinscar.study.reading.study import ScarReadings, deviation_text, farthest_scar, repeat_sd, study_readings
from pinscar.study.reading.words import SOURCES, bias_words, confidence_words, reading_results
from pinscar.wording import p_value, significant, with_interval

if TYPE_CHECKING:
    from IPython.display import HTML


def component_table(study: ScarReadings) -> Markup:
    """Tabulate the sources of spread."""
    rows = [
        [
            SOURCES[one.source].capitalize(),
            sd_with_interval(*(math.sqrt(value) for value in (one.variance, one.low, one.high))),
            "–" if math.isnan(one.share_of_variance) else significant(100 * one.share_of_variance),
            "–" if math.isnan(one.share_of_sd) else significant(100 * one.share_of_sd),
        ]
        for one in study.study.components
    ]
    return table(
        [
            "Source",
            ("Standard deviation", study.axis.shown_unit),
            ("Share of variance", "%"),
            ("Share of sd", "%"),
        ],
        rows,
        caption=f"{study.axis.label}: where the spread of the readings comes from",
        key="components",
        number_columns=(1, 2, 3),
        row_classes=["total" if one.source == "total" else "" for one in study.study.components],
        note=(
            f"Standard deviations with {confidence_words(study)} intervals. Variances add up; standard "
            "deviations, and their shares, don't."
        ),
    )


def anova_table(study: ScarReadings) -> Markup:
    """Tabulate the analysis of variance."""
    names = {
        "reader": "Reader",
        "scar": "Scar",
        "interaction": "Reader by scar",
        "repeats": "Repeats",
        "total": "Total",
    }
    rows = [
        [
            names[row.source],
            str(row.df),
            significant(row.sum_of_squares),
            "–" if row.mean_square is None else significant(row.mean_square),
            "–" if row.f is None else significant(row.f),
            p_value(row.p),
        ]
        for row in study.study.table
    ]
    unit = "mm²" if study.axis.unit == "mm" else "mm⁴"
    return table(
        ["Source", "Degrees of freedom", ("Sum of squares", unit), ("Mean square", unit), "F", "p"],
        rows,
        caption=f"{study.axis.label}: analysis of variance",
        key="anova",
        number_columns=range(1, 6),
        row_classes=["total" if row.source == "total" else "" for row in study.study.table],
    )


def reader_table(study: ScarReadings) -> Markup:
    """Tabulate each reader's mean deviation and repeatability."""
    unit = study.axis.shown_unit
    rows = []
    for index, reader in enumerate(study.layout.readers):
        own = study.deviations[index]
        repeats = repeat_sd(study, index)
        spread = "one reading per scar" if repeats is None else significant(repeats, 2)
        rows.append(
            [reader, str(own.size), deviation_text(study, float(own.mean())), spread, _farthest(study, index)]
        )
    return table(
        [
            "Reader",
            "Readings",
            ("Mean deviation", unit),
            ("Sd of repeats", unit),
            ("Farthest scar mean", unit),
        ],
        rows,
        caption=f"{study.axis.label}: each reader against the mean of all readers on the same scars",
        key="readers",
        number_columns=(1, 2, 3, 4),
    )


def bias_table(study: ScarReadings) -> Markup:
    """Tabulate the bias on certified lengths."""
    rows = [
        [
            bias.reader or "all readers",
            f"{to_shown(bias.result.certified, 'mm'):.6g}",
            str(bias.result.n),
            f"{to_shown(bias.result.mean, 'mm'):.4f}",
            with_interval(*(_micrometres(v) for v in (bias.result.bias, bias.result.low, bias.result.high))),
            bias_words(bias),
            _finding(bias.result.shown),
        ]
        for bias in study.biases
    ]
    return table(
        ["Reader", ("Certified", "mm"), "n", ("Mean", "mm"), ("Bias", "µm"), "In percent", "Finding"],
        rows,
        caption="Readings of a certified length",
        key="bias",
        number_columns=(1, 2, 3, 4),
        note=(
            f"Intervals: {confidence_words(study)}, each for itself. All readers: the mean of each reader "
            "counts as one value, so n is the number of readers."
        ),
    )


def _finding(shown: bool | None) -> object:
    if shown is None:
        return "no interval"
    return tag("caution", "bias shown") if shown else "no bias shown"


def _micrometres(value: float | None) -> float | None:
    return None if value is None else to_shown(value, "µm")


def _farthest(study: ScarReadings, index: int) -> str:
    scar, apart = farthest_scar(study, index)
    return f"{deviation_text(study, apart)} ({scar})"


def load(
    folder: str, axis: str = "scar_length", confidence: float | None = None, pool_above: float = 0.25
) -> ScarReadings:
    """Read a campaign and evaluate its repeated readings."""
    return study_readings(read_one(Path(folder)), axis, confidence, pool_above)


def front(study: ScarReadings) -> HTML:
    """Show the question, the reading error in words and every reading."""
    sentences = [words.size_sentence(study), words.meaning_sentence(study)]
    parts = page.front_parts(study.analysis, words.difference_sentence(study), sentences)
    figure = figure_for_both(
        lambda width: charts.deviations_chart(study, width_mm=width),
        alt=words.readers_sentence(study),
        caption=(
            f"{study.axis.label}: every reading (rings) and the mean of its repeats (line), less the mean of "
            "the scar over all readers. Dashed: the reader's mean. A line that rises, falls or jumps means "
            "that the reader reads some scars differently from the others."
        ),
        key="deviations",
    )
    return as_html([*parts, figure])


def sources(study: ScarReadings) -> HTML:
    """Show the variance components and the share of reading in the whole."""
    figure = figure_for_both(
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
        paragraph(words.share_sentence(study)),
        component_table(study),
    ]
    if study.study.note:
        parts.append(callout("caution", "how far these numbers reach", study.study.note))
    return as_html(parts)


def readers(study: ScarReadings) -> HTML:
    """Show the readers against each other, and the analysis of variance."""
    return as_html(
        [
            finding(words.readers_sentence(study)),
            paragraph(words.interaction_sentence(study)),
            reader_table(study),
            anova_table(study),
            method_note(study.study.method),
        ]
    )


def bias(study: ScarReadings) -> HTML:
    """Show the readings of a certified length, or how to get them."""
    parts: list[str] = [finding(words.bias_sentence(study))]
    if study.biases:
        return as_html([*parts, bias_table(study)])
    how = (
        "Let every reader read a certified length, such as a graticule, several times under the same "
        "microscope, and write the readings into graticule.csv: reader, reading, certified [mm], read [mm]."
    )
    return as_html([*parts, paragraph(how)])


def meaning(study: ScarReadings) -> HTML:
    """Say what the reading error means for comparing oils."""
    stated = words.stated_sentence(study)
    return as_html(
        [
            finding(words.meaning_sentence(study)),
            words.scheme_table(study),
            *([paragraph(stated)] if stated else []),
        ]
    )


def made(study: ScarReadings) -> HTML:
    """Show what was read and what was left out."""
    return as_html(
        [
            finding(words.size_sentence(study)),
            *page.left_out_parts(study.left_out),
            *page.warning_parts(study.analysis),
        ]
    )


def provenance(study: ScarReadings) -> HTML:
    """Show from which files and with which versions the report was made."""
    return as_html([provenance_html(study.analysis)])


def publish(study: ScarReadings) -> None:
    """Hand the machine-readable results to the report, without showing them."""
    publish_results(reading_results(study) | {"schemes": words.scheme_entries(study)})
