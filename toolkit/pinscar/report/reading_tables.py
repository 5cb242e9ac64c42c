"""Tables of a reading study."""

from __future__ import annotations

import math

import numpy as np

from pinscar.decision.reading_study import ScarReadings
from pinscar.decision.wording import p_value, significant, with_interval
from pinscar.report.markup import Markup, table, tag
from pinscar.report.reading_words import SOURCES, bias_words, confidence_words, deviation_text
from pinscar.report.study_page import sd_with_interval


def component_table(study: ScarReadings) -> Markup:
    """Tabulate the sources of spread.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    Markup
        The table.
    """
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
            "deviations, and "
            "their shares, don't."
        ),
    )


def anova_table(study: ScarReadings) -> Markup:
    """Tabulate the analysis of variance.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    Markup
        The table.
    """
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
    """Tabulate each reader's mean deviation and repeatability.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    Markup
        The table.
    """
    values, unit = study.layout.values, study.axis.shown_unit
    rows = []
    for index, reader in enumerate(study.layout.readers):
        own = study.deviations[index]
        spread = (
            significant(float(np.sqrt(np.mean(np.var(values[index], axis=1, ddof=1)))), 2)
            if values.shape[2] > 1
            else "one reading per scar"
        )
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
    """Tabulate the bias on certified lengths.

    Parameters
    ----------
    study : ScarReadings
        The study; it has at least one bias.

    Returns
    -------
    Markup
        The table.
    """
    rows = [
        [
            bias.reader or "all readers",
            f"{1e3 * bias.result.certified:.6g}",
            str(bias.result.n),
            f"{1e3 * bias.result.mean:.4f}",
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
            "counts as "
            "one value, so n is the number of readers."
        ),
    )


def _finding(shown: bool | None) -> object:
    if shown is None:
        return "no interval"
    return tag("caution", "bias shown") if shown else "no bias shown"


def _micrometres(value: float | None) -> float | None:
    return None if value is None else 1e6 * value


def _farthest(study: ScarReadings, index: int) -> str:
    means = study.deviations[index].mean(axis=1)
    place = int(np.argmax(np.abs(means)))
    return f"{deviation_text(study, float(means[place]))} ({study.layout.scars[place]})"
