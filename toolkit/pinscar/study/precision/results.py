"""The machine-readable results of a precision study."""

from __future__ import annotations

from typing import Any

from pinscar.decision.responses import number
from pinscar.stats.outliers import GrubbsResult
from pinscar.stats.precision import CochranResult, LaboratoryCell, critical_difference
from pinscar.study.head import study_head
from pinscar.study.precision.study import (
    MEAN_SIZES,
    Flag,
    PrecisionStudy,
    StudyMaterial,
    between_share,
    flags,
    percent,
)


def precision_results(study: PrecisionStudy) -> dict[str, Any]:
    """Collect a precision study into the dictionary that results.json holds."""
    return study_head(study.analysis) | {
        "study": {
            "kind": "precision",
            "group": study.grouping.column,
            "responses": [response.name for response in study.responses],
            "left_out": list(study.left_out),
        },
        "precision": [_material_result(material) for material in study.materials],
        "flags": [_flag(flag) for material in study.materials for flag in flags(material)],
    }


def _material_result(material: StudyMaterial) -> dict[str, Any]:
    found = material.precision
    row: dict[str, Any] = {
        "response": material.response.name,
        "unit": material.response.unit,
        "lubricant": material.lubricant,
        "load_N": material.load_level,
        "n_groups": len(found.cells),
        "n": material.n,
        "mean": found.general_mean,
        "sd_of_group_means": found.sd_of_cell_means,
        "s_r": found.repeatability_sd,
        "s_r_low": material.repeatability_interval[0],
        "s_r_high": material.repeatability_interval[1],
        "s_r_df": found.repeatability_df,
        "s_L": found.between_sd,
        "s_R": found.reproducibility_sd,
        "s_R_low": material.reproducibility_interval[0],
        "s_R_high": material.reproducibility_interval[1],
        "r": found.repeatability_limit,
        "R": found.reproducibility_limit,
    }
    row |= {f"{key}_percent": percent(material, row[key]) for key in ("s_r", "s_L", "s_R", "r", "R")}
    row["between_variance_percent"] = between_share(material)
    row["critical_differences"] = [
        {
            "runs_each": n,
            "one_group": critical_difference(found, n, one_laboratory=True),
            "two_groups": critical_difference(found, n, one_laboratory=False),
        }
        for n in MEAN_SIZES
    ]
    spread, far = material.cochran, material.grubbs
    row["groups"] = [_cell(cell) for cell in found.cells]
    farthest = None if far.index is None else found.cells[far.index].laboratory
    return row | {"cochran": _test(spread.group, spread), "grubbs": _test(farthest, far)}


def _test(group: str | None, result: CochranResult | GrubbsResult) -> dict[str, Any]:
    fields = ("statistic", "critical", "p", "flagged", "note")
    return {"group": group} | {name: getattr(result, name) for name in fields}


def _cell(cell: LaboratoryCell) -> dict[str, Any]:
    return {
        "group": cell.laboratory,
        "n": cell.n,
        "mean": cell.mean,
        "sd": number(cell.sd),
        "h": number(cell.h),
        "h_critical": number(cell.h_critical),
        "k": number(cell.k),
        "k_critical": number(cell.k_critical),
        "flags": list(cell.flagged),
    }


def _flag(flag: Flag) -> dict[str, Any]:
    return {
        "response": flag.material.response.name,
        "lubricant": flag.material.lubricant,
        "load_N": flag.material.load_level,
        "group": flag.group,
        "test": flag.test,
        "statistic": flag.value,
        "critical": flag.critical,
        "weight": flag.weight,
    }
