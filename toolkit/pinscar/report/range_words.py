"""What a product range report says in plain sentences."""

from __future__ import annotations

import math

from pinscar.decision.product_range import RangeLevel, RangeLine, RangeStudy, size_of
from pinscar.decision.wording import (
    change_range,
    compared,
    counted,
    fixed,
    listing,
    load_text,
    percentage,
    significant,
)

APART = "not separated"
FAR = math.log(2.0)
"""Spread of logarithms from which a percentage says nothing any more."""
FEW_DF = 4
"""Degrees of freedom of the spread between campaigns under which its interval says little."""


def line_words(study: RangeStudy, line: RangeLine) -> str:
    """Say how an oil compares with the reference, in the campaigns as run.

    Parameters
    ----------
    study : RangeStudy
        The study.
    line : RangeLine
        One of its oils.

    Returns
    -------
    str
        One clause.
    """
    if line.estimate is None or line.low is None or line.high is None:
        return "the reference"
    response = study.response
    if line.low <= 1.0 <= line.high:
        return f"not separated from {study.reference} ({change_range(line.estimate, line.low, line.high)})"
    words = compared(line.estimate, response.smaller, response.larger, study.reference)
    return f"{words} ({change_range(line.estimate, line.low, line.high)})"


def rank_sentence(study: RangeStudy, level: RangeLevel) -> str:
    """Say which oil ranks first and how far its lead is sure.

    Parameters
    ----------
    study : RangeStudy
        The study.
    level : RangeLevel
        One of its levels.

    Returns
    -------
    str
        One sentence.
    """
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
    """Say which oils lie on which side of the reference.

    Parameters
    ----------
    study : RangeStudy
        The study.
    level : RangeLevel
        One of its levels.

    Returns
    -------
    str
        One sentence.
    """
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
    """Say on which side of the reference an oil lies, in the campaigns as run.

    Parameters
    ----------
    study : RangeStudy
        The study.
    line : RangeLine
        One of its oils.

    Returns
    -------
    str
        One or two words.
    """
    if line.low is None or line.high is None:
        return "the reference"
    if line.low <= 1.0 <= line.high:
        return APART
    return study.response.smaller if line.high < 1.0 else study.response.larger


def size_sentence(study: RangeStudy) -> str:
    """Say what was joined.

    Parameters
    ----------
    study : RangeStudy
        The study.

    Returns
    -------
    str
        One sentence.
    """
    loads = listing([load_text(level.load_level) for level in study.levels])
    left = f"; {counted(len(study.left_out), 'item')} left out, with the reason" if study.left_out else ""
    return f"{size_of(study)}, joined through {study.reference} at {loads}{left}."


def further_sentence(level: RangeLevel) -> str:
    """Say what the ranking is worth beyond the campaigns as run.

    Parameters
    ----------
    level : RangeLevel
        The level.

    Returns
    -------
    str
        One or two sentences.
    """
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
            "the ranking holds for these campaigns. Run one or two oils of the range again in the next ones."
        )
    return f"{said}; the thin lines include it."


def agreement_sentence(study: RangeStudy, level: RangeLevel) -> str:
    """Say how far the reference itself moved between the campaigns.

    Parameters
    ----------
    study : RangeStudy
        The study.
    level : RangeLevel
        One of its levels.

    Returns
    -------
    str
        One sentence.
    """
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

    Parameters
    ----------
    log_sd : float
        Standard deviation of the logarithms.

    Returns
    -------
    str
        Such as ``8 %``.

    Examples
    --------
    >>> percent(0.0786).replace(chr(160), " ")
    '8.2 %'
    """
    return percentage(float(significant(math.expm1(log_sd), 2)))
