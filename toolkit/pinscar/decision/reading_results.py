"""The machine-readable results of a reading study."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from pinscar.decision.graticule import Bias
from pinscar.decision.reading_study import ScarReadings
from pinscar.decision.study_head import finite, study_head
from pinscar.stats.reading_study import ReadingComponent


def reading_results(study: ScarReadings) -> dict[str, Any]:
    """Collect a reading study into the dictionary that results.json holds.

    Parameters
    ----------
    study : ScarReadings
        The study.

    Returns
    -------
    dict
        Plain JSON types. Values are in the unit named, variances in its square.
    """
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
        "anova": [asdict(row) for row in found.table],
        "components": [_component(component) for component in found.components],
        "category_ratio": finite(found.category_ratio),
        "distinct_categories": found.distinct_categories,
        "readers": [
            {"reader": reader, "deviation": float(deviation)}
            for reader, deviation in zip(layout.readers, study.deviations.mean(axis=(1, 2)), strict=True)
        ],
        "reading_sd": {"one_reader": study.reading_sd(same_reader=True), "any_reader": study.reading_sd()},
        "between_runs": None if study.between_runs is None else asdict(study.between_runs),
        "bias": [_bias(bias) for bias in study.biases],
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
        "share_of_variance": finite(component.share_of_variance),
        "share_of_sd": finite(component.share_of_sd),
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
        **{f"{key}_mm": None if value is None else 1e3 * value for key, value in millimetres.items()},
        "df": finite(found.df),
        "shown": found.shown,
        "statement": found.statement,
    }
