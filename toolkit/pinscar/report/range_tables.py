"""Tables of a product range report."""

from __future__ import annotations

import math

from pinscar.decision.product_range import RangeLevel, RangeLine, RangeStudy
from pinscar.decision.wording import (
    date_range,
    listing,
    load_text,
    p_value,
    percentage,
    significant,
    with_interval,
)
from pinscar.report.markup import Markup, table
from pinscar.report.range_words import side_word


def ranked_table(study: RangeStudy, level: RangeLevel) -> Markup:
    """Tabulate the range of one load, best first.

    Parameters
    ----------
    study : RangeStudy
        The study.
    level : RangeLevel
        One of its levels.

    Returns
    -------
    Markup
        The table.
    """
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
    """Tabulate every ratio of every campaign.

    Parameters
    ----------
    study : RangeStudy
        The study.
    level : RangeLevel
        One of its levels.

    Returns
    -------
    Markup
        The table.
    """
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
    """Tabulate the reference in each campaign.

    Parameters
    ----------
    study : RangeStudy
        The study.
    level : RangeLevel
        One of its levels.

    Returns
    -------
    Markup
        The table.
    """
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
    return with_interval(one.ratio, one.low, one.high)


def _rank(level: RangeLevel, lubricant: str) -> int:
    return next(line.ranked.rank for line in level.lines if line.ranked.lubricant == lubricant)


def campaigns_of(level: RangeLevel) -> str:
    """Name the campaigns joined at a load.

    Parameters
    ----------
    level : RangeLevel
        The level.

    Returns
    -------
    str
        Their ids.
    """
    return listing([one.campaign for one in level.references])
