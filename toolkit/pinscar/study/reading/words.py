"""What a reading study says in plain sentences, and what it means for comparing oils."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from pinscar.decision.responses import number
from pinscar.page.markup import Markup, table
from pinscar.shown import to_shown
from pinscar.stats.precision import LIMIT_FACTOR
from pinscar.stats.reading_study import ReadingComponent
from pinscar.study.page import study_head
from pinscar.study.reading.study import Bias, ScarReadings, farthest_scar, repeat_sd
from pinscar.wording import (
    counted,
    listing,
    lower_first,
    p_value,
    percentage,
    significant,
)

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
    """Write a standard deviation or a difference with its unit and as a percentage of the mean."""
    share = significant(100.0 * value / study.mean, 2)
    return f"{significant(value, 2)} {study.axis.shown_unit} ({share} %)"


def difference_sentence(study: ScarReadings) -> str:
    """Say how far two readings of one scar lie apart."""
    anyone, one = (LIMIT_FACTOR * value for value in (study.reading_sd(), _repeat_sd(study)))
    return (
        f"Two readings of one {lower_first(study.axis.label)} by different readers differ by less than "
        f"{amount(study, anyone)} in 19 cases of 20, by one reader by less than {amount(study, one)}."
    )


def size_sentence(study: ScarReadings) -> str:
    """Say how much was read."""
    found = study.study
    often = {1: "once", 2: "twice"}.get(found.n_repeats, f"{found.n_repeats} times")
    return (
        f"In all, {counted(found.n_readers, 'reader')} ({listing(list(study.layout.readers))}) read "
        f"{counted(found.n_scars, 'scar')} {often} each."
    )


def share_sentence(study: ScarReadings) -> str:
    """Say which part of the spread is reading, and how many groups of scars it can tell apart."""
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
    """Say which source makes up most of the reading error."""
    parts = {s: study.variance(s) for s in ("repeats", "reader", "interaction")}
    whole = sum(parts.values())
    if whole <= 0.0:
        return "No source of reading error shows."
    name = max(parts, key=lambda source: parts[source])
    return (
        f"One reading by any reader has a standard deviation of {amount(study, study.reading_sd())}; its "
        f"largest source, {SOURCES[name]}, makes up {_share(parts[name] / whole)} of that variance."
    )


def interaction_sentence(study: ScarReadings) -> str:
    """Say whether there is a reader-by-scar interaction, and what was done about it."""
    row = next(row for row in study.study.table if row.source == "interaction")
    if row.p is None:
        return "A reader-by-scar interaction cannot be determined from this study."
    told = f"F = {significant(row.f)}, p = {p_value(row.p)}".replace("p = <", "p <")
    if study.study.pooled:
        return f"No reader-by-scar interaction is seen ({told}): it is pooled with the repeats."
    return f"There may be a reader-by-scar interaction ({told}): it counts as a source of its own."


def readers_sentence(study: ScarReadings) -> str:
    """Say who reads longest and who shortest."""
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
    """Say whether the readers agree with a certified length."""
    own = [bias for bias in study.biases if bias.reader is not None]
    if not own:
        return (
            "No certified length was read (graticule.csv), so an error that all readers share would "
            "not be seen."
        )
    shown = [bias for bias in own if bias.result.shown]
    lengths = sorted({bias.result.certified for bias in own})
    what = listing([f"{to_shown(length, 'mm'):g} mm" for length in lengths])
    if not shown:
        worst = max(_reach(bias) for bias in own)
        return (
            f"On the certified {what} no reader shows a bias; one of more than {significant(100 * worst, 2)} "
            "% is ruled out for each."
        )
    parts = [f"{bias.reader} reads {bias_words(bias)}" for bias in shown]
    return f"On the certified {what} {listing(parts)}; {_others(len(own) - len(shown))}."


def bias_words(bias: Bias) -> str:
    """Say a bias as a percentage."""
    found = bias.result
    word = "long" if found.bias >= 0.0 else "short"
    text = f"{significant(100 * abs(found.bias) / found.certified, 2)} % {word}"
    if found.low is None or found.high is None:
        return f"{text} (single reading, no interval)"
    sign = 1.0 if found.bias >= 0.0 else -1.0
    ends = sorted(100 * sign * end / found.certified for end in (found.low, found.high))
    return f"{text} ({significant(ends[0], 2)} to {significant(ends[1], 2)} %)"


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
    return f"{significant(abs(value), 2)} {study.axis.shown_unit} {word}"


def _share(share: float) -> str:
    return f"{significant(100 * share, 2)} %"


def confidence_words(study: ScarReadings) -> str:
    """Write the confidence of the study's intervals."""
    return percentage(study.analysis.confidence)


ENOUGH_DF = 6
"""Degrees of freedom under which the spread between runs is called rough: own choice."""


def widening(study: ScarReadings, reading_sd: float) -> float | None:
    """Compute by how much reading error widens the spread between runs."""
    runs = study.between_runs
    return None if runs is None else math.hypot(runs.spread, reading_sd / study.mean) / runs.spread


def meaning_sentence(study: ScarReadings) -> str:
    """Say what the reading error does to a comparison of oils."""
    runs, error = study.between_runs, study.reading_sd()
    factor = widening(study, error)
    if runs is None or factor is None:
        return (
            f"No oil was run twice at one load here, so {amount(study, error)} of reading error can't be set "
            "against the spread between runs: see that spread in a campaign report."
        )
    numbers = (
        f"runs of one oil at one load scatter by {_percent(runs.spread)} ({_percent(runs.low)} to "
        f"{_percent(runs.high)}, {counted(runs.df, 'degree')} of freedom), and one reading by any reader "
        f"adds {_percent(error / study.mean)}"
    )
    if factor < SMALL:
        sure = "" if runs.df >= ENOUGH_DF else "As far as so few repeats tell, "
        start = f"{sure}reading"
        return (
            f"{start[0].upper()}{start[1:]} is not what limits a comparison of oils: {numbers}, which widens "
            f"the spread by {_percent(factor - 1.0)}. More runs help; more readings hardly do."
        )
    if factor < math.sqrt(2.0):
        return (
            f"Reading adds visibly to the scatter: {numbers}, which widens the spread by "
            f"{_percent(factor - 1.0)}. One reader for all oils, or two readings per scar, make it smaller."
        )
    return (
        f"Reading scatters more than the runs do: {numbers}, which makes the spread {significant(factor, 2)} "
        "times as large. Let several readers read each scar before adding runs."
    )


def schemes(study: ScarReadings) -> list[tuple[str, float]]:
    """List ways to read the scars of a campaign, with the reading error of each."""
    return [
        ("once each, different readers for different oils", study.reading_sd()),
        ("once each, one reader for all oils", study.reading_sd(same_reader=True)),
        ("3 times each, one reader for all oils", study.reading_sd(1, 3, same_reader=True)),
        ("once by each of 2 readers, the same two for all oils", study.reading_sd(2, 1, same_reader=True)),
    ]


def scheme_entries(study: ScarReadings) -> list[dict[str, Any]]:
    """Give the ways to read the scars as results.json holds them."""
    found = []
    for words, value in schemes(study):
        factor = widening(study, value)
        found.append(
            {
                "scheme": words,
                "reading_error": value,
                "unit": study.axis.unit,
                "share_of_mean_percent": 100.0 * value / study.mean,
                "spread_wider_percent": None if factor is None else 100.0 * (factor - 1.0),
            }
        )
    return found


def scheme_table(study: ScarReadings) -> Markup:
    """Tabulate ways to read, and what each does to a comparison of oils."""
    rows = []
    for one in scheme_entries(study):
        wider = one["spread_wider_percent"]
        rows.append(
            [
                one["scheme"],
                significant(one["reading_error"], 2),
                significant(one["share_of_mean_percent"], 2),
                "not known" if wider is None else significant(wider, 2),
            ]
        )
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
            "Standard deviations. With the same readers for all oils their own offset cancels in every ratio "
            "between oils; a limit in absolute units still carries it."
        ),
    )


def stated_sentence(study: ScarReadings) -> str | None:
    """Set the reading uncertainty that campaign.toml states beside the one found."""
    stated = study.analysis.campaign.file.rig.reading_uncertainty
    if stated is None or study.axis.unit != "mm":
        return None
    found = next(component for component in study.study.components if component.source == "reading")
    low, high = (math.sqrt(end) for end in (found.low, found.high))
    value, stated_mm = study.reading_sd(), to_shown(stated, "mm")
    start = (
        f"campaign.toml states a reading uncertainty of {stated_mm:g} mm; this study finds "
        f"{significant(value, 2)} mm ({significant(low, 2)} to {significant(high, 2)}, "
        f"{percentage(study.analysis.confidence)} interval)"
    )
    if low <= stated_mm <= high:
        return f"{start}, which agrees with it."
    return f"{start}: {'larger' if stated_mm < low else 'smaller'} than stated. Correct the statement."


def _percent(share: float) -> str:
    return f"{significant(100 * share, 2)} %"


def reading_results(study: ScarReadings) -> dict[str, Any]:
    """Collect a reading study into the dictionary that results.json holds."""
    found, layout = study.study, study.layout
    return study_head(study.analysis) | {
        "study": {
            "kind": "reading",
            "axis": study.axis.name,
            "unit": study.axis.unit,
            "readers": list(layout.readers),
            "scars": list(layout.scars),
            "repeats": found.n_repeats,
            "mean": study.mean,
            "pooled": found.pooled,
            "pool_above": study.pool_above,
            "method": found.method,
            "note": found.note,
            "left_out": list(study.left_out),
        },
        "anova": [asdict(row) | {"unit": f"({study.axis.unit})^2"} for row in found.table],
        "components": [_component(one) | {"unit": study.axis.unit} for one in found.components],
        "category_ratio": number(found.category_ratio),
        "distinct_categories": found.distinct_categories,
        "readers": [_reader(study, index) for index in range(len(layout.readers))],
        "reading_sd": {"one_reader": study.reading_sd(same_reader=True), "any_reader": study.reading_sd()},
        "between_runs": None if study.between_runs is None else asdict(study.between_runs),
        "bias": [_bias(bias) for bias in study.biases],
    }


def _reader(study: ScarReadings, index: int) -> dict[str, Any]:
    own = study.deviations[index]
    scar, apart = farthest_scar(study, index)
    return {
        "reader": study.layout.readers[index],
        "n": own.size,
        "deviation": float(own.mean()),
        "repeat_sd": repeat_sd(study, index),
        "farthest_scar": scar,
        "farthest_deviation": apart,
        "unit": study.axis.unit,
    }


def _component(component: ReadingComponent) -> dict[str, Any]:
    return {
        "source": component.source,
        "variance": component.variance,
        "variance_low": component.low,
        "variance_high": component.high,
        "sd": math.sqrt(component.variance),
        "sd_low": math.sqrt(component.low),
        "sd_high": math.sqrt(component.high),
        "share_of_variance": number(component.share_of_variance),
        "share_of_sd": number(component.share_of_sd),
    }


def _bias(bias: Bias) -> dict[str, Any]:
    found = bias.result
    millimetres: dict[str, float | None] = {
        "certified": found.certified,
        "mean": found.mean,
        "bias": found.bias,
        "bias_low": found.low,
        "bias_high": found.high,
    }
    return {
        "reader": bias.reader,
        "n": found.n,
        **{
            f"{key}_mm": None if value is None else to_shown(value, "mm")
            for key, value in millimetres.items()
        },
        **{
            f"{key}_percent": None if value is None else 100.0 * value / found.certified
            for key, value in (("bias", found.bias), ("bias_low", found.low), ("bias_high", found.high))
        },
        "df": number(found.df),
        "shown": found.shown,
        "statement": found.statement,
    }
