"""What a reading study means for comparing oils: reading error beside the spread between runs."""

from __future__ import annotations

import math

from pinscar.decision.reading_study import ScarReadings
from pinscar.decision.wording import counted, percentage, significant
from pinscar.report.markup import Markup, table
from pinscar.report.reading_words import NO_BREAK, SMALL, amount

ENOUGH_DF = 6
"""Degrees of freedom under which the spread between runs is called rough: own choice."""


def widening(study: ScarReadings, reading_sd: float) -> float | None:
    """Compute by how much reading error widens the spread between runs.

    Parameters
    ----------
    study : ScarReadings
        The study.
    reading_sd : float
        Standard deviation of a scar's value from reading it, in the unit of the axis.

    Returns
    -------
    float or None
        Factor [1], 1 where reading adds nothing; None where the spread between runs isn't known.
    """
    runs = study.between_runs
    return None if runs is None else math.hypot(runs.spread, reading_sd / study.mean) / runs.spread


def meaning_sentence(study: ScarReadings) -> str:
    """Say what the reading error does to a comparison of oils.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str
        One sentence or two.
    """
    runs, error = study.between_runs, study.reading_sd()
    factor = widening(study, error)
    if runs is None or factor is None:
        return (
            f"No oil was run twice at one load here, so {amount(study, error)} of reading error can't be "
            "set against "
            "the spread between runs: see that spread in a campaign report."
        )
    numbers = (
        f"runs of one oil at one load scatter by {_percent(runs.spread)} ({_percent(runs.low)} to "
        f"{_percent(runs.high)}, {counted(runs.df, 'degree')} of freedom), and one reading by any reader "
        "adds "
        f"{_percent(error / study.mean)}"
    )
    if factor < SMALL:
        sure = "" if runs.df >= ENOUGH_DF else "As far as so few repeats tell, "
        start = f"{sure}reading"
        return (
            f"{start[0].upper()}{start[1:]} is not what limits a comparison of oils: {numbers}, which "
            "widens the spread by "
            f"{_percent(factor - 1.0)}. More runs help; more readings hardly do."
        )
    if factor < math.sqrt(2.0):
        return (
            f"Reading adds visibly to the scatter: {numbers}, which widens the spread by "
            f"{_percent(factor - 1.0)}. "
            "One reader for all oils, or two readings per scar, make it smaller."
        )
    return (
        f"Reading scatters more than the runs do: {numbers}, which makes the spread "
        f"{significant(factor, 2)} times as "
        "large. Let several readers read each scar before adding runs."
    )


def schemes(study: ScarReadings) -> list[tuple[str, float]]:
    """List ways to read the scars of a campaign, with the reading error of each.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    list of tuple of str and float
        Words and the standard deviation that differs between oils, in the unit of the axis.
    """
    return [
        ("once each, different readers for different oils", study.reading_sd()),
        ("once each, one reader for all oils", study.reading_sd(same_reader=True)),
        ("3 times each, one reader for all oils", study.reading_sd(1, 3, same_reader=True)),
        ("once by each of 2 readers, the same two for all oils", study.reading_sd(2, 1, same_reader=True)),
    ]


def scheme_table(study: ScarReadings) -> Markup:
    """Tabulate ways to read, and what each does to a comparison of oils.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    Markup
        The table.
    """
    rows = []
    for words, value in schemes(study):
        factor = widening(study, value)
        wider = "not known" if factor is None else significant(100 * (factor - 1.0), 2)
        rows.append([words, significant(value, 2), significant(100 * value / study.mean, 2), wider])
    return table(
        [
            "Every scar is read",
            ("Reading error", study.axis.shown_unit),
            ("Share of mean scar", "%"),
            ("Spread wider by", "%"),
        ],
        rows,
        caption="Ways to read, and the reading error that stays between oils",
        key="schemes",
        number_columns=(1, 2, 3),
        note=(
            "Standard deviations. With the same readers for all oils their own offset cancels in every "
            "ratio between "
            "oils; a limit in absolute units still carries it."
        ),
    )


def stated_sentence(study: ScarReadings) -> str | None:
    """Set the reading uncertainty that campaign.toml states beside the one found.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str or None
        One sentence; None for an area, or where the rig states none.
    """
    stated = study.analysis.campaign.file.rig.reading_uncertainty
    if stated is None or study.axis.unit != "mm":
        return None
    found = next(component for component in study.study.components if component.source == "reading")
    low, high = (math.sqrt(end) for end in (found.low, found.high))
    value, stated_mm = study.reading_sd(), 1e3 * stated
    start = (
        f"campaign.toml states a reading uncertainty of {stated_mm:g}{NO_BREAK}mm; this study finds "
        f"{significant(value, 2)}{NO_BREAK}mm ({significant(low, 2)} to {significant(high, 2)}, "
        f"{percentage(study.analysis.confidence)} interval)"
    )
    if low <= stated_mm <= high:
        return f"{start}, which agrees with it."
    return f"{start}: {'larger' if stated_mm < low else 'smaller'} than stated. Correct the statement."


def _percent(share: float) -> str:
    return f"{significant(100 * share, 2)}{NO_BREAK}%"
