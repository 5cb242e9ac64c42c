"""The machine-readable results of a product range."""

from __future__ import annotations

import math
from typing import Any

from pinscar.decision.product_range import RangeLevel, RangeLine, RangeStudy
from pinscar.decision.results import SCHEMA
from pinscar.stats.across import CampaignRatio


def range_results(study: RangeStudy) -> dict[str, Any]:
    """Collect a product range into the dictionary that results.json holds.

    Parameters
    ----------
    study : RangeStudy
        The study.

    Returns
    -------
    dict
        Plain JSON types. Ratios are to the reference.
    """
    return {
        "schema": SCHEMA,
        "campaigns": [
            {"id": one.file.campaign.id, "title": one.file.campaign.title} for one in study.campaigns
        ],
        "overall": None,
        "study": {
            "kind": "product range",
            "reference": study.reference,
            "response": study.response.name,
            "unit": study.response.unit,
            "better": study.response.better,
            "confidence": study.confidence,
            "left_out": list(study.left_out),
        },
        "levels": [_level(level) for level in study.levels],
    }


def _level(level: RangeLevel) -> dict[str, Any]:
    ends = level.between_interval or (None, None)
    return {
        "load_N": level.load_level,
        "between_sd_log": level.between_sd,
        "between_sd_log_low": ends[0],
        "between_sd_log_high": ends[1],
        "between_df": level.between_df,
        "range": [_line(line) for line in level.lines],
        "ratios": [_ratio(ratio) for ratio in level.ratios],
        "references": [
            {"campaign": one.campaign, "first_day": one.first_day or None, "n": one.n, "mean": one.mean}
            for one in level.references
        ],
    }


def _line(line: RangeLine) -> dict[str, Any]:
    one = line.ranked
    return {
        "rank": one.rank,
        "lubricant": one.lubricant,
        "role": line.role,
        "campaigns": list(one.campaigns),
        "n": line.n or None,
        "ratio_as_run": line.estimate,
        "ratio_as_run_low": line.low,
        "ratio_as_run_high": line.high,
        "best_place_as_run": line.best,
        "worst_place_as_run": line.worst,
        "ratio": one.ratio,
        "ci_low": one.low,
        "ci_high": one.high,
        "best_place": one.best_rank,
        "worst_place": one.worst_rank,
        "prediction_low": one.prediction_low,
        "prediction_high": one.prediction_high,
        "method": None if one.combination is None else one.combination.method,
        "note": None if one.combination is None else one.combination.note,
        "heterogeneity_p": None if one.combination is None else one.combination.q_p,
    }


def _ratio(ratio: CampaignRatio) -> dict[str, Any]:
    return {
        "campaign": ratio.campaign,
        "lubricant": ratio.lubricant,
        "ratio": math.exp(ratio.log_ratio),
        "standard_error_log": ratio.standard_error,
        "df": ratio.df,
        "n": ratio.n,
        "n_reference": ratio.n_reference,
    }
