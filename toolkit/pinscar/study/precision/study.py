"""A campaign as a precision study: repeatability and reproducibility of each response, and what stands out.

Groups flagged by h, k, Cochran or Grubbs are not dropped. A column tells who made a run.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import Campaign
from pinscar.decision.analysis import analyse
from pinscar.decision.judgements import Cell
from pinscar.decision.record import Analysis
from pinscar.decision.responses import STANDARD, Response
from pinscar.decision.summaries import cells
from pinscar.errors import InputError, Problem, Severity, UsageError
from pinscar.stats.outliers import GrubbsResult, grubbs
from pinscar.stats.precision import (
    CochranResult,
    MaterialPrecision,
    cochran,
    material_precision,
    repeatability_interval,
    reproducibility_interval,
)
from pinscar.units import to_unit
from pinscar.wording import counted, listing, load_text

DEFAULT_GROUPS = ("laboratory", "operator", "ring_id")
"""Columns that are tried in this order where none is named."""

_NOUNS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "laboratory": ("laboratory", "laboratories"),
        "ring_id": ("ring", "rings"),
        "run_day": ("day", "days"),
        "rig": ("rig", "rigs"),
        "rig_id": ("rig", "rigs"),
    }
)
# Columns of text that tell the runs apart in another way than by who or what made them.
_NO_GROUPS = frozenset({"run_id", "lubricant", "excluded", "note", "wear_stopped", "smoke", "row"})


@dataclass(frozen=True, slots=True)
class Grouping:
    """The column of the groups, and what a reader calls one and several of them.

    Attributes
    ----------
    column : str
        Column of the runs.
    noun, plural : str
        Such as "laboratory" and "laboratories".
    """

    column: str
    noun: str
    plural: str

    @property
    def between_laboratories(self) -> bool:
        """Whether the spread between groups is reproducibility in the standard's sense."""
        return self.column == "laboratory"


def choose_grouping(runs: pd.DataFrame, wanted: str | None, file: str) -> Grouping:
    """Find the column that tells the groups of a precision study."""
    if wanted is None:
        found = next((name for name in DEFAULT_GROUPS if name in runs and len(names(runs, name)) > 1), None)
        if found is None:
            raise InputError([_no_groups(file)])
        return grouping(found)
    if wanted not in candidates(runs):
        listed = ", ".join(candidates(runs))
        raise UsageError(f"the runs have no column of names called {wanted!r}; they have {listed}")
    if len(names(runs, wanted)) < 2:
        raise InputError([_one_group(file, wanted, names(runs, wanted))])
    return grouping(wanted)


def candidates(runs: pd.DataFrame) -> list[str]:
    """List the columns that can tell groups apart."""
    return [
        name
        for name, values in ((str(key), runs[key]) for key in runs)
        if name not in _NO_GROUPS
        and not name.endswith("_from")
        and values.map(lambda cell: isinstance(cell, str)).any()
    ]


def names(runs: pd.DataFrame, column: str) -> list[str]:
    """List the names in a column, in order."""
    return sorted({cell for cell in runs[column] if isinstance(cell, str) and cell})


def grouping(column: str) -> Grouping:
    """Give a column the words for its groups."""
    word = column.removesuffix("_id").replace("_", " ")
    return Grouping(column, *_NOUNS.get(column, (word, f"{word}s")))


def _no_groups(file: str) -> Problem:
    return Problem(
        code="study-without-groups",
        severity=Severity.ERROR,
        file=file,
        message=(
            f"none of the columns {', '.join(DEFAULT_GROUPS)} holds two names, "
            "so it is unknown who made a run"
        ),
        mend="fill one of them in, or name another column with -p group=COLUMN",
    )


def _one_group(file: str, column: str, found: list[str]) -> Problem:
    held = f"only {found[0]}" if found else "no name"
    return Problem(
        code="study-without-groups",
        severity=Severity.ERROR,
        file=file,
        message=f"the column holds {held}, and a precision study compares at least two",
        mend="name another column with -p group=COLUMN, or fill this one in",
        column=column,
    )


FEW_GROUPS = 6
"""Fewer groups than this give a rough reproducibility only (ASTM E691 asks for six at least)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyMaterial:
    """Precision of one response on one lubricant at one load.

    Attributes
    ----------
    response : Response
        What was measured; all numbers are in ``response.unit``.
    lubricant : str
        The lubricant.
    load_level : float
        Load level [N].
    values : mapping of str to ndarray
        Results of each group.
    precision : MaterialPrecision
        The standard's evaluation.
    repeatability_interval, reproducibility_interval : tuple of float
        Confidence limits of s_r and s_R.
    cochran : CochranResult
        Test for one group with a larger spread.
    grubbs : GrubbsResult
        Test for one group mean far from the others.
    """

    response: Response
    lubricant: str
    load_level: float
    values: Mapping[str, NDArray[np.float64]]
    precision: MaterialPrecision
    repeatability_interval: tuple[float, float]
    reproducibility_interval: tuple[float, float]
    cochran: CochranResult
    grubbs: GrubbsResult

    @property
    def name(self) -> str:
        """Lubricant and load in words."""
        return f"{self.lubricant} at {load_text(self.load_level)}"

    @property
    def n(self) -> int:
        """Number of results."""
        return sum(values.size for values in self.values.values())

    @property
    def relative(self) -> bool:
        """Whether a percentage of the mean says something: the unit's zero is the quantity's."""
        return self.response.scale == "log" and self.precision.general_mean > 0.0

    @property
    def floored(self) -> bool:
        """Whether the group means scatter no more than the repeats explain."""
        return self.precision.between_sd == 0.0


@dataclass(frozen=True, slots=True)
class PrecisionStudy:
    """A campaign evaluated as a precision study.

    Attributes
    ----------
    analysis : Analysis
        The evaluated campaign.
    grouping : Grouping
        How the groups are told apart.
    materials : tuple of StudyMaterial
        By response, then load, then lubricant; at least one.
    left_out : tuple of str
        A plain sentence for all that had to stay out.
    """

    analysis: Analysis
    grouping: Grouping
    materials: tuple[StudyMaterial, ...]
    left_out: tuple[str, ...]

    @property
    def responses(self) -> tuple[Response, ...]:
        """The responses evaluated, in order."""
        return tuple(dict.fromkeys(material.response for material in self.materials))

    def of(self, response: Response) -> tuple[StudyMaterial, ...]:
        """Give the materials of a response."""
        return tuple(material for material in self.materials if material.response == response)


def study_precision(
    campaign: Campaign,
    group: str | None = None,
    responses: Sequence[str] | None = None,
    confidence: float | None = None,
) -> PrecisionStudy:
    """Evaluate a campaign as a precision study.

    The numbers are analysed as measured, not as logarithms: so do the standards, and so the limits come
    out in the unit of the response.
    """
    analysis = analyse(campaign, confidence, responses)
    file = "runs.xlsx" if "runs.xlsx" in campaign.inputs else "runs.csv"
    grouping = choose_grouping(analysis.included[list(campaign.runs)], group, file)
    chosen = [r for r in analysis.responses if responses or _is_default(r)]
    materials: list[StudyMaterial] = []
    left_out = [*_excluded(analysis), *_without_group(analysis, grouping)]
    for response in chosen:
        for cell in cells(analysis.included, response):
            made = _material(analysis, grouping, response, cell)
            materials += [made] if isinstance(made, StudyMaterial) else []
            left_out += [made] if isinstance(made, str) else []
            left_out += _bounds(response, cell)
    if not materials:
        raise InputError([_nothing(file, sentence) for sentence in left_out or ["no run has a value"]])
    return PrecisionStudy(analysis, grouping, tuple(materials), tuple(left_out))


def _is_default(response: Response) -> bool:
    known = {standard.name for standard in STANDARD} - {"scar_area"}
    return response.name not in known


def _material(analysis: Analysis, grouping: Grouping, response: Response, cell: Cell) -> StudyMaterial | str:
    runs = analysis.included.set_index("run_id")[grouping.column]
    groups = [str(runs[run_id] or "") for run_id in cell.run_ids]
    numbers = to_unit(cell.values, response.unit)
    kept = [bool(name) and not bound for name, bound in zip(groups, cell.censored, strict=True)]
    values = {
        name: numbers[[own and name == other for own, other in zip(kept, groups, strict=True)]]
        for name in sorted({name for name, own in zip(groups, kept, strict=True) if own})
    }
    name = f"{cell.lubricant} at {load_text(cell.load_level)}"
    if len(values) < 2 or max(map(len, values.values())) < 2:
        reason = (
            f"only {counted(len(values), grouping.noun, grouping.plural)} with a value"
            if len(values) < 2
            else f"no {grouping.noun} has two values"
        )
        return f"{response.label} of {name} was not evaluated: {reason}."
    precision = material_precision(name, values)
    return StudyMaterial(
        response=response,
        lubricant=cell.lubricant,
        load_level=cell.load_level,
        values=values,
        precision=precision,
        repeatability_interval=repeatability_interval(precision, analysis.confidence),
        reproducibility_interval=reproducibility_interval(precision, analysis.confidence),
        cochran=cochran(values),
        grubbs=grubbs([found.mean for found in precision.cells]),
    )


def _excluded(analysis: Analysis) -> Iterator[str]:
    n = len(analysis.runs) - len(analysis.included)
    if n:
        yield f"{counted(n, 'run')} marked as excluded in the table of runs."


def _without_group(analysis: Analysis, grouping: Grouping) -> Iterator[str]:
    runs = analysis.included
    blank = [run for run, name in zip(runs["run_id"], runs[grouping.column], strict=True) if not name]
    if blank:
        yield f"{counted(len(blank), 'run')} without a {grouping.noun}: {listing(blank)}."


def _bounds(response: Response, cell: Cell) -> Iterator[str]:
    n = int(np.sum(cell.censored))
    if n:
        yield (
            f"{response.label} of {cell.lubricant} at {load_text(cell.load_level)}: {counted(n, 'run')} that "
            "gave only a bound. Without them the spread may come out too small."
        )


def _nothing(file: str, sentence: str) -> Problem:
    message = sentence.rstrip(".")
    mend = "a precision study needs two groups at a load, and two runs in one of them"
    return Problem(
        code="study-without-repeats", severity=Severity.ERROR, file=file, message=message, mend=mend
    )


OUTLIER_P = 0.01
"""Under this probability the standard speaks of an outlier, up to 5 % of a straggler."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """One group that stands out on one material.

    Attributes
    ----------
    material : StudyMaterial
        The material.
    group : str
        The group.
    test : {"h", "k", "Cochran", "Grubbs"}
        Which statistic.
    value, critical : float
        Statistic and critical value.
    weight : str
        "over the 0.5 % limit" for h and k, "straggler" or "outlier" for the tests.
    """

    material: StudyMaterial
    group: str
    test: str
    value: float
    critical: float
    weight: str

    @property
    def about_spread(self) -> bool:
        """Whether the group scatters more, rather than reads higher or lower."""
        return self.test in ("k", "Cochran")


def flags(material: StudyMaterial) -> Iterator[Flag]:
    """List what stands out on a material."""
    for cell in material.precision.cells:
        for test, value, critical in (("h", cell.h, cell.h_critical), ("k", cell.k, cell.k_critical)):
            if test in cell.flagged and value is not None and critical is not None:
                yield Flag(
                    material=material,
                    group=cell.laboratory,
                    test=test,
                    value=value,
                    critical=critical,
                    weight="over the 0.5 % limit",
                )
    yield from _test_flags(material)


def _test_flags(material: StudyMaterial) -> Iterator[Flag]:
    spread, far = material.cochran, material.grubbs
    if spread.flagged and spread.group and spread.statistic is not None and spread.critical is not None:
        yield Flag(
            material=material,
            group=spread.group,
            test="Cochran",
            value=spread.statistic,
            critical=spread.critical,
            weight=_weight(spread.p),
        )
    if far.flagged and far.index is not None and far.statistic is not None and far.critical is not None:
        group = material.precision.cells[far.index].laboratory
        yield Flag(
            material=material,
            group=group,
            test="Grubbs",
            value=far.statistic,
            critical=far.critical,
            weight=_weight(far.p),
        )


def _weight(p: float | None) -> str:
    return "outlier" if p is not None and p <= OUTLIER_P else "straggler"


def without_flagged(material: StudyMaterial) -> MaterialPrecision | None:
    """Evaluate a material again without the groups that stand out, to show what they do to the result."""
    flagged = {flag.group for flag in flags(material)}
    rest = {name: values for name, values in material.values.items() if name not in flagged}
    if not flagged or len(rest) < 2 or max(map(len, rest.values())) < 2:
        return None
    return material_precision(material.name, rest)


MEAN_SIZES = (1, 3, 6)
"""Numbers of runs for which the differences of means are shown."""


def between_share(material: StudyMaterial) -> float:
    """Give the share of the variance between groups in the variance of single runs, in percent."""
    found = material.precision
    variance = found.reproducibility_sd**2
    return 100.0 * found.between_sd**2 / variance if variance > 0.0 else 0.0


def percent(material: StudyMaterial, value: float) -> float | None:
    """Give a standard deviation or limit as a percentage of the mean."""
    return 100.0 * value / material.precision.general_mean if material.relative else None
