"""What a reading study says in plain sentences."""

from __future__ import annotations

import math

from pinscar.decision.graticule import Bias
from pinscar.decision.reading_study import ScarReadings
from pinscar.decision.wording import counted, decimals_for, fixed, listing, p_value, percentage, significant
from pinscar.stats.precision import LIMIT_FACTOR

NO_BREAK = "\N{NO-BREAK SPACE}"
FEW_CATEGORIES = 5
"""Fewer groups of scars than this are commonly held to be too few for a gauge (common practice)."""

SMALL = 1.05
"""Reading that widens the spread by less than this factor is called small: own choice, 5 %."""

SOURCES = {
    "repeats": "repeats by one reader",
    "reader": "differences between readers",
    "interaction": "reader-by-scar interaction",
    "reading": "total reading error",
    "scar": "the scars themselves",
    "total": "all together",
}


def amount(study: ScarReadings, value: float) -> str:
    """Write a standard deviation or a difference with its unit and as a percentage of the mean.

    Parameters
    ----------
    study : ScarReadings
        The study.
    value : float
        In the unit of its axis.

    Returns
    -------
    str
        Such as ``0.10 mm (2.6 %)``, with spaces that don't break.
    """
    share = significant(100.0 * value / study.mean, 2)
    return f"{significant(value, 2)}{NO_BREAK}{study.axis.shown_unit} ({share}{NO_BREAK}%)"


def difference_sentence(study: ScarReadings) -> str:
    """Say how far two readings of one scar lie apart.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str
        One sentence.
    """
    anyone, one = (LIMIT_FACTOR * value for value in (study.reading_sd(), _repeat_sd(study)))
    return (
        f"Two readings of one {_lower(study.axis.label)} by different readers differ by less than "
        f"{amount(study, anyone)} in 19 cases of 20, by one reader by less than {amount(study, one)}."
    )


def size_sentence(study: ScarReadings) -> str:
    """Say how much was read.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str
        One sentence.
    """
    found = study.study
    often = {1: "once", 2: "twice"}.get(found.n_repeats, f"{found.n_repeats} times")
    return (
        f"In all, {counted(found.n_readers, 'reader')} ({listing(list(study.layout.readers))}) read "
        f"{counted(found.n_scars, 'scar')} {often} each."
    )


def share_sentence(study: ScarReadings) -> str:
    """Say which part of the spread is reading, and how many groups of scars it can tell apart.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str
        One sentence.
    """
    found = {component.source: component for component in study.study.components}
    reading, categories = found["reading"], study.study.distinct_categories
    if categories is None:
        return "No reading error shows."
    enough = "enough" if categories >= FEW_CATEGORIES else "too few"
    return (
        f"Of the variance of all these readings {_share(reading.share_of_variance)} is reading error "
        f"({_share(reading.share_of_sd)} of the standard deviation); it can tell "
        f"{counted(categories, 'group')} of scars apart, which is {enough} by the common rule of five."
    )


def largest_sentence(study: ScarReadings) -> str:
    """Say which source makes up most of the reading error.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str
        One sentence.
    """
    parts = {s: study.variance(s) for s in ("repeats", "reader", "interaction")}
    whole = sum(parts.values())
    if whole <= 0.0:
        return "No source of reading error shows."
    name = max(parts, key=lambda source: parts[source])
    return (
        f"One reading by any reader has a standard deviation of {amount(study, study.reading_sd())}; its "
        "largest "
        f"source, {SOURCES[name]}, makes up {_share(parts[name] / whole)} of that variance."
    )


def interaction_sentence(study: ScarReadings) -> str:
    """Say whether there is a reader-by-scar interaction, and what was done about it.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str
        One sentence.
    """
    row = next(row for row in study.study.table if row.source == "interaction")
    if row.p is None:
        return "A reader-by-scar interaction cannot be determined from this study."
    told = f"F = {significant(row.f)}, p = {p_value(row.p)}".replace("p = <", "p <")
    if study.study.pooled:
        return f"No reader-by-scar interaction is seen ({told}): it is pooled with the repeats."
    return f"There may be a reader-by-scar interaction ({told}): it counts as a source of its own."


def readers_sentence(study: ScarReadings) -> str:
    """Say who reads longest and who shortest.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str
        One sentence.
    """
    means = study.deviations.mean(axis=(1, 2))
    order = sorted(zip(means.tolist(), study.layout.readers, strict=True))
    (low, shortest), (high, longest) = order[0], order[-1]
    row = next(row for row in study.study.table if row.source == "reader")
    shows = (
        "more than repeats explain" if row.p is not None and row.p < 0.05 else "no more than repeats explain"
    )
    p = "" if row.p is None else f", p = {p_value(row.p)}".replace("p = <", "p <")
    return (
        f"Against the mean of all readers, {longest} reads {_signed(study, high)} and {shortest} "
        f"{_signed(study, low)}: {shows}{p}."
    )


def bias_sentence(study: ScarReadings) -> str:
    """Say whether the readers agree with a certified length.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str
        One sentence.
    """
    own = [bias for bias in study.biases if bias.reader is not None]
    if not own:
        return (
            "No certified length was read (graticule.csv), so an error that all readers share would "
            "not be seen."
        )
    shown = [bias for bias in own if bias.result.shown]
    lengths = sorted({bias.result.certified for bias in own})
    what = listing([f"{1e3 * length:g}{NO_BREAK}mm" for length in lengths])
    if not shown:
        worst = max(_reach(bias) for bias in own)
        return (
            f"On the certified {what} no reader shows a bias; one of more than "
            f"{significant(100 * worst, 2)} % is "
            "ruled out for each."
        )
    parts = [f"{bias.reader} reads {bias_words(bias)}" for bias in shown]
    return f"On the certified {what} {listing(parts)}; {_others(len(own) - len(shown))}."


def bias_words(bias: Bias) -> str:
    """Say a bias as a percentage.

    Parameters
    ----------
    bias : Bias
        The bias.

    Returns
    -------
    str
        Such as ``0.68 % long (0.12 to 1.2 %)``.
    """
    found = bias.result
    word = "long" if found.bias >= 0.0 else "short"
    text = f"{significant(100 * abs(found.bias) / found.certified, 2)}{NO_BREAK}% {word}"
    if found.low is None or found.high is None:
        return f"{text} (single reading, no interval)"
    sign = 1.0 if found.bias >= 0.0 else -1.0
    ends = sorted(100 * sign * end / found.certified for end in (found.low, found.high))
    return f"{text} ({significant(ends[0], 2)} to {significant(ends[1], 2)}{NO_BREAK}%)"


def deviation_text(study: ScarReadings, value: float) -> str:
    """Write a deviation with the decimals at which the reading error has two significant figures.

    Parameters
    ----------
    study : ScarReadings
        The study.
    value : float
        In the unit of its axis.

    Returns
    -------
    str
        With its sign.
    """
    error = study.reading_sd()
    decimals = decimals_for(None, None, error) - 1 if error > 0.0 else 3
    text = fixed(value, decimals)
    return f"+{text}" if value > 0.0 else text


def _others(n: int) -> str:
    if n == 0:
        return "all readers show a bias"
    return f"the other {n} show none" if n > 1 else "the other reader shows none"


def _reach(bias: Bias) -> float:
    found = bias.result
    ends = [found.bias if end is None else end for end in (found.low, found.high)]
    return max(abs(end) for end in ends) / found.certified


def _repeat_sd(study: ScarReadings) -> float:
    return math.sqrt(study.variance("repeats"))


def _signed(study: ScarReadings, value: float) -> str:
    word = "more" if value >= 0.0 else "less"
    return f"{significant(abs(value), 2)}{NO_BREAK}{study.axis.shown_unit} {word}"


def _share(share: float) -> str:
    return f"{significant(100 * share, 2)}{NO_BREAK}%"


def _lower(label: str) -> str:
    return label[:1].lower() + label[1:]


def confidence_words(study: ScarReadings) -> str:
    """Write the confidence of the study's intervals.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    str
        Such as ``95 %``.
    """
    return percentage(study.analysis.confidence)
