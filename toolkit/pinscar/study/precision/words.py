"""What a precision study says: plain sentences, and its machine-readable results."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pinscar.decision.responses import Response, number
from pinscar.stats.outliers import GrubbsResult
from pinscar.stats.precision import CochranResult, LaboratoryCell, critical_difference
from pinscar.study.page import study_head
from pinscar.study.precision.study import (
    FEW_GROUPS,
    MEAN_SIZES,
    Flag,
    PrecisionStudy,
    StudyMaterial,
    between_share,
    flags,
    percent,
    without_flagged,
)
from pinscar.wording import counted, listing, load_text, lower_first, significant

FEW_MATERIALS = 3
"""Up to so many materials a sentence names each; beyond, it gives the range."""


def place(study: PrecisionStudy, material: StudyMaterial) -> str:
    """Name a material as briefly as the study allows."""
    if len({other.lubricant for other in study.materials}) == 1:
        return load_text(material.load_level)
    return material.name


def amount(material: StudyMaterial, value: float) -> str:
    """Write a standard deviation or limit with its unit, and as a percentage where that says something."""
    share = percent(material, value)
    number = significant(value * material.response.shown_factor, 2)
    text = f"{number} {material.response.shown_unit}"
    return text if share is None else f"{text} ({significant(share, 2)} %)"


def limits_sentence(study: PrecisionStudy, response: Response) -> str:
    """Say what r and R of a response are."""
    found, noun, plural = study.of(response), study.grouping.noun, study.grouping.plural
    inner, outer = (
        _at_each(study, found, [getattr(material.precision, name) for material in found])
        for name in ("repeatability_limit", "reproducibility_limit")
    )
    return (
        f"Two runs of one {noun} differ in {lower_first(response.label)} by less than {inner} in 19 "
        f"cases of 20; two runs of different {plural} by less than {outer}."
    )


def components_sentence(study: PrecisionStudy, response: Response) -> str:
    """Say how far repeats scatter, and what the differences between groups add."""
    found, noun, plural = study.of(response), study.grouping.noun, study.grouping.plural
    inner = _at_each(study, found, [material.precision.repeatability_sd for material in found])
    outer = _at_each(study, found, [material.precision.reproducibility_sd for material in found])
    return (
        f"{response.label}: repeats of one {noun} have a standard deviation of {inner}; runs of different "
        f"{plural} one of {outer}."
    )


def size_sentence(study: PrecisionStudy) -> str:
    """Say how much was measured."""
    main = study.of(study.responses[0])
    groups = sorted({name for material in main for name in material.values})
    sizes = sorted({values.size for material in main for values in material.values.values()})
    each = f"{sizes[0]}" if len(sizes) == 1 else f"{sizes[0]} to {sizes[-1]}"
    return (
        f"In all there are {counted(sum(material.n for material in main), 'run')}: "
        f"{counted(len(groups), study.grouping.noun, study.grouping.plural)} made {each} each on "
        f"{_what(main)}."
    )


def flags_sentence(study: PrecisionStudy, response: Response) -> str:
    """Say which groups stand out, and that they count."""
    found = [flag for material in study.of(response) for flag in flags(material)]
    noun = study.grouping.noun
    if not found:
        return f"No {noun} stands out from the others by h, k, Cochran's or Grubbs's test."
    spread = _who(study, [flag for flag in found if flag.about_spread])
    level = _who(study, [flag for flag in found if not flag.about_spread])
    parts = [f"{name} scatters more than the others ({where})" for name, where in spread.items()]
    parts += [f"the mean of {name} lies apart ({where})" for name, where in level.items()]
    groups = len({flag.group for flag in found})
    them = ("it is included", "both are included")[groups - 1] if groups < 3 else "all are included"
    return f"{_upper(listing(parts))}; {them} in these numbers: flagged data are kept until a cause is found."


def without_sentence(study: PrecisionStudy, response: Response) -> str | None:
    """Say what the flagged groups do to the result."""
    parts = []
    for material in study.of(response):
        rest = without_flagged(material)
        if rest is not None:
            names = listing(sorted({flag.group for flag in flags(material)}))
            parts.append(
                f"{place(study, material)} without {names}: r {amount(material, rest.repeatability_limit)}, "
                f"R {amount(material, rest.reproducibility_limit)}"
            )
    if not parts:
        return None
    return (
        f"For comparison, {'; '.join(parts)}. These numbers may be used only if a cause was found and "
        "removed."
    )


def range_sentence(study: PrecisionStudy, response: Response) -> str:
    """Say between which means the groups lie."""
    parts = []
    for material in study.of(response):
        found = sorted(material.precision.cells, key=lambda cell: cell.mean)
        low, high = (significant(cell.mean * response.shown_factor) for cell in (found[0], found[-1]))
        parts.append(
            f"{place(study, material)}: {low} ({found[0].laboratory}) to {high} {response.shown_unit} "
            f"({found[-1].laboratory})"
        )
    return f"{response.label}, smallest and largest mean of a {study.grouping.noun}: {'; '.join(parts)}."


def _who(study: PrecisionStudy, found: Sequence[Flag]) -> dict[str, str]:
    where: dict[str, dict[str, None]] = {}
    for flag in found:
        where.setdefault(flag.group, {})[place(study, flag.material)] = None
    return {name: listing(list(places)) for name, places in where.items()}


def _what(found: Sequence[StudyMaterial]) -> str:
    if len(found) > FEW_MATERIALS:
        return f"{len(found)} pairs of oil and load"
    if len({material.lubricant for material in found}) > 1:
        return listing([material.name for material in found])
    loads = listing([load_text(material.load_level) for material in found])
    return f"{found[0].lubricant} at {loads}"


def _at_each(study: PrecisionStudy, found: Sequence[StudyMaterial], values: Sequence[float]) -> str:
    """Name the values of a few materials each, of many their range."""
    if len(found) > FEW_MATERIALS:
        return _ends(values, found)
    parts = []
    for material, value in zip(found, values, strict=True):
        word = "at" if place(study, material) != material.name else "on"
        parts.append(f"{amount(material, value)} {word} {place(study, material)}")
    return listing(parts)


def _ends(values: Sequence[float], found: Sequence[StudyMaterial]) -> str:
    shares = [percent(m, value) for m, value in zip(found, values, strict=True)]
    known = [share for share in shares if share is not None]
    if len(known) == len(found):
        return f"{significant(min(known), 2)} to {significant(max(known), 2)} % of the mean"
    response = found[0].response
    low, high = (significant(end * response.shown_factor, 2) for end in (min(values), max(values)))
    return f"{low} to {high} {response.shown_unit}"


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def meaning_sentence(study: PrecisionStudy) -> str:
    """Say what r and R mean in one sentence."""
    noun, plural = study.grouping.noun, study.grouping.plural
    return (
        f"Two runs of one {noun} on one oil differ by more than r in 1 case of 20, two runs of different "
        f"{plural} by more than R."
    )


def meanings(study: PrecisionStudy) -> list[str]:
    """Say with numbers what follows for a person who compares results."""
    response, noun, plural = study.responses[0], study.grouping.noun, study.grouping.plural
    first = study.of(response)[0]
    where, label = place(study, first), lower_first(response.label)

    def difference(repeats: int, one: bool) -> str:
        return amount(first, critical_difference(first.precision, repeats, one_laboratory=one))

    return [
        f"Single runs, one {noun}, {where}: repeat both where the {label} differs by more than "
        f"{difference(1, True)}; scatter alone does that in 1 case of 20.",
        f"Means of six runs each, one {noun}: scatter alone explains a difference of {difference(6, True)}. "
        "More repeats make this number ever smaller.",
        f"Means of six runs each, two {plural}: {difference(6, False)}. More repeats do not take the "
        f"difference between {plural} away; one {noun} should test both oils.",
    ]


def notes(study: PrecisionStudy) -> list[str]:
    """Say where the estimates rest on little."""
    noun, plural = study.grouping.noun, study.grouping.plural
    said = []
    if not study.grouping.between_laboratories:
        said.append(
            f"The groups are {plural}, not laboratories: what is called reproducibility here is the "
            f"precision between {plural} (intermediate precision in ISO 5725-3). Another laboratory may "
            "differ by more."
        )
    fewest = min(len(material.values) for material in study.materials)
    if fewest < FEW_GROUPS:
        said.append(
            f"Only {counted(fewest, noun, plural)}: the spread between them is a rough estimate; ASTM E691 "
            "asks for six at least."
        )
    floored = [f"{m.response.label.lower()} of {m.name}" for m in study.materials if m.floored]
    if floored:
        said.append(
            f"The means of the {plural} scatter no more than the repeats explain, so R is set equal to r: "
            f"{listing(floored)}."
        )
    return said


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
